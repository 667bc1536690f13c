"""Nobody gives up on a board with nets that were never read, and what a reading repeated shows is hardly a slip."""

from __future__ import annotations

import sys
from dataclasses import replace

import pytest
from tests.small_board import ENTRY, small_board

from ohmwright.circuit import Board, Net, Part, Pin
from ohmwright.diagnosis import diagnose
from ohmwright.diagnosis.posterior import posterior_of
from ohmwright.evidence import Electrical
from ohmwright.facts import Act, Deed, Facts, Quantity, Reading
from ohmwright.planning import advise
from ohmwright.planning.advice import TestKind

PINS = tuple(f"S{k}" for k in range(8))


def board_with_many_signals() -> Board:
    """The small board with a chip whose eight signals go nowhere else; a tenth of all parts is not on the map."""
    pins = (Pin("1", "V33", "VDD"), Pin("2", "GND", "GND"), *(Pin(name, f"SIG_{name}", "IO") for name in PINS))
    board = small_board()
    nets = (*board.nets, *(Net(f"SIG_{name}") for name in PINS))
    return replace(board, nets=nets, parts=(*board.parts, Part("U8", "ic", pins)), unmapped_share=0.1)


def believed(board: Board, *readings: Reading) -> float:
    """Belief that the last signal is low to ground, by whatever. [1]"""
    posterior = posterior_of(board, Facts(readings=readings))
    there = [
        any({"GND", f"SIG_{PINS[-1]}"} == set(d.nets) and d.kind.value == "path" for d in h.defects)
        for h in posterior.hypotheses
    ]
    return float(posterior.probabilities[there].sum())


def test_nets_that_nobody_read_are_read_before_giving_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """Second looks are over; the board is advised to be read on where it never was, until all of it was read."""
    module = sys.modules[advise.__module__]
    monkeypatch.setattr(module, "PATIENCE", 0)
    monkeypatch.setattr(module, "PATIENCE_PER_NET", 0.0)
    board = board_with_many_signals()
    readings = [
        Reading(Quantity.DIODE, "GND", "V33", 0.42, key="e1"),
        Reading(Quantity.OHMS, "V33", "GND", 5_200.0, key="e2"),
    ]
    acts = (Act(Deed.STILL_DEAD, "", "e0"),)
    seen = {"V33"}
    for k in range(3, 30):
        facts = Facts(readings=tuple(readings), entries=ENTRY, acts=acts)
        advice = advise(board, facts, *diagnose(board, facts))
        first = next((t for t in advice.tests if t.kind is TestKind.DIODE), None)
        if advice.stop or first is None:
            break
        net = board.net_at(first.steps[-1].black)
        assert net not in seen or first.title.startswith("Read again")
        seen.add(net)
        readings.append(Reading(Quantity.DIODE, "GND", net, 0.6, key=f"e{k}"))
    assert {f"SIG_{name}" for name in PINS} <= seen


def test_a_signal_next_to_ground_is_a_slip_or_a_fault() -> None:
    """18 mV in diode mode, where sound signals show 0.45 to 0.75 V (common practice, no source)."""
    board = board_with_many_signals()
    low = Reading(Quantity.DIODE, "GND", f"SIG_{PINS[-1]}", 0.018, key="e1")
    electrical = Electrical(board)
    line = electrical.line(low)
    assert electrical.stray(line, low) < electrical.stray(line, replace(low, value=0.3))
    assert believed(board, low) > 20.0 * believed(board)


def test_a_reading_repeated_with_the_same_result_is_hardly_a_slip() -> None:
    board = board_with_many_signals()
    low = Reading(Quantity.DIODE, "GND", f"SIG_{PINS[-1]}", 0.018, key="e1")
    again = replace(low, value=0.0181, key="e2")
    once, twice = believed(board, low), believed(board, low, again)
    assert twice > once
    assert (1.0 - twice) / twice < 0.4 * (1.0 - once) / once


def test_a_reading_repeated_with_another_result_is_no_repeat() -> None:
    board = board_with_many_signals()
    low = Reading(Quantity.DIODE, "GND", f"SIG_{PINS[-1]}", 0.018, key="e1")
    other = replace(low, value=0.6, key="e2")
    assert not any(line.twice for line in posterior_of(board, Facts(readings=(low, other))).lines)
    assert believed(board, low, other) < believed(board, low)
