"""What each thing that could be done is worth: its outcomes suspect by suspect, and the minutes they save."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ohmwright.circuit import Feed
from ohmwright.diagnosis.belief import Array
from ohmwright.evidence import Roster
from ohmwright.evidence.heating import warmth
from ohmwright.evidence.looking import NOTHING_BAD, SEEN
from ohmwright.facts import Heat, HeatFinding, Quantity, Reading
from ohmwright.faults import Defect, DefectKind, Hypothesis, active_defects
from ohmwright.planning import candidates as can
from ohmwright.planning import costs, work
from ohmwright.planning.candidates import Candidate
from ohmwright.planning.choice import Offer, Repairs, offered
from ohmwright.planning.foresight import Expected, Foresight, by_cell, expect_all, expect_exactly
from ohmwright.planning.scene import Scene, forward_of
from ohmwright.planning.splitting import split_tests
from ohmwright.safety import Permit, Refusal, permit

REFINED = 14
WORTH_HEAT = 0.05
"""Belief in a part below which taking it off is not worth a heat cycle. [1]"""
HIDDEN_SHARE = 0.05
WORTH_LOOSE = 0.1
"""Share of the belief in a part from which a pair of its pins is read once it is off. [1]"""
FEW = 8
"""Steps that what one side of a split rail reads is told apart in. [1]"""
REPLACED, SETTLED = 0.1, 1.0
"""What is left to do about a suspect that was replaced, and one that was taken off. [min]"""


@dataclass(frozen=True, eq=False)
class Weighed:
    """A candidate with what it is worth.

    Parameters
    ----------
    offer : Offer
        As the chooser sees it, the belief in a part to be worked on left open.
    """

    candidate: Candidate
    outcomes: Array
    expected: Expected | None
    offer: Offer
    refusal: Refusal | None = None


def repairs_of(scene: Scene, view: Foresight) -> Repairs:
    """What would settle each suspect, and in how many minutes."""
    names = [frozenset((d.part or d.where[0], d.joint) for d in _due(scene, e)) for e in view.examples]
    return Repairs.of(names, [_minutes(scene, example) for example in view.examples])


def _due(scene: Scene, example: Hypothesis) -> tuple[Defect, ...]:
    """The faults of a suspect that nobody has repaired yet."""
    return tuple(d for d in active_defects(example, scene.state.mended) if not d.harmless)


def _minutes(scene: Scene, example: Hypothesis) -> float:
    """Minutes to settle one suspect by itself."""
    if not example.faults:
        return costs.NOTHING
    total = 0.0
    for defect in _due(scene, example):
        if not defect.part:
            total += costs.CURE + 5.0 if defect.joint else costs.UNMAPPED
        elif defect.joint:
            total += costs.CURE + costs.TRY
        elif defect.part not in scene.state.off:
            part = scene.board.part(defect.part)
            total += costs.removal_minutes(part) + costs.removal_risk(part) + costs.LOOSE
    return max(total, SETTLED)


def weigh_all(scene: Scene, view: Foresight, fix: Repairs) -> list[Weighed]:
    """Everything that could be done on the board as it stands, weighed; refused feeds among it."""
    readings: list[tuple[Candidate, Refusal | None]] = [(c, None) for c in can.probes(scene)]
    readings += [(candidate, _leave(scene, feed)) for feed, candidate in can.feeds(scene)]
    warm: list[tuple[Candidate, Refusal | None]] = []
    for feed in _usable_feeds(scene):
        leave = _leave(scene, feed)
        if feed.volts <= can.LOW_VOLTS or feed == scene.facts.state.feed:
            readings += [(c, leave) for c in can.millivolts(scene, feed)]
        felt = can.heat(scene, feed)
        warm += [] if felt is None else [(felt, leave)]
    rough = _by_readings(view, fix, readings)
    rough += [_by_heat(scene, view, fix, candidate, leave) for candidate, leave in warm]
    rough.sort(key=lambda w: -w.offer.bits_a_minute)
    near = [w for w in rough[:REFINED] if w.candidate.reading is not None] if view.posterior.lines else []
    exact = _by_readings(view, fix, [(w.candidate, w.refusal) for w in near], exact=True)
    refined = exact + [w for w in rough if not any(w is other for other in near)]
    parts = share_by_part(scene, view)
    leading = sorted(parts, key=lambda part: -parts[part])[:8]
    seen = work.look(scene, leading)
    if seen is not None:
        refined.append(_by_look(view, fix, seen))
    worth = {part: share for part, share in parts.items() if share >= WORTH_HEAT}
    refined += [_by_removal(scene, view, fix, c) for c in work.removals(scene, worth, _paths_of(scene, view))]
    refined += _by_splits(view, fix, list(split_tests(scene)))
    mended = share_by_part(scene, view, everything=True, residue=False)
    refined += [_by_trial(scene, view, fix, c) for c in work.fresh_parts(scene, mended)]
    joints, dirty = _curable(scene, view)
    refined += [_by_cure(scene, view, fix, c) for c in work.cures(scene, joints, dirty)]
    return refined


def _usable_feeds(scene: Scene) -> list[Feed]:
    """The present feed, and feeds of the likeliest rails."""
    feeds = [scene.facts.state.feed] if scene.facts.state.feed is not None else []
    mass = can.path_nets(scene.posterior)
    for net in sorted(mass, key=lambda n: -mass[n])[:3]:
        if mass[net] > 0.05:
            feeds += [feed for feed in can.feeds_of(scene, net) if feed not in feeds]
    return feeds


def _leave(scene: Scene, feed: Feed) -> Refusal | None:
    answer = permit(scene.board, scene.facts, feed)
    return None if isinstance(answer, Permit) else answer


def _by_readings(
    view: Foresight, fix: Repairs, wanted: Sequence[tuple[Candidate, Refusal | None]], exact: bool = False
) -> list[Weighed]:
    readings = [candidate.reading for candidate, _ in wanted if candidate.reading is not None]
    expected = expect_exactly(view, readings) if exact else expect_all(view, readings)
    return [
        _worth(view, fix, candidate, seen.outcomes, seen, refusal)
        for (candidate, refusal), seen in zip(wanted, expected, strict=True)
    ]


def _worth(
    view: Foresight,
    fix: Repairs,
    candidate: Candidate,
    outcomes: Array,
    expected: Expected | None = None,
    refusal: Refusal | None = None,
    then: Repairs | None = None,
) -> Weighed:
    """`then` is what is left to do afterwards where the test is itself part of the repair."""
    offer = offered(view.belief, outcomes, candidate.minutes + candidate.risk, fix, then, name=candidate.title)
    return Weighed(candidate, outcomes, expected, offer, refusal)


def _by_heat(scene: Scene, view: Foresight, fix: Repairs, candidate: Candidate, refusal: Refusal | None) -> Weighed:
    """Outcomes: nothing, or one of the parts that may get warm."""
    method = scene.facts.heats[-1].method if scene.facts.heats else "finger"
    heat = Heat(HeatFinding.NOTHING, (), 0.0, scene.state.with_feed(candidate.feed), method)
    roster = view.roster.subset(view.leaders)
    felt = warmth(view.posterior.electrical, heat, roster).known(*_severities(view, roster))
    watts = felt.expected(view.belief.probabilities)[: len(scene.board.parts)]
    order = [k for k in np.argsort(-watts, kind="stable")[:16].tolist() if watts[k] > 0.0]
    names = [scene.board.parts[k].name for k in order]
    findings = [heat, *(replace(heat, finding=HeatFinding.PART, parts=(name,)) for name in names)]
    table = felt.findings(findings)
    table = np.concatenate((table, np.maximum(1.0 - table.sum(axis=1, keepdims=True), 0.02)), axis=1)
    return _worth(view, fix, candidate, by_cell(view, table), None, refusal)


def _severities(view: Foresight, roster: Roster) -> tuple[Array, Array]:
    """How far readings have moved the severities of the leaders' defects, and what is left of the spreads. [1]"""
    posterior = view.posterior
    moved, left = np.zeros(roster.slots.shape), np.ones(roster.slots.shape)
    if not posterior.lines:
        return moved, left
    for k, (h, example) in enumerate(zip(view.leaders.tolist(), view.examples, strict=True)):
        c = int(view.class_of[h])
        for slot, defect in enumerate(example.defects[: roster.slots.shape[1]]):
            number = posterior.electrical.register.number(defect)
            moved[k, slot], left[k, slot] = posterior.weighed.severity(c, number)
    return moved, left


