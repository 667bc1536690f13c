"""A board drawn from nothing: names, packages, pasted pins, and the case file that comes of it."""

import json

import pytest

from ohmwright.bootstrap import case_as_json, case_from_file, desk_at
from ohmwright.errors import DataError
from ohmwright.partbook.pin_table import read_pin_table
from ohmwright.usecases import map_board, open_case, record_reading, undo

CASE = "own lamp"
KEY = "0" * 64


@pytest.fixture
def desk():
    made = desk_at(memory=True)
    open_case(made, CASE, map_board.blank_board("lamp"))
    map_board.add_picture(made, CASE, KEY, "top", (4000, 3000), "photo.jpg")
    return made


def drawn(desk):
    """A regulator, its coil, a capacitor; two nets and ground."""
    map_board.place_part(desk, CASE, "buck", KEY, (300, 300), (420, 360), package="DFN", count=8)
    map_board.place_part(desk, CASE, "coil", KEY, (500, 300), (600, 300))
    map_board.place_part(desk, CASE, "capacitor", KEY, (500, 400), (540, 400), value="22u")
    map_board.join_pads(desk, CASE, ["U1.2", "L1.1"], "continuity")
    map_board.join_pads(desk, CASE, ["L1.2", "C1.1"], "continuity")
    map_board.tell_net(desk, CASE, "C1.2", ground=True)
    return map_board.tell_net(desk, CASE, "C1.1", "V12", nominal=1.2)


def test_three_parts_and_two_nets_are_enough_for_advice(desk):
    view = drawn(desk)
    assert [part.name for part in view.board.parts] == ["U1", "L1", "C1"]
    assert view.board.part("C1").value.median == pytest.approx(22e-6)
    assert view.advice.tests
    view = record_reading(desk, CASE, "ohms", "C1.1", "GND", 0.2)
    assert view.diagnosis.suspects[0].key != "none"


@pytest.mark.parametrize(("style", "count", "name", "pads"), [
    ("DFN", 8, "DFN-8", 9), ("QFN", 16, "QFN-16", 17), ("SOIC", 8, "SOIC-8", 8), ("SOIC-W", 16, "SOIC-16W", 16),
    ("SOT-23", 5, "SOT-23-5", 5), ("SOT-223", 4, "SOT-223", 4), ("LQFP", 48, "LQFP-48", 48),
    ("two rows", 6, "6 pins in two rows", 6),
])  # fmt: skip
def test_a_package_is_named_by_its_pins_without_the_pad_below(desk, style, count, name, pads):
    """KiCad's library: DFN-8-1EP_3x3mm, QFN-16-1EP_3x3mm, SOIC-16W_7.5x10.3mm, SOT-23-5, SOT-223, LQFP-48_7x7mm."""
    view = map_board.place_part(desk, CASE, "ic", KEY, (300, 300), (420, 360), package=style, count=count)
    part = view.board.part("U1")
    assert (part.package, len(part.pins)) == (name, pads)
    again = map_board.redescribe_part(desk, CASE, "U1", "buck")
    assert again.board.part("U1").package == name
    assert len(again.board.part("U1").pins) == pads


def test_the_first_package_tells_the_scale_once(desk):
    """A DFN-8 of 3 mm is 3.1 mm from pin 1 to pin 8 (KiCad DFN-8 3x3), however the photo was taken."""
    view = drawn(desk)
    pads = {pad.pin: pad for pad in view.book.chart.pads_of("U1")}
    width = ((pads["1"].x_mm - pads["8"].x_mm) ** 2 + (pads["1"].y_mm - pads["8"].y_mm) ** 2) ** 0.5
    assert width == pytest.approx(3.1)
    assert view.book.chart.scale_from == "U1, DFN-8"
    before = view.book.chart.layers[0].mm_per_px
    view = map_board.place_part(desk, CASE, "ic", KEY, (900, 900), (1500, 1500), package="QFN", count=32)
    assert view.book.chart.layers[0].mm_per_px == before
    view = map_board.set_scale(desk, CASE, KEY, (0.0, 0.0), (1000.0, 0.0), 25.0)
    assert view.book.chart.layers[0].mm_per_px == pytest.approx(0.025)


def test_pasted_names_find_their_pins_and_roles(desk):
    drawn(desk)
    text = "1 VIN P Input\n2 SW O Switch\n3, EP PGND G Ground\n4 BST Boost\n5 FB Feedback\n40 NONE Nothing"
    table = read_pin_table(text)
    view = map_board.name_pins(desk, CASE, "U1", table.rows)
    pins = {pin.number: (pin.name, pin.role) for pin in view.board.part("U1").pins}
    assert pins["1"] == ("VIN", "VIN")
    assert pins["3"] == ("PGND", "GND")
    assert pins["4"] == ("BST", "BOOT")
    assert pins["9"] == ("PGND", "GND")
    with pytest.raises(DataError, match="None of these pins"):
        map_board.name_pins(desk, CASE, "C1", read_pin_table("71 VIN\n72 SW").rows)


def test_the_band_of_a_diode_is_its_cathode(desk):
    view = map_board.place_part(desk, CASE, "diode", KEY, (10, 10), (60, 10))
    assert [pin.role for pin in view.board.part("D1").pins] == ["cathode", "anode"]


def test_names_are_free_and_may_be_ones_own(desk):
    drawn(desk)
    with pytest.raises(DataError, match="C1 already"):
        map_board.place_part(desk, CASE, "capacitor", KEY, (10, 10), (60, 10), name="C1")
    view = map_board.place_part(desk, CASE, "capacitor", KEY, (10, 10), (60, 10), name="C47")
    view = map_board.place_part(desk, CASE, "capacitor", KEY, (10, 90), (60, 90))
    assert {"C47", "C2"} <= set(view.board.part_by_name)


def test_a_drawn_case_goes_out_as_a_file_and_comes_back(desk):
    drawn(desk)
    map_board.place_part(desk, CASE, "resistor", KEY, (10, 10), (60, 10))
    map_board.erase_part(desk, CASE, "R1")
    view = record_reading(desk, CASE, "ohms", "C1.1", "GND", 0.2)
    start = case_from_file(json.loads(json.dumps(case_as_json(view))))
    again = open_case(desk_at(memory=True), "again", start.board, entries=start.entries)
    assert again.board.parts == view.board.parts
    assert len(again.facts.readings) == 1


def test_undo_brings_the_map_back(desk):
    before = drawn(desk).board
    map_board.move_part(desk, CASE, "C1", 1.0, 0.0, 90.0)
    assert undo(desk, CASE).board == before
