"""What is one net at direct current."""

from dataclasses import replace

from tests.small_board import small_board, two

from ohmwright.circuit import Net, Part, Pin
from ohmwright.devices import one_at_dc


def test_metal_joins_on_and_on_and_nothing_through_ground() -> None:
    apart = one_at_dc(small_board())
    assert apart["SW"] == apart["V33"] == {"SW", "V33"}
    assert apart["VIN"] == {"VIN", "VF"}
    assert apart["GND"] == {"GND"}
    assert apart["FB"] == {"FB"}
    board = small_board()
    shorted = replace(board, parts=(*board.parts, two("L9", "ferrite", "GND", "V33")))
    assert one_at_dc(shorted)["V33"] == {"SW", "V33"}


def test_what_is_off_joins_nothing() -> None:
    assert one_at_dc(small_board(), frozenset({"L1"}))["V33"] == {"V33"}


def test_two_windings_on_one_core_stay_apart() -> None:
    """A choke of four pins passes direct current from 1 to 2 and from 3 to 4, and never from one to the other."""
    board = small_board()
    nets = (*board.nets, *(Net(name) for name in ("A", "B", "C", "D")))
    choke = Part("L9", "coil", tuple(Pin(str(n), net) for n, net in enumerate("ABCD", 1)))
    apart = one_at_dc(replace(board, nets=nets, parts=(*board.parts, choke)))
    assert apart["A"] == {"A", "B"}
    assert apart["C"] == {"C", "D"}
