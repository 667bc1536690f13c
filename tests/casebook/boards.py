"""A small invented board for the tests of this room."""

from ohmwright.circuit import Board, Net, Part, Pin, Spread


def two_capacitors() -> Board:
    """Two capacitors and a coil between an entry and a rail."""
    parts = (
        Part("C1", "capacitor", (Pin("1", "VIN"), Pin("2", "GND")), Spread(1e-6)),
        Part("C2", "capacitor", (Pin("1", "VSYS"), Pin("2", "GND")), Spread(1e-6)),
        Part("L1", "coil", (Pin("1", "VIN"), Pin("2", "VSYS")), Spread(0.02)),
    )
    nets = (Net("GND"), Net("VIN", rail=True), Net("VSYS", rail=True))
    return Board("bench lamp", "GND", nets, parts, ("VIN",))
