"""What is advised, and that it follows from the physics."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.small_board import ENTRY, small_board, two

from ohmwright.circuit import Board, BoardState, Feed, Part, Pin, Spread
from ohmwright.diagnosis import Level, diagnose
from ohmwright.facts import HANDHELD, Act, Deed, Facts, Look, LookFinding, Meter, Quantity, Reading
from ohmwright.planning import Advice, TestKind, advise

FED = BoardState(feed=Feed("V33", "GND", 0.8, 1.0))


def low_rail(meter: Meter = HANDHELD) -> tuple[Reading, ...]:
    return (
        Reading(Quantity.DIODE, "GND", "V33", 0.003, meter=meter, key="e1"),
        Reading(Quantity.SUPPLY_VOLTS, "V33", "GND", 0.35, FED, meter, key="e2"),
    )


def asked(board: Board, facts: Facts) -> Advice:
    posterior, diagnosis = diagnose(board, facts)
    return advise(board, facts, posterior, diagnosis)


def millivolts_across(advice: Advice, name: str) -> float:
    """Bits of the millivolt test across a part, zero where it is not among what is advised."""
    return max((t.bits for t in advice.tests if t.kind is TestKind.MILLIVOLTS and t.title.endswith(name)), default=0.0)


def test_nothing_is_probed_before_the_battery_is_off() -> None:
    first = asked(small_board(), Facts()).tests[0]
    assert first.gate
    assert "attery" in first.title
    assert {"battery", "mains"} <= {c.code for c in first.cautions}


def test_millivolts_across_the_coil_are_found_from_the_physics() -> None:
    """With the rail fed, the coil says on which side the short is, with nothing lifted."""
    advice = asked(small_board(), Facts(readings=low_rail(), entries=ENTRY, state=FED))
    assert advice.tests[0].kind is TestKind.MILLIVOLTS
    assert millivolts_across(advice, "L1") > 0.5


def test_an_unnamed_part_of_20_milliohm_gives_the_same_advice() -> None:
    unnamed = Part("X1", "resistor", (Pin("1", "SW"), Pin("2", "V33")), Spread(0.02, 0.5))
    advice = asked(small_board(unnamed), Facts(readings=low_rail(), entries=ENTRY, state=FED))
    assert millivolts_across(advice, "X1") > 0.5


def test_a_part_of_no_resistance_or_a_coarse_meter_does_not() -> None:
    nothing = Part("X1", "resistor", (Pin("1", "SW"), Pin("2", "V33")), Spread(0.0, 0.0))
    advice = asked(small_board(nothing), Facts(readings=low_rail(), entries=ENTRY, state=FED))
    assert millivolts_across(advice, "X1") < 0.05
    coarse = Meter("bench panel", volts_resolution=0.1, lead_resistance=0.2)
    fine = asked(small_board(), Facts(readings=low_rail(), entries=ENTRY, state=FED))
    rough = asked(small_board(), Facts(readings=low_rail(coarse), entries=ENTRY, state=FED))
    assert millivolts_across(rough, "L1") < 0.3 * millivolts_across(fine, "L1")


def test_the_side_follows_the_sign_of_the_millivolts() -> None:
    board = small_board()
    for volts, wanted in ((0.0125, {"U1"}), (0.0, {"U2", "C3", "C4", "Q1"})):
        reading = Reading(Quantity.VOLTS, "V33", "SW", volts, FED, key="e3")
        _, diagnosis = diagnose(board, Facts(readings=(*low_rail(), reading), entries=ENTRY, state=FED))
        on_side = sum(s.probability for s in diagnosis.suspects if s.part in wanted)
        assert on_side > 0.9


def test_a_crack_raises_suspicion_and_settles_nothing() -> None:
    board, readings = small_board(), low_rail()[:1]
    _, before = diagnose(board, Facts(readings=readings, entries=ENTRY))
    look = Look(("C3",), LookFinding.CRACK, key="e5")
    _, after = diagnose(board, Facts(readings=readings, looks=(look,), entries=ENTRY))
    share = [next(s.probability for s in d.suspects if s.part == "C3" and s.mode == "short") for d in (before, after)]
    assert share[1] > 2 * share[0]
    assert not any(c.level is Level.PROVEN for c in after.claims)


def removed(*readings: Reading) -> Facts:
    off = BoardState(off=frozenset({"C3"}))
    act = Act(Deed.TOOK_OFF, "C3", "e6", 2)
    return Facts(readings=(*low_rail()[:1], *readings), acts=(act,), entries=ENTRY, state=off)


OFF = BoardState(off=frozenset({"C3"}))
RAIL_SOUND = Reading(Quantity.DIODE, "GND", "V33", 0.43, OFF, key="e7")
PART_BAD = Reading(Quantity.PART_OHMS, "C3.1", "C3.2", 0.6, OFF, key="e8")


def test_the_proof_needs_both_the_rail_and_the_part() -> None:
    board = small_board()
    levels = []
    for readings in ((RAIL_SOUND,), (PART_BAD,), (RAIL_SOUND, PART_BAD)):
        _, diagnosis = diagnose(board, removed(*readings))
        levels.append([c for c in diagnosis.claims if c.level is Level.PROVEN])
    assert levels[0] == []
    assert levels[1] == []
    claim = levels[2][0]
    assert claim.part == "C3"
    assert {e for sign in claim.signs for e in sign.events} >= {"e1", "e7", "e8"}


def test_a_sound_part_taken_off_a_bad_rail_is_cleared() -> None:
    still = Reading(Quantity.DIODE, "GND", "V33", 0.003, OFF, key="e7")
    fine = Reading(Quantity.PART_OHMS, "C3.1", "C3.2", None, OFF, key="e8")
    _, diagnosis = diagnose(small_board(), removed(still, fine))
    assert not any(s.part == "C3" and s.probability > 0.01 for s in diagnosis.suspects)
    assert not any(c.level is Level.PROVEN for c in diagnosis.claims)


def test_a_second_fault_on_the_rail_is_not_lost() -> None:
    """Conductances add: 0.2 Ω and 1.4 Ω side by side read 0.175 Ω, and 1.4 Ω once the first is off."""
    board = small_board()
    lead = HANDHELD.lead_resistance
    first = Reading(Quantity.OHMS, "V33", "GND", 0.175 + lead, key="e1")
    after = Reading(Quantity.OHMS, "V33", "GND", 1.4 + lead, OFF, key="e7")
    part = Reading(Quantity.PART_OHMS, "C3.1", "C3.2", 0.2 + lead, OFF, key="e8")
    act = Act(Deed.TOOK_OFF, "C3", "e6", 2)
    again = Reading(Quantity.DIODE, "GND", "V33", 0.0014, OFF, key="e9")
    for readings, least in (((first, after, part), 0.5), ((first, after, part, again), 0.9)):
        posterior, diagnosis = diagnose(board, Facts(readings=readings, acts=(act,), entries=ENTRY, state=OFF))
        weighed = zip(posterior.probabilities.tolist(), posterior.hypotheses, strict=True)
        assert sum(p for p, h in weighed if len(h.defects) > 1) > least
    assert "C3" in diagnosis.suspects[0].part.split("+")


def test_a_low_core_rail_is_not_called_a_short() -> None:
    """Core rails read 1 to 30 Ω when sound (common practice)."""
    board = small_board()
    nets = tuple(replace(n, nominal=0.9) if n.name == "V33" else n for n in board.nets)
    board = replace(board, nets=nets)
    facts = Facts(readings=(Reading(Quantity.OHMS, "V33", "GND", 12.0, key="e1"),), entries=ENTRY)
    _, diagnosis = diagnose(board, facts)
    assert not any(c.level in (Level.SUPPORTED, Level.PROVEN) for c in diagnosis.claims)
    here = sum(
        s.probability for s in diagnosis.suspects if s.mode in ("short", "leak") and any("V33" in w for w in (s.words,))
    )
    assert here < 0.6


def test_contradicting_readings_are_reported_not_averaged() -> None:
    facts = Facts(
        readings=(
            Reading(Quantity.OHMS, "V33", "GND", 4000.0, key="e1"),
            Reading(Quantity.OHMS, "V33", "GND", 0.3, key="e2"),
            Reading(Quantity.OHMS, "V33", "GND", 4010.0, key="e3"),
        ),
        entries=ENTRY,
    )
    _, diagnosis = diagnose(small_board(), facts)
    assert diagnosis.contradictions
    assert diagnosis.contradictions[0].most_likely_wrong == "e2"


def test_probabilities_sum_to_one() -> None:
    _, diagnosis = diagnose(small_board(), Facts(readings=low_rail()[:1], entries=ENTRY))
    assert sum(s.probability for s in diagnosis.suspects) + diagnosis.rest == pytest.approx(1.0, abs=1e-9)


def test_ohms_after_a_feed_begins_with_off_and_discharge() -> None:
    facts = Facts(readings=low_rail(), entries=ENTRY, state=FED, discharged=False)
    cold = [
        t for t in asked(small_board(), facts).tests if t.kind in (TestKind.OHMS, TestKind.DIODE, TestKind.TAKE_OFF)
    ]
    for test in cold:
        assert [s.act for s in test.steps][:2] == ["feed off", "discharge"]
        assert "discharge" in {c.code for c in test.cautions}


def test_hot_work_carries_its_caution() -> None:
    reading = Reading(Quantity.VOLTS, "V33", "SW", 0.0125, FED, key="e3")
    advice = asked(small_board(), Facts(readings=(*low_rail(), reading), entries=ENTRY, state=FED, discharged=False))
    work = next(t for t in advice.tests if t.kind is TestKind.TAKE_OFF)
    assert {"hot work", "discharge"} <= {c.code for c in work.cautions}
    assert all("Local rules" in c.text for c in work.cautions if c.code in ("hot work", "discharge"))


def test_feeding_carries_eyes_and_the_limit() -> None:
    advice = asked(small_board(), Facts(readings=low_rail()[:1], entries=ENTRY))
    fed = [t for t in advice.tests if any(s.act == "feed" for s in t.steps)]
    assert fed
    for test in fed:
        assert {"eyes", "limit"} <= {c.code for c in test.cautions}


def test_every_advised_feed_is_permitted() -> None:
    from ohmwright.safety import permit

    facts = Facts(readings=low_rail()[:1], entries=ENTRY)
    for test in asked(small_board(), facts).tests:
        for step in test.steps:
            if step.feed is not None:
                assert permit(small_board(), facts, step.feed)


def test_the_unknown_two_pad_part_is_weighed_as_a_mixture() -> None:
    """A straight 0.3 Ω path where a capacitor was thought to be is better explained by a bead."""
    board = small_board()
    extra = Part("X5", "unknown-two-pads", (Pin("1", "V33"), Pin("2", "VA")))
    load = two("C9", "capacitor", "VA", "GND")
    board = replace(board, nets=(*board.nets, replace(board.net("IO1"), name="VA")), parts=(*board.parts, extra, load))
    facts = Facts(
        readings=(
            Reading(Quantity.OHMS, "V33", "GND", 6000.0, key="e1"),
            Reading(Quantity.OHMS, "VA", "GND", 6000.0, key="e2"),
            Reading(Quantity.OHMS, "V33", "VA", 0.25, key="e3"),
        ),
        entries=ENTRY,
    )
    posterior, diagnosis = diagnose(board, facts)
    assert ("X5", "ferrite") in posterior.taken
    assert diagnosis.suspects[0].mode == "none"