def _by_look(view: Foresight, fix: Repairs, candidate: Candidate) -> Weighed:
    """Outcomes: nothing, or something at one of the parts."""
    sound = sum(s for _, s in SEEN.values())
    rows = []
    for example in view.examples:
        chances = [(1.0 - NOTHING_BAD) if part in example.parts else sound for part in candidate.target]
        none = float(np.prod([1.0 - c for c in chances]))
        scale = (1.0 - none) / max(sum(chances), 1e-9)
        rows.append([none, *(c * scale for c in chances)])
    return _worth(view, fix, candidate, by_cell(view, rows))


def _by_removal(scene: Scene, view: Foresight, fix: Repairs, candidate: Candidate) -> Weighed:
    """Outcomes: rail sound or not, part bad or not. The proof of a strong suspect is wanted whatever it tells."""
    part = candidate.target[0]
    rows = []
    due = [_due(scene, example) for example in view.examples]
    for faults in due:
        mine = [d for d in faults if d.part == part and not d.residue]
        still = [d for d in faults if d.residue or (d.part != part and d.part not in scene.state.off)]
        rails = 0.95 if mine and not still else 0.03
        itself = 0.97 if mine and not any(d.joint for d in mine) else 0.02
        rows.append([rails * itself, rails * (1 - itself), (1 - rails) * itself, (1 - rails) * (1 - itself)])
    own = np.array([bool(faults) and {d.part for d in faults} == {part} for faults in due])
    return _worth(view, fix, candidate, by_cell(view, rows), then=fix.done(own, SETTLED))


