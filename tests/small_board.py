"""A small invented board that several tests share: a fused input, one buck, a rail, a load switch."""

from __future__ import annotations

from ohmwright.circuit import Board, Net, Part, Pin, Place, Rating, Spread
from ohmwright.facts import EntryFact

ENTRY = (EntryFact("VIN", 12.0, True, True, "e0"),)
"""The way in was checked: its label read, its volts measured."""
NOMINAL = {"VIN": 12.0, "VF": 12.0, "V33": 3.3, "VCC": 5.0, "VSW": 3.3}
NETS = ("GND", "VIN", "VF", "SW", "FB", "VCC", "BST", "V33", "IO1", "VSW")


def two(name: str, kind: str, a: str, b: str, value: float | None = None) -> Part:
    """A part of two pins."""
    spread = Spread(value, 0.02) if value is not None else None
    return Part(name, kind, (Pin("1", a), Pin("2", b)), spread)


def small_board(series: Part | None = None, **changes: object) -> Board:
    """The board; `series` takes the place of the coil."""
    parts = [
        Part("J1", "connector", (Pin("1", "VIN"), Pin("2", "GND"))),
        two("F1", "fuse", "VIN", "VF"),
        Part("D1", "tvs", (Pin("1", "VF", "cathode"), Pin("2", "GND", "anode"))),
        two("C1", "capacitor", "VF", "GND"),
        two("C2", "capacitor", "VF", "GND"),
        Part(
            "U1",
            "buck",
            (
                Pin("1", "VF", "VIN"),
                Pin("2", "GND", "GND"),
                Pin("3", "SW", "SW"),
                Pin("4", "FB", "FB"),
                Pin("5", "VCC", "VCC"),
                Pin("6", "BST", "BOOT"),
            ),
        ),
        series or two("L1", "coil", "SW", "V33"),
        two("C3", "capacitor", "V33", "GND"),
        two("C4", "capacitor", "V33", "GND"),
        two("C5", "capacitor", "VCC", "GND"),
        two("C6", "capacitor", "BST", "SW"),
        two("R1", "resistor", "V33", "FB", 31600.0),
        two("R2", "resistor", "FB", "GND", 10000.0),
        Part("U2", "ic", (Pin("1", "V33", "VDD"), Pin("2", "GND", "GND"), Pin("3", "IO1", "IO"))),
        two("R3", "resistor", "V33", "IO1", 10000.0),
        Part("Q1", "load-switch", (Pin("1", "V33", "IN"), Pin("2", "VSW", "OUT"), Pin("3", "GND", "GND"))),
        two("C7", "capacitor", "VSW", "GND"),
        Part("U3", "ic", (Pin("1", "VSW", "VDD"), Pin("2", "GND", "GND"), Pin("3", "IO1", "IO"))),
    ]
    nets = tuple(Net(name, nominal=NOMINAL.get(name), rail=name in NOMINAL) for name in NETS)
    return Board("small", "GND", nets, tuple(parts), ("VIN",), **changes)  # type: ignore[arg-type]  # test shorthand


__all__ = ["Place", "Rating", "small_board", "two"]
