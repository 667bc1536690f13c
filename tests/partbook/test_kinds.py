"""What parts are taken for, held against KiCad's symbol libraries (Debian's ``kicad-symbols``), which others wrote.

A symbol's library and its description say what the part is; we are given its name, its reference letter and
its pins only.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from ohmwright.partbook.guess import Guess, RawPin
from ohmwright.partbook.kinds import kind_of
from ohmwright.partbook.transistors import type_of
from ohmwright.syntax.sexpr import Sexpr, atom, child, children, parse_sexpr, read_text

SYMBOLS = Path("/usr/share/kicad/symbols")
GROUND, RAIL = "GND", "+5V"


def pins_of(symbol: list[Sexpr]) -> list[RawPin]:
    found: dict[str, RawPin] = {}
    for unit in children(symbol, "symbol"):
        for pin in children(unit, "pin"):
            number, name = atom(child(pin, "number")), atom(child(pin, "name"))
            ground = re.match(r"[APD]?GND|VSS", name.upper())
            net = GROUND if ground else RAIL if pin[1] == "power_in" else f"N{number}"
            found[number] = RawPin(number, net, name, str(pin[1]))
    return list(found.values())


def library(name: str) -> Iterator[tuple[str, str, str, list[RawPin]]]:
    """Name, reference letter, description and pins of each symbol."""
    tree = parse_sexpr(read_text(SYMBOLS / f"{name}.kicad_sym"))
    symbols = {atom(symbol): symbol for symbol in children(tree, "symbol")}
    for symbol in symbols.values():
        told = {atom(item): atom(item, 2) for item in children(symbol, "property")}
        base = child(symbol, "extends")
        pins = pins_of(symbols[atom(base)] if base else symbol)
        yield atom(symbol), told.get("Reference", ""), told.get("ki_description", ""), pins


def judged(name: str) -> Iterator[tuple[str, str, list[RawPin], Guess]]:
    for value, letter, description, pins in library(name):
        yield value, description, pins, kind_of(f"{letter}1", value, "", pins, GROUND, frozenset({RAIL}), {})


def polarity(description: str) -> str:
    p = re.search(r"P-?Ch|P-?MOS|PNP", description, re.I)
    n = re.search(r"N-?Ch|N-?MOS|NPN", description, re.I)
    return "P" if p and not n else "N" if n and not p else ""


@pytest.mark.parametrize("name", ["Transistor_FET", "Transistor_BJT"])
def test_a_transistor_s_type_by_its_number_is_never_the_wrong_one(name: str) -> None:
    """The description tells N or P. Not knowing is allowed, being wrong is not: it turns a body diode around."""
    told = [(value, polarity(text), type_of(value)) for value, _, text, _ in library(name) if polarity(text)]
    known = [(value, right, "P" if found in ("fet-p", "pnp") else "N") for value, right, found in told if found]

    assert [item for item in known if item[1] != item[2]] == []
    assert len(known) >= 0.5 * len(told)


def test_a_transistor_whose_type_nobody_tells_is_no_fet() -> None:
    pins = [RawPin("1", "A", "G"), RawPin("2", GROUND, "S"), RawPin("3", "B", "D")]

    assert kind_of("Q1", "XYZ1", "SOT-23", pins, GROUND, frozenset(), {}).kind == "ic"


def test_linear_regulators_are_known_by_their_pins() -> None:
    found = [guess for _, _, _, guess in judged("Regulator_Linear")]
    linear = [guess for guess in found if guess.kind == "linear"]

    assert len(linear) >= 0.8 * len(found)
    # What is not recognised is an unknown load; a linear regulator with a coil pin would be a wrong claim.
    assert sum(guess.kind == "buck" for guess in found) <= 0.005 * len(found)
    assert all({"IN", "OUT", "GND"} <= set(guess.roles) for guess in linear)


def test_a_buck_is_only_what_has_a_pin_for_its_coil() -> None:
    bucks = [(pins, guess) for _, _, pins, guess in judged("Regulator_Switching") if guess.kind == "buck"]

    assert len(bucks) >= 200
    for pins, guess in bucks:
        switch = [pin.name.upper() for pin, role in zip(pins, guess.roles, strict=True) if role == "SW"]
        assert all(re.match(r"SW|LX|PH", name) for name in switch), switch
        assert {"VIN", "SW", "GND"} <= set(guess.roles)


def test_controllers_are_chips_whose_supply_pins_are_loads() -> None:
    for value, _, pins, guess in judged("MCU_ST_STM32F4"):
        assert guess.kind == "ic", value
        supplies = {pin.number for pin in pins if pin.net == RAIL}
        assert {pin.number for pin, role in zip(pins, guess.roles, strict=True) if role == "VDD"} == supplies


def test_two_legged_diodes_have_their_cathode_where_the_symbol_says() -> None:
    checked = 0
    for value, _, pins, guess in judged("Diode"):
        if len(pins) == 2 and {pin.name for pin in pins} == {"A", "K"}:
            checked += 1
            cathode = [pin.name for pin, role in zip(pins, guess.roles, strict=True) if role == "cathode"]
            assert cathode == ["K"], value
            assert guess.kind in ("diode", "schottky", "tvs"), value
    assert checked > 300


TWO = (RawPin("1", "A"), RawPin("2", "B"))


def told(reference: str, value: str, footprint: str = "") -> Guess:
    return kind_of(reference, value, footprint, TWO, GROUND, frozenset(), {})


@pytest.mark.parametrize(
    ("reference", "value", "kind", "amount", "volts"),
    [
        ("C1", "100n", "capacitor", 100e-9, None),
        ("C1", "4u7/25V", "capacitor", 4.7e-6, 25.0),
        ("C1", "47uF/6.3V/20%/X5R/C0805", "capacitor", 47e-6, 6.3),
        ("C1", "10u 6V3", "capacitor", 10e-6, 6.3),
        ("C1", "10 uF", "capacitor", 10e-6, None),
        ("C1", "4,7uF", "capacitor", 4.7e-6, None),
        ("C1", "100NF", "capacitor", 100e-9, None),
        ("C1", "22", "capacitor", None, None),
        ("R1", "10k 1%", "resistor", 10e3, None),
        ("R1", "49.9R/1%/R0402", "resistor", 49.9, None),
        ("R1", "2k2", "resistor", 2200.0, None),
        ("R1", "R0402", "resistor", None, None),
        ("R1", "0R05", "sense", 0.05, None),
        ("R1", "0", "link", None, None),
        ("R1", "0R", "link", None, None),
        # as in KiCad's demo pic_programmer, whose C4 stands between a chip's pin and ground
        ("C4", "0", "capacitor", None, None),
        ("C4", "0R", "link", None, None),
        ("D4", "0", "diode", None, None),
        ("FB1", "600R@100MHz", "ferrite", None, None),
        ("L1", "600R/2A", "ferrite", None, None),
        ("L1", "2.2uH", "coil", None, None),
        ("R1", "DNP", "mechanical", None, None),
        ("C1", "NA(47uF/6.3V)", "mechanical", None, None),
        ("D1", "DNF 1N4148", "mechanical", None, None),
        ("JP1", "Open", "connector", None, None),
        ("JP1", "Bridged", "link", None, None),
        ("D1", "SMBJ24A", "tvs", None, None),
        ("D1", "SMBJ24CA", "tvs-two-way", None, None),
        ("D1", "BAT54", "schottky", None, None),
        ("PWR1", "LED/RED/0603", "led", None, None),
        ("XYZ1", "what", "unknown-two-pads", None, None),
    ],
)
def test_value_texts(reference: str, value: str, kind: str, amount: float | None, volts: float | None) -> None:
    guess = told(reference, value)

    assert guess.kind == kind
    assert (guess.value.median if guess.value else None) == (pytest.approx(amount) if amount else None)
    assert guess.volts == volts
    assert guess.why


def chip(*nets: str) -> list[RawPin]:
    return [RawPin(str(i + 1), net) for i, net in enumerate(nets)]


def test_a_buck_without_pin_names_is_known_by_its_coil() -> None:
    guess = kind_of("U1", "X", "", chip("+12V", GROUND, "SW", "FB"), GROUND, frozenset({"+12V", "+5V"}), {"SW": "+5V"})

    assert (guess.kind, guess.roles) == ("buck", ("VIN", "GND", "SW", "IO"))


def test_a_buck_that_watches_its_output_directly() -> None:
    guess = kind_of("U1", "X", "", chip("+12V", GROUND, "SW", "+5V"), GROUND, frozenset({"+12V", "+5V"}), {"SW": "+5V"})

    assert (guess.kind, guess.roles) == ("buck", ("VIN", "GND", "SW", "FB"))


def test_a_step_up_is_no_buck() -> None:
    """Its coil comes from its own input."""
    guess = kind_of("U1", "X", "", chip("+5V", GROUND, "SW", "FB"), GROUND, frozenset({"+5V"}), {"SW": "+5V"})

    assert guess.kind == "ic"
