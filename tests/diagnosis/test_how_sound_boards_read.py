"""What sound boards read must not accuse them, parts missing or not. Bands: common practice, no source."""

from __future__ import annotations

import sys
from dataclasses import replace

import pytest
from tests.small_board import ENTRY, small_board, two

from ohmwright.circuit import Board, BoardState, Net, Part, Pin
from ohmwright.diagnosis import Level, diagnose
from ohmwright.evidence import Column, Electrical
from ohmwright.facts import Act, Deed, Facts, Quantity, Reading
from ohmwright.operation import volts_at_least
from ohmwright.planning import advise
from ohmwright.planning.advice import TestKind


def with_net(board: Board, net: Net, *parts: Part) -> Board:
    kept = tuple(n for n in board.nets if n.name != net.name)
    return replace(board, nets=(*kept, net), parts=(*board.parts, *parts))


def odds(board: Board, readings: tuple[Reading, ...], net: str) -> float:
    """Of a fault at a net against nothing wrong."""
    posterior, _ = diagnose(board, Facts(readings=readings, entries=ENTRY))
    there = [any(net in d.nets for d in h.faults) for h in posterior.hypotheses]
    sound = posterior.roster.sound()
    return float(posterior.probabilities[there].sum() / posterior.probabilities[sound].sum())


@pytest.mark.parametrize("volts", [0.5, 0.62, 0.74])
def test_a_pin_that_nobody_has_drawn_reads_as_a_pin(volts: float) -> None:
    """A capacitor's net has another pad that nobody has followed; a chip's pin there gives 0.45 to 0.75 V."""
    board = with_net(small_board(), Net("X1", unexplained_pads=1), two("C9", "capacitor", "X1", "GND"))
    read = (Reading(Quantity.DIODE, "GND", "X1", volts, key="e1"),)
    assert odds(board, read, "X1") < 2.0 * odds(board, (), "X1")


@pytest.mark.parametrize("ohms", [300.0, 3e3, 3e4])
def test_a_switch_node_whose_coil_nobody_has_drawn_shows_the_rail(ohms: float) -> None:
    plain = small_board()
    board = replace(plain, parts=tuple(p for p in plain.parts if p.name != "L1"))
    board = with_net(board, Net("SW", unexplained_pads=1))
    read = (Reading(Quantity.OHMS, "SW", "GND", ohms, key="e1"),)
    assert odds(board, read, "SW") < 2.0 * odds(board, (), "SW")


@pytest.mark.parametrize("volts", [0.47, 0.6, 0.73])
def test_signal_pins_read_anywhere_in_the_band_of_practice(volts: float) -> None:
    read = (Reading(Quantity.DIODE, "GND", "IO1", volts, key="e1"),)
    assert odds(small_board(), read, "IO1") < 2.0 * odds(small_board(), (), "IO1")


def test_no_spread_of_junctions_passes_for_a_short() -> None:
    """Next to nothing between a signal and its supply is a fault, whatever clamps there may be."""
    board = small_board()
    board = replace(board, parts=tuple(p for p in board.parts if p.name != "R3"))
    read = (Reading(Quantity.OHMS, "V33", "IO1", 0.8, key="e1"),)
    assert odds(board, read, "IO1") > 10.0 * odds(board, (), "IO1")


def test_a_chip_off_a_rail_of_unknown_volts_is_not_proven_bad_by_a_core_chips_load() -> None:
    board = with_net(small_board(), Net("VX"), Part("U9", "ic", (Pin("1", "VX", "VDD"), Pin("2", "GND", "GND"))))
    off = BoardState(off=frozenset({"U9"}))
    facts = Facts(
        readings=(
            Reading(Quantity.OHMS, "VX", "GND", 38.0, key="e1"),
            Reading(Quantity.OHMS, "VX", "GND", 4e5, off, key="e3"),
            Reading(Quantity.PART_OHMS, "U9.1", "U9.2", 38.2, off, key="e4"),
        ),
        acts=(Act(Deed.TOOK_OFF, "U9", "e2", 1),),
        entries=ENTRY,
        state=off,
    )
    assert not any(claim.level is Level.PROVEN for claim in diagnose(board, facts)[1].claims)


