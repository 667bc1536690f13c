"""What each fact says in bits is what it changed in the odds, whatever kind of fact it is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.evidence.test_gradient import FED as FED_V33
from tests.evidence.test_gradient import PLACES, placed, read
from tests.small_board import small_board

from ohmwright.circuit import Board, BoardState, Feed
from ohmwright.diagnosis import Diagnosis, Level, Reason, diagnose
from ohmwright.facts import (
    Behaviour,
    Facts,
    Heat,
    HeatFinding,
    Look,
    LookFinding,
    Quantity,
    Reading,
    TraceSeen,
)

FED = BoardState(feed=Feed("V33", "GND", 1.0, 2.0))
LOW = Reading(Quantity.OHMS, "V33", "GND", 0.8, key="e1")
LATER = Reading(Quantity.DIODE, "VCC", "GND", 0.55, key="e9")
WARM = Heat(HeatFinding.PART, ("C3",), 1.0, FED, "camera", key="e5")
CRACK = Look(("C4",), LookFinding.CRACK, key="e6")
SHORT = TraceSeen(Behaviour.SHORT, 1.0, state=FED, key="e7")


def log_odds(answer: Diagnosis) -> dict[str, float]:
    """Natural logarithm of the odds of each suspect."""
    return {s.key: float(np.log(s.probability / (1.0 - s.probability))) for s in answer.suspects}


def of_fact(answer: Diagnosis, key: str) -> dict[str, Reason]:
    return {s.key: reason for s in answer.suspects for reason in s.reasons if reason.event == key}


def check(board: Board, before: Facts, after: Facts, key: str, least: int = 4) -> None:
    """By the definition of a log odds ratio; the last fact is the only one that differs."""
    without, found = diagnose(board, before)[1], diagnose(board, after)[1]
    then, now, reasons = log_odds(without), log_odds(found), of_fact(found, key)
    both = sorted(then.keys() & now.keys())
    assert len(both) >= least
    for suspect in both:
        assert reasons[suspect].bits == pytest.approx((now[suspect] - then[suspect]) / np.log(2.0), abs=1e-6)
    assert any(abs(reasons[suspect].bits) > 0.5 for suspect in both)


@pytest.mark.parametrize(
    ("readings", "fact", "key"),
    [
        ((LOW,), {"heats": (WARM,)}, "e5"),
        ((), {"heats": (WARM,)}, "e5"),
        ((LOW,), {"looks": (CRACK,)}, "e6"),
        ((), {"traces": (SHORT,)}, "e7"),
    ],
)
def test_the_bits_of_a_finding_are_what_it_changed_in_the_odds(
    readings: tuple[Reading, ...], fact: dict[str, tuple[object, ...]], key: str
) -> None:
    before = Facts(readings=readings, state=FED)
    check(small_board(), before, replace(before, **fact), key)  # type: ignore[arg-type]  # one field by name


@pytest.mark.parametrize(("readings", "step", "least"), [((), 1e-5, 1), ((), 1e-3, 4), ((LOW,), 1e-3, 4)])
def test_the_bits_of_millivolts_are_what_they_changed_in_the_odds(
    readings: tuple[Reading, ...], step: float, least: int
) -> None:
    before = Facts(readings=readings, state=FED_V33)
    along = replace(read(PLACES["C4"], step), key="e8")
    check(placed(), before, replace(before, gradients=(along,)), "e8", least)


def test_facts_are_credited_in_the_order_they_came_in() -> None:
    """A reading after the heat is credited with what it changed to what the heat had left."""
    before = Facts(readings=(LOW,), heats=(WARM,), state=FED)
    found = diagnose(small_board(), replace(before, readings=(LOW, LATER)))[1]
    assert [reason.event for reason in found.suspects[0].reasons] == ["e1", "e5", "e9"]
    then, now = log_odds(diagnose(small_board(), before)[1]), log_odds(found)
    reasons = of_fact(found, "e9")
    # how strays are set aside may differ once a reading is added, so this is held less tightly
    assert reasons["C3:path:C3.1/C3.2"].bits == pytest.approx(
        (now["C3:path:C3.1/C3.2"] - then["C3:path:C3.1/C3.2"]) / np.log(2.0), abs=0.3
    )


def test_all_bits_of_a_suspect_sum_to_what_was_said_together() -> None:
    facts = Facts(readings=(LOW,), heats=(WARM,), looks=(CRACK,), traces=(SHORT,), state=FED)
    before, after = diagnose(small_board(), Facts(state=FED))[0], diagnose(small_board(), facts)
    belief = before.probabilities
    for suspect in after[1].suspects:
        names = {suspect.part} if suspect.part else set()
        mine = [h for h, one in enumerate(before.hypotheses) if set(one.parts) == names and names]
        if suspect.mode not in ("short", "leak") or len(mine) == 0 or "+" in suspect.part:
            continue
        own = [h for h in mine if before.hypotheses[h].faults and set(before.hypotheses[h].faults[0].where)
               == set(suspect.where) and before.hypotheses[h].faults[0].kind.value == "path"]  # fmt: skip
        start = float(belief[own].sum())
        change = np.log(suspect.probability / (1 - suspect.probability)) - np.log(start / (1 - start))
        assert sum(r.bits for r in suspect.reasons) == pytest.approx(change / np.log(2.0), abs=1e-6)


def test_a_finding_repeated_adds_nothing_and_says_so() -> None:
    again = replace(WARM, key="e6")
    found = diagnose(small_board(), Facts(readings=(LOW,), heats=(WARM, again), state=FED))[1]
    for reason in of_fact(found, "e6").values():
        assert reason.bits == pytest.approx(0.0, abs=1e-9)
        assert "adds nothing" in reason.text


def test_findings_count_where_nothing_was_read() -> None:
    found = diagnose(small_board(), Facts(heats=(WARM,), looks=(CRACK,), state=FED))[1]
    for suspect in found.suspects:
        assert [reason.event for reason in suspect.reasons] == ["e5", "e6"]
    assert any("C3" in reason.text and "if this is it" in reason.text for reason in of_fact(found, "e5").values())


def test_a_look_is_one_sign_and_a_reading_another() -> None:
    """One fact is one sign at most, however many bits it has: a second kind of evidence is another fact."""
    warm = replace(WARM, parts=("C4",))
    facts = Facts(readings=(LOW,), heats=(warm,), looks=(CRACK,), traces=(SHORT,), state=FED)
    claims = diagnose(small_board(), facts)[1].claims
    assert [claim.level for claim in claims] == [Level.SUPPORTED]
    assert sorted(event for sign in claims[0].signs for event in sign.events) == ["e1", "e5", "e6"]
