"""A part that is soldered back has new joints: what was wrong in the old ones is gone (common practice, no source)."""

from dataclasses import replace

from tests.small_board import ENTRY, small_board

from ohmwright.circuit import BoardState
from ohmwright.diagnosis import diagnose
from ohmwright.diagnosis.claims import not_cured
from ohmwright.diagnosis.posterior import Posterior, posterior_of
from ohmwright.facts import Act, Deed, Facts, Quantity, Reading, Symptom
from ohmwright.planning import advise

OFF, BACK = BoardState(off=frozenset({"R3"})), BoardState(refitted=frozenset({"R3"}))
BOTH = replace(BACK, replaced=frozenset({"C7"}))
ACROSS, ITSELF = 16.4e3, 10.05e3
"""Ohms across R3 on the board, and of R3 by itself: nothing beside a part adds to its ohms, but a bad joint does."""
DEAD = Act(Deed.STILL_DEAD, "", "e9", 9)


def belief(*acts: Act, state: BoardState) -> Posterior:
    """After both readings, the part back and other work done."""
    readings = (
        Reading(Quantity.OHMS, "R3.1", "R3.2", ACROSS, key="e1"),
        Reading(Quantity.OHMS, "R3.1", "R3.2", ACROSS + 20.0, key="e2"),
        Reading(Quantity.PART_OHMS, "R3.1", "R3.2", ITSELF, OFF, key="e3"),
    )
    return posterior_of(small_board(), Facts(readings, acts=acts, symptom=Symptom.DEAD, entries=ENTRY, state=state))


def in_joint(posterior: Posterior) -> float:
    """Belief in a bad joint of R3."""
    return float(
        sum(
            p
            for h, p in zip(posterior.hypotheses, posterior.probabilities, strict=True)
            if any(d.part == "R3" and d.joint and not d.residue for d in h.faults)
        )
    )


def test_a_board_that_works_owes_it_to_the_new_joint_and_not_to_the_new_part() -> None:
    works = Act(Deed.WORKS, "C7", "e8", 8, BOTH)
    mended = belief(Act(Deed.REFITTED, "R3", "e5", 5, BACK), Act(Deed.REPLACED, "C7", "e7", 7, BOTH), works, state=BOTH)
    assert in_joint(mended) > 0.9
    assert not_cured(mended) < 0.05
    advice = advise(mended.board, mended.facts, *diagnose(mended.board, mended.facts))
    assert advice.stop == "the board works since C7 was replaced and R3 was soldered back"


def test_a_board_still_dead_with_new_joints_has_something_else() -> None:
    before = belief(state=OFF)
    after = belief(Act(Deed.REFITTED, "R3", "e5", 5, BACK), replace(DEAD, state=BACK), state=BACK)
    assert in_joint(after) < 0.1 * in_joint(before)
    assert not_cured(after) > 0.9


def test_a_joint_may_add_a_part_of_what_the_resistor_has() -> None:
    """6 kΩ in the solder of 10 kΩ: no open, and no resistor off its value, for by itself it reads right."""
    told = belief(state=OFF)
    (defect,) = told.hypotheses[int(told.probabilities.argmax())].faults
    assert (defect.part, defect.joint) == ("R3", True)