def test_a_rail_of_many_chips_lies_lower_than_one_of_few() -> None:
    """They lie in parallel."""

    def usual(chips: int) -> float:
        more = [
            Part(f"U{20 + k}", "ic", (Pin("1", "V33", "VDD"), Pin("2", "GND", "GND"))) for k in range(chips)
        ]
        board = replace(small_board(), parts=(*small_board().parts, *more))
        electrical = Electrical(board)
        line = electrical.line(Reading(Quantity.OHMS, "V33", "GND", 1e3, BoardState()))
        y = line.forward.predict(line.probe, [Column(line.state, (), ())]).y
        return float(line.probe.unscaled(y[0]))

    assert usual(12) < 0.7 * usual(1)


ELSEWHERE = (("SW", 0.022), ("VSW", 0.5), ("VIN", 0.6), ("VF", 0.6), ("VCC", 0.6), ("FB", 0.6), ("BST", 0.6))
"""The other nets, once each: nothing is left to be read for the first time."""


def test_after_long_reading_power_and_work_tell_parts_of_one_rail_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    """A rail surely bad, its parts all alike: cold reading is over, feeds and taking off are not, nor is the case."""
    module = sys.modules[advise.__module__]
    monkeypatch.setattr(module, "PATIENCE", 0)
    monkeypatch.setattr(module, "PATIENCE_PER_NET", 0.0)
    caps = [two(f"C{20 + k}", "capacitor", "V33", "GND") for k in range(6)]
    board = replace(small_board(), parts=(*small_board().parts, *caps))
    readings = (
        Reading(Quantity.OHMS, "V33", "GND", 22.0, key="e1"),
        Reading(Quantity.DIODE, "GND", "V33", 0.021, key="e2"),
        Reading(Quantity.DIODE, "GND", "IO1", 0.6, key="e3"),
        *(Reading(Quantity.DIODE, "GND", net, volts, key=f"e{k}") for k, (net, volts) in enumerate(ELSEWHERE, 4)),
    )
    facts = Facts(readings=readings, entries=ENTRY, acts=(Act(Deed.STILL_DEAD, "", "e9"),))
    advice = advise(board, facts, *diagnose(board, facts))
    assert not advice.stop
    kinds = {test.kind for test in advice.tests}
    assert TestKind.TAKE_OFF in kinds
    assert not kinds & {TestKind.DIODE, TestKind.OHMS, TestKind.PAIR}


def rail_of_unknown_volts(*pins: Pin) -> Board:
    """A plain chip on a rail nobody has told the volts of, with a part of some kind beside it and pads not followed."""
    chip = Part("U9", "ic", (Pin("1", "VX", "VDD"), Pin("2", "GND", "GND")))
    beside = () if not pins else (Part("U10", "buck", (*pins, Pin("9", "GND", "GND"))),)
    return with_net(small_board(), Net("VX", unexplained_pads=3), chip, *beside)


@pytest.mark.parametrize(
    "read",
    [Reading(Quantity.OHMS, "VX", "GND", 13.0, key="e1"), Reading(Quantity.DIODE, "GND", "VX", 0.012, key="e1")],
    ids=["ohms", "diode mode"],
)
def test_a_rail_from_which_a_regulator_runs_is_no_core_rail(read: Reading) -> None:
    """Rails of 2.5 V and more show 200 Ω and more (common practice, no source); a core may show a few ohms."""
    may_be_core, runs_a_regulator = rail_of_unknown_volts(), rail_of_unknown_volts(Pin("1", "VX", "VIN"))
    told = [odds(board, (read,), "VX") / odds(board, (), "VX") for board in (may_be_core, runs_a_regulator)]
    assert told[1] > 5.0 * told[0]
    assert odds(runs_a_regulator, (read,), "VX") > 10.0


def test_a_load_switch_passes_any_volts() -> None:
    pins = (Pin("1", "VX", "IN"), Pin("2", "VY", "OUT"), Pin("3", "GND", "GND"))
    board = with_net(with_net(small_board(), Net("VY")), Net("VX"), Part("U10", "load-switch", pins))
    assert volts_at_least(board, "VX") is None
    assert volts_at_least(rail_of_unknown_volts(Pin("1", "VX", "VIN")), "VX") == 2.5
    assert volts_at_least(board, "V33") == 3.3
