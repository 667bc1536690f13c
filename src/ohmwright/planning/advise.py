"""The next test: gates first, then whatever brings the proof nearest for the least time and risk."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ohmwright.circuit import Board, Feed
from ohmwright.diagnosis import Diagnosis, Level, Posterior
from ohmwright.diagnosis.belief import Array
from ohmwright.evidence.heating import warmth
from ohmwright.evidence.looking import NOTHING_BAD, SEEN
from ohmwright.facts import Deed, Facts, Heat, HeatFinding, Quantity, Reading
from ohmwright.faults import DefectKind
from ohmwright.planning import candidates as can
from ohmwright.planning import costs, work
from ohmwright.planning.advice import Advice, Outcome, Step, Test, TestKind
from ohmwright.planning.candidates import Candidate
from ohmwright.planning.cautions import cautions_for
from ohmwright.planning.choice import FUTILE, cost_after, minutes_to_go
from ohmwright.planning.doubts import rails_to_compare, retake
from ohmwright.planning.foresight import Expected, Foresight, by_cell, expect_all, expect_exactly, foresee
from ohmwright.planning.scene import Scene, at, point, scene_of
from ohmwright.planning.wording import as_test, gate_test
from ohmwright.safety import Permit, Refusal, checked, coils_to_check, permit

REFINED = 14
WORTH_HEAT = 0.05
"""Belief in a part below which taking it off is not worth a heat cycle. [1]"""
SHOWN = 6
WORTH_WORK = 0.15
"""Belief in a part below which it is not taken off for want of a better test. [1]"""
HIDDEN_SHARE = 0.05


@dataclass(frozen=True, eq=False)
class Weighed:
    """A candidate with what it is worth."""

    candidate: Candidate
    outcomes: Array
    expected: Expected | None
    bits: float
    total: float
    refusal: Refusal | None = None


def advise(board: Board, facts: Facts, belief: Posterior, diagnosis: Diagnosis) -> Advice:
    """What to do next and why.

    Parameters
    ----------
    board : Board
    facts : Facts
    belief : Posterior
        From `ohmwright.diagnosis.diagnose`.
    diagnosis : Diagnosis

    Returns
    -------
    Advice
        Tests best first; `stop` says when going on is not worth it.
    """
    scene = scene_of(belief)
    stop = _proven(belief, diagnosis)
    if stop:
        repair = _repair(scene, diagnosis)
        return Advice((repair,)) if repair is not None else Advice((), stop)
    if _sound_from_the_start(facts):
        return Advice((), "the board works, and nothing was repaired", "say what it does wrong, and when it does it")
    gate = work.entry_gate(scene)
    if gate is not None:
        return Advice((gate_test(scene, gate, "nothing may touch the board before this is known"),))
    view = foresee(belief)
    fix = np.array([_fix_minutes(scene, example) for example in view.examples])
    now = float(minutes_to_go(view.belief.probabilities[:, None], fix)[0])
    weighed = _weigh_all(scene, view, fix)
    skipped = set(facts.skipped)
    open_to = [w for w in weighed if w.candidate.title not in skipped]
    permitted = [w for w in open_to if w.refusal is None and w.bits > FUTILE]
    refused = tuple(
        dict.fromkeys(f"{w.candidate.title}: {w.refusal.reason}" for w in open_to if w.refusal and w.bits > 0.3)
    )
    permitted.sort(key=lambda w: (w.total, w.candidate.title))
    permitted = _work_first(permitted, now, _share_by_part(view))
    gates = _coil_gates(scene, open_to, permitted)
    tests = [
        as_test(scene, view, w.candidate, w.expected, w.outcomes, w.bits, now - w.total) for w in permitted[:SHOWN]
    ]
    tests = [t for t in rails_to_compare(scene) if t.title not in skipped] + tests
    doubt = retake(scene)
    if doubt is not None and doubt.title not in skipped:
        tests.insert(0, doubt)
    if not tests and not gates:
        return Advice((), *_undecided(view, diagnosis), refused[:5])
    return Advice((*gates, *tests), refused=refused[:5])


def _sound_from_the_start(facts: Facts) -> bool:
    """Whether the board was tried and works, with nothing done to it."""
    deeds = [act.deed for act in facts.acts]
    return Deed.WORKS in deeds and not {Deed.STILL_DEAD, Deed.REPLACED, Deed.CLEANED, Deed.REFLOWED} & set(deeds)


def _work_first(ranked: list[Weighed], now: float, share: dict[str, float]) -> list[Weighed]:
    """Work on a part goes first once no reading is worth its own minutes: it has to be done in any case."""
    if not ranked or ranked[0].total < now:
        return ranked
    work_on = [
        w
        for w in ranked
        if w.candidate.kind is TestKind.TAKE_OFF and share.get(w.candidate.target[0], 0.0) > WORTH_WORK
    ]
    return work_on[:1] + [w for w in ranked if w is not work_on[0]] if work_on else ranked


def _proven(belief: Posterior, diagnosis: Diagnosis) -> str:
    proven = [claim for claim in diagnosis.claims if claim.level is Level.PROVEN]
    left = float(belief.probabilities[belief.roster.left(belief.facts.state)].sum())
    return "proven" if proven and (left < 0.1 or belief.facts.last_trial is Deed.WORKS) else ""


def _repair(scene: Scene, diagnosis: Diagnosis) -> Test | None:
    """What is left once a part is proven: fit a new one and try the board; None when it was tried since."""
    acts = scene.facts.acts
    cures = [k for k, a in enumerate(acts) if a.deed in (Deed.REPLACED, Deed.CLEANED, Deed.REFLOWED)]
    tried = [k for k, a in enumerate(acts) if a.deed in (Deed.WORKS, Deed.STILL_DEAD)]
    if tried and cures and tried[-1] > cures[-1]:
        return None
    cured = scene.state.replaced | scene.state.cleaned
    parts = [c.part for c in diagnosis.claims if c.level is Level.PROVEN and c.part in scene.board.part_by_name]
    waiting = [part for part in parts if part not in cured]
    if not waiting:
        return None
    candidate = work.fit_new(scene, waiting[0])
    why = f"{waiting[0]} is proven bad; only the board itself can say that nothing else is wrong."
    cautions = cautions_for(scene.board, candidate.kind, candidate.steps)
    return Test(
        candidate.kind,
        candidate.title,
        why,
        candidate.steps,
        candidate.minutes,
        candidate.risk,
        0.0,
        0.0,
        (),
        (Outcome("the board works", 0.9, "done"), Outcome("still dead", 0.1, "a second fault is looked for")),
        cautions,
    )


def _fix_minutes(scene: Scene, example) -> float:  # type: ignore[no-untyped-def]  # a Hypothesis
    """Minutes to settle one suspect by itself."""
    if not example.faults:
        return costs.NOTHING
    total = 0.0
    for defect in example.faults:
        if not defect.part:
            total += costs.CURE + 5.0 if defect.joint else costs.UNMAPPED
        elif defect.joint:
            total += costs.CURE + costs.TRY
        elif defect.part not in scene.state.off:
            part = scene.board.part(defect.part)
            total += costs.removal_minutes(part) + costs.removal_risk(part) + costs.LOOSE
    return max(total, 1.0)


def _weigh_all(scene: Scene, view: Foresight, fix: Array) -> list[Weighed]:
    readings: list[tuple[Candidate, Refusal | None]] = [(c, None) for c in can.probes(scene)]
    readings += [(candidate, _leave(scene, feed)) for feed, candidate in can.feeds(scene)]
    warm: list[tuple[Candidate, Refusal | None]] = []
    for feed in _usable_feeds(scene):
        leave = _leave(scene, feed)
        readings += [(c, leave) for c in can.millivolts(scene, feed)]
        felt = can.heat(scene, feed)
        warm += [] if felt is None else [(felt, leave)]
    rough = _by_readings(view, fix, readings)
    rough += [_by_heat(scene, view, fix, candidate, leave) for candidate, leave in warm]
    rough.sort(key=lambda w: w.total)
    near = [w for w in rough[:REFINED] if w.candidate.reading is not None] if view.posterior.lines else []
    exact = _by_readings(view, fix, [(w.candidate, w.refusal) for w in near], exact=True)
    refined = exact + [w for w in rough if not any(w is other for other in near)]
    parts = _share_by_part(view)
    leading = sorted(parts, key=lambda part: -parts[part])[:8]
    seen = work.look(scene, leading)
    if seen is not None:
        refined.append(_by_look(view, fix, seen))
    worth = {part: share for part, share in parts.items() if share >= WORTH_HEAT}
    refined += [_by_removal(view, fix, c) for c in work.removals(scene, worth, _path_of(scene, view))]
    everywhere = _share_by_part(view, everything=True)
    refined += [_by_trial(view, fix, c) for c in work.fresh_parts(scene, everywhere)]
    joints, dirty = _curable(view)
    refined += [_by_cure(view, fix, c) for c in work.cures(scene, joints, dirty)]
    return refined


def _usable_feeds(scene: Scene) -> list[Feed]:
    """The present feed, and low feeds of the likeliest rails."""
    feeds = [scene.facts.state.feed] if scene.facts.state.feed is not None else []
    mass = can.path_nets(scene.posterior)
    for net in sorted(mass, key=lambda n: -mass[n])[:3]:
        if mass[net] > 0.05:
            feed = Feed(net, scene.board.ground, can.LOW_VOLTS, can.LOW_AMPS)
            if feed not in feeds:
                feeds.append(feed)
    return feeds


def _leave(scene: Scene, feed: Feed) -> Refusal | None:
    answer = permit(scene.board, scene.facts, feed)
    return None if isinstance(answer, Permit) else answer


def _by_readings(
    view: Foresight, fix: Array, wanted: Sequence[tuple[Candidate, Refusal | None]], exact: bool = False
) -> list[Weighed]:
    readings = [candidate.reading for candidate, _ in wanted if candidate.reading is not None]
    expected = expect_exactly(view, readings) if exact else expect_all(view, readings)
    return [
        _worth(view, fix, candidate, seen.outcomes, seen, refusal)
        for (candidate, refusal), seen in zip(wanted, expected, strict=True)
    ]


def _worth(
    view: Foresight,
    fix: Array,
    candidate: Candidate,
    outcomes: Array,
    expected: Expected | None = None,
    refusal: Refusal | None = None,
) -> Weighed:
    bits = view.belief.expected_information(outcomes)
    total = candidate.minutes + candidate.risk + cost_after(view.belief, outcomes, fix)
    return Weighed(candidate, outcomes, expected, bits, total, refusal)


def _by_heat(scene: Scene, view: Foresight, fix: Array, candidate: Candidate, refusal: Refusal | None) -> Weighed:
    """Outcomes: nothing, or one of the parts that may get warm."""
    heat = Heat(HeatFinding.NOTHING, (), 0.0, scene.state.with_feed(candidate.feed))
    felt = warmth(view.posterior.electrical, heat, view.roster.subset(view.leaders))
    watts = felt.expected(view.belief.probabilities)[: len(scene.board.parts)]
    order = [k for k in np.argsort(-watts, kind="stable")[:16].tolist() if watts[k] > 0.0]
    names = [scene.board.parts[k].name for k in order]
    findings = [heat, *(replace(heat, finding=HeatFinding.PART, parts=(name,)) for name in names)]
    table = felt.findings(findings)
    table = np.concatenate((table, np.maximum(1.0 - table.sum(axis=1, keepdims=True), 0.02)), axis=1)
    return _worth(view, fix, candidate, by_cell(view, table), None, refusal)


def _by_look(view: Foresight, fix: Array, candidate: Candidate) -> Weighed:
    """Outcomes: nothing, or something at one of the parts."""
    sound = sum(s for _, s in SEEN.values())
    rows = []
    for example in view.examples:
        chances = [(1.0 - NOTHING_BAD) if part in example.parts else sound for part in candidate.target]
        none = float(np.prod([1.0 - c for c in chances]))
        scale = (1.0 - none) / max(sum(chances), 1e-9)
        rows.append([none, *(c * scale for c in chances)])
    return _worth(view, fix, candidate, by_cell(view, rows))


def _by_removal(view: Foresight, fix: Array, candidate: Candidate) -> Weighed:
    """Outcomes: rail sound or not, part bad or not. The proof of a strong suspect is wanted whatever it tells."""
    part = candidate.target[0]
    rows = []
    for example in view.examples:
        bad = any(d.part == part for d in example.defects)
        alone = len(example.defects) == 1
        rails = 0.95 if bad and alone else 0.03
        itself = 0.97 if bad and not any(d.joint and d.part == part for d in example.defects) else 0.02
        rows.append([rails * itself, rails * (1 - itself), (1 - rails) * itself, (1 - rails) * (1 - itself)])
    weighed = _worth(view, fix, candidate, by_cell(view, rows))
    share = _share_by_part(view, everything=True).get(part, 0.0)
    return replace(weighed, bits=max(weighed.bits, 2.0 * FUTILE)) if share > 0.5 else weighed


def _by_cure(view: Foresight, fix: Array, candidate: Candidate) -> Weighed:
    """Outcomes: cured or not."""
    spot = candidate.target[0]
    rows = []
    for example in view.examples:
        cured = len(example.defects) == 1 and any(
            d.joint and (d.part == spot or (not d.part and spot in d.where)) for d in example.defects
        )
        rows.append([0.95, 0.05] if cured else [0.01, 0.99])
    return _worth(view, fix, candidate, by_cell(view, rows))


def _by_trial(view: Foresight, fix: Array, candidate: Candidate) -> Weighed:
    """A part that came off is replaced and the board tried. It settles the case, whatever the belief says."""
    part = candidate.target[0]
    rows = [[0.96, 0.04] if e.parts and set(e.parts) <= {part} else [0.03, 0.97] for e in view.examples]
    weighed = _worth(view, fix, candidate, by_cell(view, rows))
    return replace(weighed, bits=max(weighed.bits, 2.0 * FUTILE))


def _share_by_part(view: Foresight, *, everything: bool = False) -> dict[str, float]:
    share: dict[str, float] = {}
    for p, example in zip(view.belief.probabilities.tolist(), view.examples, strict=True):
        for part in {d.part for d in example.defects if d.part and (not d.harmless if everything else not d.joint)}:
            share[part] = share.get(part, 0.0) + p
    return share


def _path_of(scene: Scene, view: Foresight) -> dict[str, tuple[str, str, str, str]]:
    found: dict[str, tuple[str, str, str, str]] = {}
    order = np.argsort(-view.belief.probabilities, kind="stable")
    for k in order.tolist():
        for defect in view.examples[k].defects:
            if defect.part and defect.part not in found and len(defect.where) == 2 and not defect.joint:
                a, b = defect.nets
                pins = defect.where
                if a == scene.board.ground:
                    a, b, pins = b, a, (pins[1], pins[0])
                found[defect.part] = (pins[0], pins[1], a, b)
    return found


def _curable(view: Foresight) -> tuple[list[tuple[str, str, str]], list[tuple[str, str, str]]]:
    """Joints to reflow and places to clean, each as what to treat and the two nets to read."""
    joints, dirty = [], []
    ground = view.posterior.board.ground
    for p, example in zip(view.belief.probabilities.tolist(), view.examples, strict=True):
        for defect in example.defects:
            if p < HIDDEN_SHARE or not defect.joint:
                continue
            if defect.kind is DefectKind.PATH:
                a, b = sorted(defect.nets, key=lambda net: net == ground)
                dirty.append((defect.part or defect.where[0], a, b))
            else:
                joints.append((defect.part, *defect.nets))
    return joints, dirty


def _coil_gates(scene: Scene, weighed: Iterable[Weighed], permitted: list[Weighed]) -> list[Test]:
    """Probes from the input to each coil, if a feed that needs them is worth more than all that is permitted."""
    best = permitted[0].total if permitted else np.inf
    wishes = [
        w for w in weighed if w.refusal is not None and w.refusal.gate == "coils" and w.candidate.feed is not None
    ]
    for wish in sorted(wishes, key=lambda w: w.total):
        feed = wish.candidate.feed
        assert feed is not None
        missing = [
            c for c in coils_to_check(scene.board, feed.plus) if checked(scene.board, scene.facts, feed.plus, c) is None
        ]
        if wish.bits <= FUTILE or wish.total + costs.PAIR * len(missing) >= best or not missing:
            continue
        return [_coil_gate(scene, feed, coil) for coil in missing[:1]]
    return []


def _coil_gate(scene: Scene, feed: Feed, coil: str) -> Test:
    end = scene.board.part(coil).nets[0]
    reading = Reading(Quantity.OHMS, feed.plus, end, 0.0, scene.state, scene.meter)
    steps = (*scene.quiet(), Step("read", Quantity.OHMS.value, point(scene, feed.plus), point(scene, end)))
    title = f"Before {feed.volts:g} V goes in: ohms from {at(scene, feed.plus)} to the coil {coil}"
    candidate = Candidate(TestKind.GATE, title, steps, costs.PAIR, 0.0, reading)
    return gate_test(
        scene, candidate, "a switch that is through would pass the input's volts to everything behind the coil"
    )


def _undecided(view: Foresight, diagnosis: Diagnosis) -> tuple[str, str]:
    best = diagnosis.suspects[0] if diagnosis.suspects else None
    if best is not None and best.mode == "none" and best.probability > 0.8:
        return (
            "nothing wrong that these readings could show",
            "run the board and watch what each rail does, or map parts that are not on the map yet",
        )
    if best is not None and best.mode == "unmapped" and best.probability > 0.5:
        return (
            f"{best.words}; no part on the map is left to test there",
            "look along that net for parts, bridges and dirt that are not on the map, add them, and go on",
        )
    del view
    return (
        "not decidable with these tests",
        "a good board of the same kind to compare with, more of the board on the map, "
        "or a meter that shows smaller steps",
    )
