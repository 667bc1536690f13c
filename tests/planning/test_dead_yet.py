"""A board that was mended, tried and is dead is not closed as proven."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.planning.test_advice import ENTRY, asked
from tests.small_board import small_board

from ohmwright.circuit import BoardState
from ohmwright.diagnosis import Level, diagnose
from ohmwright.facts import HANDHELD, Act, Deed, Facts, Quantity, Reading, Symptom

OFF = BoardState(off=frozenset({"C1"}))
NEW = BoardState(replaced=frozenset({"C1"}))


def mended(trial: Deed) -> Facts:
    """C1 shorted its rail, came off, read shorted by itself, was replaced, and the board was tried."""
    net = next(pin.net for pin in small_board().part("C1").pins if pin.net != "GND")
    readings = (
        Reading(Quantity.DIODE, "GND", net, 0.001, BoardState(), HANDHELD, "e1"),
        Reading(Quantity.OHMS, net, "GND", 0.5, BoardState(), HANDHELD, "e2"),
        Reading(Quantity.OHMS, net, "GND", 2500.0, OFF, HANDHELD, "e3"),
        Reading(Quantity.PART_OHMS, "C1.1", "C1.2", 0.5, OFF, HANDHELD, "e4"),
    )
    acts = (
        Act(Deed.TOOK_OFF, "C1", OFF, "e5"),
        Act(Deed.REPLACED, "C1", NEW, "e6"),
        Act(trial, "", NEW, "e7"),
    )
    return Facts(readings=readings, acts=acts, entries=ENTRY, symptom=Symptom.DEAD, state=NEW)


@pytest.mark.parametrize(("trial", "closed"), [(Deed.WORKS, True), (Deed.STILL_DEAD, False)])
def test_what_is_proven_closes_only_a_board_that_works(trial: Deed, closed: bool) -> None:
    facts = mended(trial)
    _, diagnosis = diagnose(small_board(), facts)
    proven = [claim for claim in diagnosis.claims if claim.level is Level.PROVEN]
    assert [claim.part for claim in proven] == ["C1"]
    assert ("something else" in proven[0].words) is not closed
    advice = asked(small_board(), facts)
    assert (advice.stop == "proven") is closed
    if not closed:
        assert advice.tests or "dead" in advice.stop


def test_the_advice_says_what_was_mended_once_nothing_is_left_to_try() -> None:
    facts = mended(Deed.STILL_DEAD)
    advice = asked(small_board(), facts)
    while advice.tests and not advice.stop:
        facts = replace(facts, skipped=(*facts.skipped, *(test.title for test in advice.tests)))
        advice = asked(small_board(), facts)
    assert advice.stop.startswith("C1 was bad and is mended, yet the board is dead")
    assert "not decidable" in advice.stop


def test_dead_since_mended_asks_for_a_trial_after_the_last_work() -> None:
    facts = mended(Deed.STILL_DEAD)
    assert facts.dead_since_mended("C1")
    assert not facts.dead_since_mended("C1", "C2")
    assert not replace(facts, acts=facts.acts[:2]).dead_since_mended("C1")
    assert not replace(facts, acts=(facts.acts[2], *facts.acts[:2])).dead_since_mended("C1")