def _by_splits(
    view: Foresight, fix: Repairs, wanted: Sequence[tuple[Candidate, tuple[Reading, Reading]]]
) -> list[Weighed]:
    """Outcomes: what both sides read, each in a few steps, as if a suspect fixed both."""
    seen = expect_all(view, [reading for _, both in wanted for reading in both])
    p = view.belief.probabilities
    out = []
    for k, (candidate, _) in enumerate(wanted):
        one, other = (_few(p, side.outcomes) for side in seen[2 * k : 2 * k + 2])
        table = (one[:, :, None] * other[:, None, :]).reshape(len(p), -1)
        out.append(_worth(view, fix, candidate, table))
    return out


def _few(probabilities: Array, outcomes: Array) -> Array:
    """A table of outcomes with neighbours taken together, about as likely each, OL by itself."""
    total = np.cumsum(probabilities @ outcomes[:, :-1])
    step = np.minimum((FEW * total / max(float(total[-1]), 1e-300)).astype(int), FEW - 1)
    return np.array([*(outcomes[:, :-1][:, step == k].sum(axis=1) for k in range(FEW)), outcomes[:, -1]]).T


def _by_cure(scene: Scene, view: Foresight, fix: Repairs, candidate: Candidate) -> Weighed:
    """Outcomes: cured or not."""
    spot = candidate.target[0]
    own = [
        bool(due) and all(d.joint and (d.part == spot or (not d.part and spot in d.where)) for d in due)
        for due in (_due(scene, example) for example in view.examples)
    ]
    table = by_cell(view, [[0.95, 0.05] if cured else [0.01, 0.99] for cured in own])
    return _worth(view, fix, candidate, table, then=fix.done(np.array(own), SETTLED))


def _by_trial(scene: Scene, view: Foresight, fix: Repairs, candidate: Candidate) -> Weighed:
    """A part that came off is replaced and the board tried. It settles the case, whatever the belief says."""
    part = candidate.target[0]
    due = [_due(scene, example) for example in view.examples]
    own = [{d.part for d in faults} == {part} and not any(d.residue for d in faults) for faults in due]
    table = by_cell(view, [[0.96, 0.04] if cured else [0.03, 0.97] for cured in own])
    return _worth(view, fix, candidate, table, then=fix.done(np.array(own), REPLACED))


def share_by_part(
    scene: Scene, view: Foresight, *, everything: bool = False, residue: bool = True
) -> dict[str, float]:
    """Belief in a fault of each part; bad joints and residue count only if everything does, and residue if told. [1]"""
    share: dict[str, float] = {}
    for p, example in zip(view.belief.probabilities.tolist(), view.examples, strict=True):
        counted = (d for d in _due(scene, example) if d.part and (residue or not d.residue))
        for part in {d.part for d in counted if everything or not d.joint}:
            share[part] = share.get(part, 0.0) + p
    return share


def _paths_of(scene: Scene, view: Foresight) -> dict[str, Sequence[work.Path]]:
    """Where each suspected part may be bad, its likeliest pair of pins first; pairs hardly believed in are left out."""
    belief: dict[str, dict[work.Path, float]] = {}
    for p, example in zip(view.belief.probabilities.tolist(), view.examples, strict=True):
        for defect in _due(scene, example):
            if not defect.part or len(defect.where) != 2 or defect.joint:
                continue
            (a, b), (red, black) = defect.nets, defect.where
            path = work.Path(black, red, b, a) if a == scene.board.ground else work.Path(red, black, a, b)
            forward = forward_of(scene.posterior, defect)
            if forward is not None and forward[0] != forward[1]:
                red, black = (red, black) if forward[0] == a else (black, red)
                path = work.Path(red, black, *forward, Quantity.DIODE)
            own = belief.setdefault(defect.part, {})
            own[path] = own.get(path, 0.0) + p
    found: dict[str, Sequence[work.Path]] = {}
    for part, own in belief.items():
        order = sorted(own, key=lambda path: -own[path])
        least = WORTH_LOOSE * sum(own.values())
        found[part] = [path for path in order if path is order[0] or own[path] > least]
    return found


def _curable(scene: Scene, view: Foresight) -> tuple[list[work.Spot], list[work.Spot]]:
    """Joints to reflow and places to clean."""
    joints, dirty = [], []
    ground = view.posterior.board.ground
    for p, example in zip(view.belief.probabilities.tolist(), view.examples, strict=True):
        for defect in _due(scene, example):
            if p < HIDDEN_SHARE or not defect.joint:
                continue
            if defect.kind is DefectKind.PATH:
                a, b = sorted(defect.nets, key=lambda net: net == ground)
                dirty.append(work.Spot(defect.part or defect.where[0], a, b))
            elif defect.pin:
                # a chip's junctions conduct from ground
                black, red = sorted(defect.nets, key=lambda net: net == ground)
                joints.append(work.Spot(defect.part, red, black, Quantity.DIODE))
            else:
                joints.append(work.Spot(defect.part, *defect.nets))
    return joints, dirty
