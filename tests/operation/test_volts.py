"""The least volts of nets nobody labelled: what metal, switches, step-down converters and rectifiers make certain."""

from dataclasses import replace

import pytest
from tests.small_board import small_board, two

from ohmwright.circuit import Board, Net, Part, Pin
from ohmwright.operation import volts_at_least, volts_known
from ohmwright.operation.volts import DROP, ENTRY_VOLTS, REGULATED


def told(board: Board, **volts: float | None) -> Board:
    """The board with only those volts told."""
    return replace(board, nets=tuple(replace(net, nominal=volts.get(net.name)) for net in board.nets))


def test_metal_and_switches_carry_volts_on() -> None:
    """A fuse, a coil and a closed switch drop next to nothing (Ohm's law at milliohms)."""
    known = volts_known(told(small_board(), VIN=12.0, V33=3.3))
    assert known["VF"] == 12.0
    assert known["SW"] == 3.3
    assert known["VSW"] == 3.3


def test_a_step_down_converter_runs_from_no_less_than_it_gives() -> None:
    known = volts_known(told(small_board(), V33=9.0))
    assert known["VF"] == known["VIN"] == 9.0
    assert volts_at_least(told(small_board(), V33=1.0), "VF") == ENTRY_VOLTS, "power comes in at its far end"


def test_what_is_told_is_not_changed_by_what_follows() -> None:
    known = volts_known(told(small_board(), VIN=12.0, VF=11.0, V33=3.3, VSW=1.8))
    assert (known["VIN"], known["VF"], known["VSW"]) == (12.0, 11.0, 1.8)


def test_nothing_is_known_where_nothing_tells() -> None:
    assert "IO1" not in volts_known(small_board())
    assert volts_at_least(small_board(), "IO1") is None


def rails(*parts: Part, **volts: float) -> Board:
    """Rails A, B, C without volts but those given, and an output that is none."""
    nets = [Net(name, volts.get(name), rail=name in "ABC") for name in ("GND", "A", "B", "C", "OUT")]
    return Board("rails", "GND", tuple(nets), parts)


def fet(name: str, drain: str, source: str) -> Part:
    return Part(name, "fet-n", (Pin("1", None, "gate"), Pin("2", source, "source"), Pin("3", drain, "drain")))


def test_a_rectifier_gives_up_one_drop() -> None:
    diode = Part("D1", "schottky", (Pin("1", "B", "cathode"), Pin("2", "A", "anode")))
    assert volts_known(rails(diode, A=19.0)) == pytest.approx({"A": 19.0, "B": 19.0 - DROP})
    assert volts_known(rails(diode, B=19.0)) == {"B": 19.0}


def test_a_transistor_between_two_rails_carries_volts_and_one_of_a_half_bridge_does_not() -> None:
    assert volts_known(rails(fet("Q1", "A", "B"), A=12.0))["B"] == 12.0
    bridge = rails(fet("Q1", "A", "B"), fet("Q2", "B", "GND"), two("L1", "coil", "B", "C"), A=12.0)
    assert volts_known(bridge) == {"A": 12.0}
    signal = rails(fet("Q1", "A", "OUT"), A=12.0)
    assert volts_known(signal) == {"A": 12.0}


def test_a_regulators_input_has_at_least_what_it_needs() -> None:
    board = replace(told(small_board()), entries=())
    assert volts_at_least(board, "VF") == REGULATED
