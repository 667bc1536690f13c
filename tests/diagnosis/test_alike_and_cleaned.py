"""What no reading tells apart is believed alike, and what cleaning or taking off does not settle stays suspect."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from tests.small_board import ENTRY, small_board, two

from ohmwright.circuit import Board, BoardState, Net, Part, Pin
from ohmwright.diagnosis import Level, diagnose, not_cured, posterior_of
from ohmwright.evidence import Column, Electrical, Forward, probe_of, roster_of
from ohmwright.evidence.electrical import STRAY
from ohmwright.evidence.looking import NOTHING_SOUND, SEEN
from ohmwright.evidence.looking import log_likelihood as looked
from ohmwright.facts import (
    HANDHELD,
    Act,
    Deed,
    Facts,
    Look,
    LookFinding,
    Quantity,
    Reading,
    Symptom,
)
from ohmwright.faults import Prior, hypotheses_of
from ohmwright.operation import wiring_of
from ohmwright.planning import advise
from ohmwright.planning.advice import TestKind
from ohmwright.planning.foresight import foresee
from ohmwright.planning.scene import scene_of
from ohmwright.planning.worth import repairs_of, weigh_all

LEAD = HANDHELD.lead_resistance


def many_alike() -> Board:
    plain = small_board()
    caps = [two(f"C{20 + k}", "capacitor", "V33", "GND") for k in range(5)]
    return replace(plain, parts=(*plain.parts, *caps))


def bridged() -> Board:
    """A chip whose supply stands beside a signal that goes nowhere else."""
    plain = small_board()
    pins = (Pin("1", "V33", "VDD"), Pin("2", "IO9", "IO"), Pin("3", "GND", "GND"))
    return replace(plain, parts=(*plain.parts, Part("U9", "ic", pins)), nets=(*plain.nets, Net("IO9")))


def test_a_second_fault_leaves_like_parts_alike() -> None:
    """Two rails that are bad ask for two faults; the capacitors of each are one as suspect as the other."""
    readings = (
        Reading(Quantity.OHMS, "V33", "GND", 0.4 + LEAD, key="e1"),
        Reading(Quantity.OHMS, "VCC", "GND", 0.3 + LEAD, key="e2"),
        Reading(Quantity.DIODE, "GND", "V33", 0.0, key="e3"),
        Reading(Quantity.DIODE, "GND", "VCC", 0.0, key="e4"),
    )
    posterior = posterior_of(many_alike(), Facts(readings=readings, entries=ENTRY))
    assert any(len(h.defects) > 1 for h in posterior.hypotheses)
    caps = ["C3", "C4", *(f"C{20 + k}" for k in range(5))]
    share = [float(posterior.probabilities[posterior.roster.with_part(cap)].sum()) for cap in caps]
    assert max(share) < 1.05 * min(share)
    assert sum(share) > 0.3


def test_a_path_between_pins_that_cleaning_left_is_inside() -> None:
    board = bridged()
    between = Reading(Quantity.OHMS, "V33", "IO9", 0.8 + LEAD, key="e1")
    cleaned = BoardState(cleaned=frozenset({"U9"}))
    again = Reading(Quantity.OHMS, "V33", "IO9", 0.8 + LEAD, cleaned, key="e3")
    acts = (Act(Deed.CLEANED, "U9", "e2", 1), Act(Deed.STILL_DEAD, "", "e4", 2, cleaned))
    before = posterior_of(board, Facts(readings=(between,), entries=ENTRY))
    after = posterior_of(board, Facts(readings=(between, again), acts=acts, entries=ENTRY, state=cleaned))
    assert float(before.probabilities[before.roster.with_part("U9")].sum()) > 0.5
    assert float(after.probabilities[after.roster.with_part("U9")].sum()) > 0.9
    assert not_cured(after) > 0.9
    assert float(before.probabilities[before.roster.left(cleaned)].sum()) < 0.6


def test_all_that_may_be_seen_at_a_part_sums_to_one() -> None:
    """At residue, at other bad parts and at sound ones; what is left out of `SEEN` is seeing nothing."""
    register = Electrical(bridged()).register
    roster = roster_of(hypotheses_of(bridged(), Prior(), Symptom.UNKNOWN), register)
    total = np.zeros(len(roster.hypotheses))
    for finding, sound in (*((f, s) for f, (_, s) in SEEN.items()), (LookFinding.NOTHING, NOTHING_SOUND)):
        total += sound * np.exp(looked((Look(("U9",), finding),), roster))
    assert np.allclose(total, 1.0)
    assert roster.with_residue("U9").any()


def test_residue_stays_where_it_is_when_the_part_comes_off() -> None:
    """Dirt lies on the board: pads that read the same without their part ask for cleaning; no new part mends that."""
    board = bridged()
    off = BoardState(off=frozenset({"U9"}))
    between = Reading(Quantity.OHMS, "V33", "IO9", 0.8 + LEAD, key="e1")
    again = Reading(Quantity.OHMS, "V33", "IO9", 0.8 + LEAD, off, key="e3")
    # a clamp passes nanoamperes at half a volt: megohms, as a sound chip shows in a high range
    loose = Reading(Quantity.PART_OHMS, "U9.1", "U9.2", 12e6, off, key="e4")
    other_mode = Reading(Quantity.DIODE, "V33", "IO9", 0.001, off, key="e5")
    acts = (Act(Deed.TOOK_OFF, "U9", "e2", 1),)
    facts = Facts(readings=(between, again, loose, other_mode), acts=acts, entries=ENTRY, state=off)
    posterior, diagnosis = diagnose(board, facts)
    residue = np.array([any(d.residue for d in h.defects) for h in posterior.hypotheses])
    assert float(posterior.probabilities[residue].sum()) > 0.8
    assert not any(claim.level is Level.PROVEN for claim in diagnosis.claims)
    scene, view = scene_of(posterior), foresee(posterior)
    titles = [w.candidate.title for w in weigh_all(scene, view, repairs_of(scene, view))]
    assert any(title.startswith("Clean between the pins of U9") for title in titles)
    assert not any(title.startswith("Fit a new U9") for title in titles)


def test_two_rails_that_are_one_are_seen_however_light_the_loads() -> None:
    """A milliohm short between two rails makes every reading of one that of the other (Ohm's law)."""
    plain = small_board()
    load = Part("U7", "ic", (Pin("1", "VBB", "VDD"), Pin("2", "GND", "GND")))
    parts = (*plain.parts, two("C30", "capacitor", "VBB", "GND"), load)
    fet = Part("Q7", "fet-n", (Pin("1", "EN", "gate"), Pin("2", "V33", "source"), Pin("3", "VBB", "drain")))
    nets = (*plain.nets, Net("VBB", nominal=5.0, rail=True), Net("EN"))
    board = replace(plain, parts=(*parts, fet), nets=nets)
    defect = next(
        h.defects[0]
        for h in hypotheses_of(board, Prior())
        if h.parts == ("Q7",) and set(h.defects[0].nets) == {"V33", "VBB"} and h.defects[0].mode == "short"
    )
    forward, state = Forward(wiring_of(board)), BoardState()
    # both loads are a factor of 40 heavier than anybody would guess
    heavier = np.zeros((forward.n_unknowns, 1))
    heavier[np.flatnonzero(forward.spread[: forward.meter_at] > 1.0)] = -3.7
    readings = []
    for k, (quantity, red, black) in enumerate(
        ((Quantity.DIODE, "GND", "V33"), (Quantity.DIODE, "GND", "VBB"), (Quantity.OHMS, "V33", "GND"),
         (Quantity.OHMS, "VBB", "GND"))
    ):  # fmt: skip
        open_value = Reading(quantity, red, black, 0.0, state)
        probe = probe_of(board, open_value)
        heavy = forward.predict(probe, [Column(state, (defect,))], heavier)
        value = float(probe.unscaled(heavy.y[0]))
        readings.append(replace(open_value, value=value, key=f"e{k}"))
    posterior = posterior_of(board, Facts(readings=tuple(readings), entries=ENTRY))
    assert float(posterior.probabilities[posterior.roster.with_part("Q7")].sum()) > 0.5


def test_out_of_range_in_ohms_owes_nothing_to_the_map() -> None:
    board = small_board(unmapped_share=0.4)
    electrical = Electrical(board)
    line = electrical.line(Reading(Quantity.OHMS, "V33", "GND", None))
    low = electrical.line(Reading(Quantity.OHMS, "V33", "GND", 900.0))
    assert electrical.stray(line, line.reading) == STRAY
    assert electrical.stray(low, low.reading) > STRAY


def test_a_bad_part_on_the_bench_is_not_yet_repaired() -> None:
    off = BoardState(off=frozenset({"C3"}))
    readings = (
        Reading(Quantity.OHMS, "V33", "GND", 0.4 + LEAD, key="e1"),
        Reading(Quantity.OHMS, "V33", "GND", 5_000.0, off, key="e3"),
        Reading(Quantity.PART_OHMS, "C3.1", "C3.2", 0.4 + LEAD, off, key="e4"),
    )
    facts = Facts(readings=readings, acts=(Act(Deed.TOOK_OFF, "C3", "e2", 1),), entries=ENTRY, state=off)
    posterior = posterior_of(small_board(), facts)
    assert not_cured(posterior) > 0.9
    assert not_cured(posterior, "C3") < 0.1


def test_a_chip_that_comes_off_is_read_at_every_suspected_pair() -> None:
    board = small_board()
    readings = (
        Reading(Quantity.OHMS, "VF", "GND", 0.5 + LEAD, key="e1"),
        Reading(Quantity.OHMS, "SW", "GND", 0.5 + LEAD, key="e2"),
    )
    facts = Facts(readings=readings, entries=ENTRY)
    posterior = posterior_of(board, facts)
    scene, view = scene_of(posterior), foresee(posterior)
    options = [w.candidate for w in weigh_all(scene, view, repairs_of(scene, view))]
    off = next(c for c in options if c.kind is TestKind.TAKE_OFF and c.target == ("U1",))
    pairs = {(s.red, s.black) for s in off.steps if s.quantity == Quantity.PART_OHMS.value}
    assert 1 < len(pairs) <= 3


def test_a_board_that_works_after_a_repair_ends_the_case() -> None:
    new = BoardState(replaced=frozenset({"C3"}))
    acts = (Act(Deed.REPLACED, "C3", "e2", 1), Act(Deed.WORKS, "", "e3", 2, new))
    facts = Facts(readings=(), acts=acts, entries=ENTRY, state=new)
    posterior, diagnosis = diagnose(small_board(), facts)
    advice = advise(small_board(), facts, posterior, diagnosis)
    assert advice.stop == "the board works since C3 was replaced"
    assert not advice.tests
    assert "nobody has put on record" in advice.would_decide
    opened = replace(facts, state=BoardState(off=frozenset({"C4"}), replaced=frozenset({"C3"})))
    assert advise(small_board(), opened, *diagnose(small_board(), opened)).tests, "without C4 it is not what was tried"
    seen = replace(facts, acts=(Act(Deed.STILL_DEAD, "", "e1", 0), *acts))
    assert "nobody has put on record" not in advise(small_board(), seen, *diagnose(small_board(), seen)).would_decide


def test_nothing_is_claimed_to_be_wrong_on_a_board_that_works() -> None:
    """Another rail reads as shorted, yet the board was dead before C3 was replaced and works since."""
    new = BoardState(replaced=frozenset({"C3"}))
    readings = (Reading(Quantity.OHMS, "VCC", "GND", 0.4 + LEAD, new, key="e1"),)
    dead = Act(Deed.STILL_DEAD, "", "e0", 0)
    cure = Act(Deed.REPLACED, "C3", "e2", 1)
    claims = {}
    for deed in (Deed.WORKS, Deed.STILL_DEAD):
        acts = (dead, cure, Act(deed, "", "e3", 2, new))
        claims[deed] = diagnose(small_board(), Facts(readings=readings, acts=acts, entries=ENTRY, state=new))[1].claims
    assert not claims[Deed.WORKS]
    assert claims[Deed.STILL_DEAD]


def test_a_reading_that_a_new_part_does_not_change_proves_nothing_of_the_old() -> None:
    """The rail reads as low with a new capacitor, though the old one read bad on the bench and the board works."""
    off, new = BoardState(off=frozenset({"C3"})), BoardState(replaced=frozenset({"C3"}))
    low = Reading(Quantity.OHMS, "V33", "GND", 0.6 + LEAD, key="e1")
    loose = Reading(Quantity.PART_OHMS, "C3.1", "C3.2", 0.6 + LEAD, off, key="e3")
    acts = (
        Act(Deed.STILL_DEAD, "", "e0", 0), Act(Deed.TOOK_OFF, "C3", "e2", 2, off),
        Act(Deed.REPLACED, "C3", "e4", 4, new), Act(Deed.WORKS, "", "e6", 6, new),
    )  # fmt: skip
    proven = []
    for ohms in (5_000.0, 0.6 + LEAD):
        again = Reading(Quantity.OHMS, "V33", "GND", ohms, new, key="e5")
        facts = Facts(readings=(low, loose, again), acts=acts, entries=ENTRY, state=new)
        claims = diagnose(small_board(), facts)[1].claims
        proven.append([claim.part for claim in claims if claim.level is Level.PROVEN])
    assert proven == [["C3"], []]
