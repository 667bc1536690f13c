"""A boot pin that shows nothing from ground accuses nobody: chips differ there (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.small_board import ENTRY, small_board

import ohmwright.evidence.electrical
from ohmwright.diagnosis import diagnose
from ohmwright.evidence import Electrical
from ohmwright.evidence.electrical import FLOATING, STRAY
from ohmwright.facts import Facts, Quantity, Reading
from ohmwright.planning import advise

NOTHING = Reading(Quantity.DIODE, "GND", "BST", None, key="e1")
DROP = replace(NOTHING, value=0.21)
OHMS = Reading(Quantity.OHMS, "BST", "GND", None, key="e1")
OTHER_WAY = Reading(Quantity.DIODE, "GND", "IO1", None, key="e1")


@pytest.mark.parametrize("reading", [DROP, OHMS, OTHER_WAY])
def test_only_nothing_in_diode_mode_at_a_boot_pin_is_let_pass(reading: Reading) -> None:
    electrical = Electrical(small_board())
    assert electrical.stray(electrical.line(NOTHING), NOTHING) == FLOATING
    assert electrical.stray(electrical.line(reading), reading) < 0.5 * FLOATING


def _at(net: str, reading: Reading) -> float:
    board = small_board()
    posterior, _ = diagnose(board, Facts(readings=(reading,), entries=ENTRY))
    at = [any(net in d.nets for d in h.faults) for h in posterior.hypotheses]
    return float(posterior.probabilities[at].sum())


def test_a_boot_pin_that_shows_nothing_is_no_bad_joint(monkeypatch: pytest.MonkeyPatch) -> None:
    let_pass = _at("BST", NOTHING)
    monkeypatch.setattr(ohmwright.evidence.electrical, "FLOATING", STRAY)
    assert let_pass < 0.15
    assert _at("BST", NOTHING) > 2.0 * let_pass, "it would be suspected if it were read as any other pin"


def test_it_is_not_taken_again_for_that() -> None:
    board, facts = small_board(), Facts(readings=(NOTHING,), entries=ENTRY)
    posterior, diagnosis = diagnose(board, facts)
    first = advise(board, facts, posterior, diagnosis).tests[0]
    assert not first.title.startswith("Read again")
