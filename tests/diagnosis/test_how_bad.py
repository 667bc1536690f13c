"""How bad a fault is, as an interval. The resistances follow by Ohm's law from what the meter shows."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.small_board import ENTRY, small_board, two

from ohmwright.circuit import Board, Net
from ohmwright.diagnosis import Diagnosis, diagnose
from ohmwright.facts import Facts, Quantity, Reading


def after(board: Board, *readings: Reading) -> Diagnosis:
    return diagnose(board, Facts(readings=readings, entries=ENTRY))[1]


@pytest.mark.parametrize("ohms", [0.9, 4.0, 60.0])
def test_a_path_from_a_rail_is_as_bad_as_the_rail_reads(ohms: float) -> None:
    """What hangs on the rail besides is hundreds of ohms and more, so the path is the reading, or little above it."""
    found = after(small_board(), Reading(Quantity.OHMS, "V33", "GND", ohms, key="e1"))
    suspect = next(s for s in found.suspects if s.part == "C3" and s.mode in ("short", "leak"))
    assert suspect.severity is not None
    assert suspect.severity.low < 1.1 * ohms + 0.5
    assert suspect.severity.high > ohms - 0.5
    assert suspect.severity.high < 12.0 * suspect.severity.low
    assert suspect.extent


def test_a_drifted_resistor_is_told_in_ohms() -> None:
    """47 kΩ straight across a part of 10 kΩ that leads nowhere: only insulation lies beside it, so it is that."""
    plain = small_board()
    board = replace(
        plain, parts=(*plain.parts, two("R9", "resistor", "V33", "TP9", 10e3)), nets=(*plain.nets, Net("TP9"))
    )
    found = after(board, Reading(Quantity.OHMS, "V33", "TP9", 47e3, key="e1"))
    drifted = [s for s in found.suspects if s.part == "R9" and s.mode == "drift"]
    assert drifted
    severity = drifted[0].severity
    assert severity is not None
    assert 40e3 < severity.low < 50e3
    assert 45e3 < severity.high < 60e3


def test_nothing_is_said_where_nothing_was_read() -> None:
    found = after(small_board())
    assert all(not suspect.extent for suspect in found.suspects if suspect.mode != "open")
