"""Names of nets. The list is of names as designers give them; what they mean is common practice, no source."""

from __future__ import annotations

import pytest

from ohmwright.partbook.rails import ground_of, is_ground, is_rail, volts_of


@pytest.mark.parametrize(
    ("name", "volts"),
    [
        ("+3V3", 3.3), ("+3.3V", 3.3), ("/xilinx/+3,3V_OUT", 3.3), ("12V", 12.0), ("+12V", 12.0), ("VCC_5V0", 5.0),
        ("VCC_1.8V", 1.8), ("1V8_CORE", 1.8), ("/power/P3V3", 3.3), ("V3P3", 3.3), ("V3.3", 3.3), ("USB5V", 5.0),
        ("+5V_USB", 5.0), ("/+12BATT", 12.0), ("+24", 24.0), ("VBUS", 5.0), ("VCC3V3", 3.3), ("0V9", 0.9),
        ("VCC", None), ("VIN", None), ("VBAT", None), ("VDD_IO", None),
    ],
)  # fmt: skip
def test_supplies_and_their_volts(name: str, volts: float | None) -> None:
    assert is_rail(name)
    assert volts_of(name) == volts


@pytest.mark.parametrize("name", ["-12V", "/-12BATT", "-5", "-5V0"])
def test_volts_below_ground_are_never_taken_for_volts_above(name: str) -> None:
    """A nominal is a limit for the bench supply: the wrong sign would put 12 V into a -12 V rail."""
    assert volts_of(name) is None


def test_a_name_that_tells_two_voltages_tells_none() -> None:
    assert volts_of("2V5_3V3") is None


@pytest.mark.parametrize(
    "name",
    ["SDA", "3V3_EN", "EN_5V", "5V_PG", "VBUS_DET", "VCC_SENSE-ERROR*", "VREF", "Net-(5.0V/3.3V1-Pad2)", "GND"],
)
def test_signals_are_no_rails_though_they_carry_a_supply_s_name(name: str) -> None:
    assert not is_rail(name)


@pytest.mark.parametrize("name", ["GND", "/GND", "GNDA", "AGND", "PGND", "VSS", "0V", "/sheet/GND"])
def test_grounds(name: str) -> None:
    assert is_ground(name)
    assert not is_rail(name)


@pytest.mark.parametrize("name", ["0V9", "COMP", "COM_SEL", "GNDSENSE_LONG", "SIGNAL"])
def test_names_that_only_begin_like_a_ground(name: str) -> None:
    assert not is_ground(name)


def test_ground_is_the_named_one_with_most_pads_else_the_net_with_most() -> None:
    assert ground_of({"GND": 5, "AGND": 9, "+5V": 50}) == "AGND"
    assert ground_of({"A": 5, "B": 9}) == "B"
    assert ground_of({}) is None
