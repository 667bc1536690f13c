"""Marks and codes against published tables, and against published tables that are wrong."""

from __future__ import annotations

import pytest

from ohmwright.errors import DataError
from ohmwright.partbook.date_codes import made
from ohmwright.partbook.dielectrics import dielectric
from ohmwright.partbook.series import coarsest, nearest, series
from ohmwright.partbook.top_marks import TABLE, PinReading, parts_marked
from ohmwright.partbook.value_codes import banded, capacitor_code, coil_code, resistor_code


def test_e_series_after_iec_60063() -> None:
    assert series(3) == (1.0, 2.2, 4.7)
    assert series(6) == (1.0, 1.5, 2.2, 3.3, 4.7, 6.8)
    assert series(12) == (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
    # The numbers of E24 that the root of ten would round otherwise (IEC 60063 keeps the older ones).
    off = {x for k, x in enumerate(series(24)) if round(10 ** (k / 24), 1) != x}
    assert off == {2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 8.2}
    assert len(series(192)) == len(set(series(192))) == 192
    assert series(192)[185] == 9.2
    assert 9.19 not in series(192)
    assert set(series(48)) <= set(series(96)) <= set(series(192)) - {9.2} | {9.2}
    assert set(series(96)) <= set(series(192))
    assert [nearest(x, 96) for x in (4.75, 31.0, 1234.0)] == [4.75, 30.9, 1240.0]
    assert (coarsest(4700.0), coarsest(4750.0), coarsest(9.2), coarsest(4640.0)) == (3, 96, 192, 48)
    with pytest.raises(DataError):
        series(7)


@pytest.mark.parametrize(
    ("code", "ohms"),
    # EIA-96: places 24, 68, 96 after a public table; 10 18 29 33 42 51 66 72 81 from E96 (IEC 60063).
    [("01X", 10.0), ("12X", 13.0), ("01A", 100.0), ("30A", 200.0), ("01B", 1e3), ("11B", 1.27e3), ("18B", 1.5e3),
    ("01C", 1e4),
     ("01D", 1e5), ("01E", 1e6), ("24C", 17.4e3), ("68A", 499.0), ("96A", 976.0), ("10A", 124.0), ("29A", 196.0),
     ("33A", 215.0),
     ("42A", 267.0), ("51A", 332.0), ("66A", 475.0), ("72A", 549.0), ("81A", 681.0), ("87A", 787.0), ("48A", 309.0)],
)  # fmt: skip
def test_eia_96(code: str, ohms: float) -> None:
    assert resistor_code(code)[0].value == pytest.approx(ohms, rel=1e-9)


def test_eia_96_is_not_the_table_that_is_wrong() -> None:
    # A table on the web prints 24 = 178 and 48 = 316; E96 has 174 and 309 at those places.
    assert resistor_code("24A")[0].value != 178.0
    assert resistor_code("48A")[0].value != 316.0
    assert resistor_code("97A") == ()
    assert resistor_code("00A") == ()


@pytest.mark.parametrize(
    ("code", "ohms"),
    [("220", 22.0), ("103", 1e4), ("472", 4.7e3), ("12R0", 12.0), ("4R7", 4.7), ("4K7", 4.7e3), ("R47", 0.47), ("R010",
    0.010),
     ("1002", 1e4), ("4701", 4.7e3), ("0", 0.0), ("000", 0.0), ("1L00", 1e-3), ("R005", 0.005), ("2M2", 2.2e6),
     ("1001", 1e3)],
)  # fmt: skip
def test_resistor_figures_and_letters_after_iec_60062(code: str, ohms: float) -> None:
    assert resistor_code(code)[0].value == pytest.approx(ohms, rel=1e-9)


def test_a_code_that_is_no_value_is_none() -> None:
    assert resistor_code("ABC") == ()
    assert resistor_code("") == ()
    assert capacitor_code("") == ()


@pytest.mark.parametrize(
    ("code", "farads", "tolerance"),
    [("104K", 100e-9, (-10.0, 10.0)), ("475M", 4.7e-6, (-20.0, 20.0)), ("101J", 100e-12, (-5.0, 5.0)), ("4p7C",
    4.7e-12, None),
     ("100n", 100e-9, None), ("2u2", 2.2e-6, None), ("103Z", 10e-9, (-20.0, 80.0)), ("479", 4.7e-12, None), ("A5",
     100e-9, None),
     ("S4", 47e-9, None), ("N33", 0.0, None), ("2R2", 2.2e-12, None)],
)  # fmt: skip
def test_capacitor_codes_after_iec_60062(code: str, farads: float, tolerance: tuple[float, float] | None) -> None:
    found = capacitor_code(code)
    if farads == 0.0:
        assert found == ()
        return
    assert found[0].value == pytest.approx(farads, rel=1e-9)
    if tolerance:
        assert found[0].tolerance == tolerance


def test_small_capacitors_have_tolerances_in_picofarads() -> None:
    # IEC 60062: below 10 pF the letter C is 0.25 pF, above it 0.25 %.
    low, high = capacitor_code("4p7C")[0].tolerance or (0.0, 0.0)
    assert high == pytest.approx(100 * 0.25 / 4.7)
    assert low == -high


def test_coils_and_colour_bands() -> None:
    assert [coil_code(c)[0].value for c in ("100", "R47", "4R7", "2R2M")] == pytest.approx(
        [10e-6, 0.47e-6, 4.7e-6, 2.2e-6]
    )
    four = banded(("yellow", "violet", "red", "gold"))
    assert four is not None
    assert (four.value, four.tolerance) == (4700.0, (-5.0, 5.0))
    five = banded(("brown", "black", "black", "brown", "brown"))
    assert five is not None
    assert five.value == 1000.0
    assert banded(("gold", "red", "red", "red")) is None


def test_dielectrics_after_eia_198() -> None:
    # Holy Stone catalogue p. 53 and TI SLAA701B table 1-16, but for the misprints named below.
    x7r, x5r, y5v, z5u = (dielectric(code) for code in ("X7R", "X5R", "Y5V", "Z5U"))
    assert x7r is not None
    assert (x7r.low, x7r.high, x7r.change) == (-55.0, 125.0, (-15.0, 15.0))
    assert x5r is not None
    assert (x5r.low, x5r.high) == (-55.0, 85.0)
    assert y5v is not None
    assert y5v.change == (-82.0, 22.0)
    assert z5u is not None
    assert (z5u.low, z5u.change) == (10.0, (-56.0, 22.0))
    u2j, c0g = dielectric("U2J"), dielectric("COG")
    assert u2j is not None
    assert (u2j.slope, u2j.slope_spread) == (-750.0, 120.0)
    assert c0g is not None
    assert (c0g.slope, c0g.slope_spread) == (0.0, 30.0)
    assert dielectric("A7R") is None


def test_dielectrics_are_not_the_tables_that_are_wrong() -> None:
    # One catalogue prints B as 1.2 %, one forum prints Z as -10 °C and 7 as 120 °C.
    b = dielectric("X8B")
    assert b is not None
    assert b.change == (-1.5, 1.5)
    z = dielectric("Z7R")
    assert z is not None
    assert (z.low, z.high) == (10.0, 125.0)


def test_date_codes_give_every_year_they_may_mean() -> None:
    # The letter cycle is from memory (IEC 60062): A 1990 and 2010, M 2000 and 2020, X 2009 and 2029.
    assert [m.year for m in made("A1", 2026)] == [2010, 1990]
    assert [m.year for m in made("M9", 2026)] == [2020, 2000]
    assert [m.year for m in made("X1", 2026)] == [2009]
    assert [(m.month) for m in made("KO", 2026)] == [10, 10]
    assert [(m.year, m.week) for m in made("2347", 2026)] == [(2023, 47)]
    assert [m.year for m in made("347", 2026)][:2] == [2023, 2013]
    assert made("9954", 2026) == ()
    assert all(m.year <= 2026 for mark in ("A1", "9901", "901") for m in made(mark, 2026))


def test_shared_marks_are_a_list_and_never_certain() -> None:
    for mark in {entry.mark for entry in TABLE}:
        found = parts_marked(mark)
        assert found
        assert sum(entry.weight for entry in found) < 1.0
        assert max(entry.weight for entry in found) < 0.85
    assert {e.name for e in parts_marked("1A", package="SOT-23")} >= {"BC846A", "MMBT3904"}
    assert parts_marked("1A", package="SOT-223") == ()
    assert parts_marked("ZZTOP") == ()


def test_readings_of_the_pins_choose_among_parts_that_share_a_mark() -> None:
    diodes = (
        PinReading("3", "1", 0.6),
        PinReading("3", "2", 0.61),
        PinReading("1", "3", None),
        PinReading("2", "3", None),
    )
    assert parts_marked("A1", readings=diodes)[0].name == "BAW56"
    fet = (
        PinReading("3", "2", 0.51),
        PinReading("2", "3", None),
        PinReading("3", "1", None),
        PinReading("1", "2", None),
    )
    assert parts_marked("A1", readings=fet)[0].name == "SI2301"
    neither = (
        PinReading("1", "2", 0.3),
        PinReading("2", "1", 0.3),
        PinReading("1", "3", 0.3),
        PinReading("3", "1", 0.3),
    )
    assert sum(e.weight for e in parts_marked("A1", readings=neither)) < 0.1
