"""A candidate with its worth, put into the words and figures a person acts on."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from ohmwright.diagnosis.belief import Array
from ohmwright.diagnosis.diagnose import words_of
from ohmwright.diagnosis.explain import shown
from ohmwright.faults import DefectKind, Hypothesis
from ohmwright.planning.advice import Hump, Outcome, Test, TestKind
from ohmwright.planning.candidates import Candidate
from ohmwright.planning.cautions import cautions_for
from ohmwright.planning.foresight import Expected, Foresight
from ohmwright.planning.scene import Scene

HUMPS = 4
__all__ = ["as_test", "gate_test"]


def as_test(
    scene: Scene,
    view: Foresight,
    candidate: Candidate,
    expected: Expected | None,
    outcomes: Array,
    bits: float,
    saves: float,
) -> Test:
    """The test as it is shown."""
    return Test(
        candidate.kind,
        candidate.title,
        _why(scene, view, candidate, outcomes, expected),
        candidate.steps,
        round(candidate.minutes, 2),
        round(candidate.risk, 2),
        bits,
        saves,
        _humps(scene, view, expected) if expected is not None else (),
        _outcomes(scene, view, candidate, outcomes, expected),
        cautions_for(scene.board, candidate.kind, candidate.steps),
    )


def gate_test(scene: Scene, candidate: Candidate, why: str) -> Test:
    """A check that safety asks for."""
    return Test(
        candidate.kind,
        candidate.title,
        f"Safety first: {why}.",
        candidate.steps,
        candidate.minutes,
        0.0,
        0.0,
        0.0,
        cautions=cautions_for(scene.board, TestKind.GATE, candidate.steps),
        gate=True,
    )


def name_of(scene: Scene, view: Foresight, cell: int) -> str:
    """A suspect in a few words."""
    example = view.examples[cell]
    if not example.faults:
        return "nothing wrong"
    return " and ".join(words_of(scene.board, d) for d in example.defects)


def _humps(scene: Scene, view: Foresight, expected: Expected) -> tuple[Hump, ...]:
    p = view.belief.probabilities
    healthy = next((k for k, e in enumerate(view.examples) if not e.defects), None)
    order = [k for k in np.argsort(-p, kind="stable").tolist() if k != healthy][:HUMPS]
    if healthy is not None:
        order = [healthy, *order]
    out = []
    for k in order:
        low, high = expected.mean[k] - 1.64 * expected.sd[k], expected.mean[k] + 1.64 * expected.sd[k]
        limit = expected.line.probe.overload
        values = [float(expected.line.probe.unscaled(min(v, limit, 45.0))) for v in (low, high)]
        key = "healthy" if k == healthy else str(view.belief.cells[k])
        words = "if sound" if k == healthy else name_of(scene, view, k)
        out.append(Hump(key, words, float(p[k]), values[0], values[1], float(expected.overload[k])))
    return tuple(out)


def _outcomes(
    scene: Scene, view: Foresight, candidate: Candidate, outcomes: Array, expected: Expected | None
) -> tuple[Outcome, ...]:
    """The two to four ways the test may go, each with what it would leave."""
    p = view.belief.probabilities
    if candidate.kind is TestKind.SPLIT:
        return _of_split(scene, view, candidate)
    if expected is not None:
        return _split(scene, view, outcomes, expected)
    labels = {
        TestKind.TAKE_OFF: (
            "rail sound and the part bad",
            "rail sound, part sound",
            "rail still bad, part bad too",
            "rail still bad, part sound",
        ),
        TestKind.LOOK: ("nothing to see", *(f"something at {part}" for part in candidate.target)),
        TestKind.REPLACE: ("cured", "as before"),
    }.get(candidate.kind, ("nothing gets warm",))
    both = p[:, None] * outcomes
    out = []
    for k, label in enumerate(labels[: outcomes.shape[1]]):
        total = float(both[:, k].sum())
        if total > 0.01:
            out.append(Outcome(label, total, _leaves(scene, view, both[:, k])))
    if candidate.kind is TestKind.HEAT:
        rest = both[:, 1:].sum(axis=1)
        out.append(Outcome("one part gets warm", float(rest.sum()), _leaves(scene, view, rest)))
    return tuple(sorted(out, key=lambda o: -o.probability)[:4])


def _of_split(scene: Scene, view: Foresight, candidate: Candidate) -> tuple[Outcome, ...]:
    """Which side stays low, or neither changes."""
    p = view.belief.probabilities
    on = [_lies_on(view, candidate, side) for side in (0, 1)]
    names = [_end(scene, candidate, side) for side in (0, 1)]
    cases = (
        (f"{names[0]} stays as it is, {names[1]} comes up", p * on[0]),
        (f"{names[1]} stays as it is, {names[0]} comes up", p * on[1]),
        ("neither side tells anything new", p * ~(on[0] | on[1])),
    )
    told = [Outcome(words, float(w.sum()), _leaves(scene, view, w)) for words, w in cases if w.sum() > 0.01]
    return tuple(sorted(told, key=lambda outcome: -outcome.probability))


def _lies_on(view: Foresight, candidate: Candidate, side: int) -> NDArray[np.bool_]:
    """Which suspects are a path to ground on one side of what is taken off, shape (n_cells,)."""
    ground, here = view.posterior.board.ground, candidate.sides[side]

    def lies(example: Hypothesis) -> bool:
        return any(d.kind is DefectKind.PATH and ground in d.nets and here & set(d.nets) for d in example.faults)

    return np.array([lies(example) for example in view.examples], dtype=bool)


def _end(scene: Scene, candidate: Candidate, side: int) -> str:
    """The net of the first part taken off that lies on one side."""
    return next(net for net in scene.board.part(candidate.target[0]).nets if net in candidate.sides[side])


def _split(scene: Scene, view: Foresight, outcomes: Array, expected: Expected) -> tuple[Outcome, ...]:
    """Low, middle and high readings, and OL, divided where the total is least likely."""
    p = view.belief.probabilities
    both = p[:, None] * outcomes
    total = both[:, :-1].sum(axis=0)
    cuts = _gaps(total)
    probe = expected.line.probe
    out = []
    for start, end in itertools.pairwise(cuts):
        weight = both[:, start:end].sum(axis=1)
        if weight.sum() < 0.01:
            continue
        cumulative = np.cumsum(total[start:end]) / max(float(total[start:end].sum()), 1e-12)
        low = start + int(np.searchsorted(cumulative, 0.05))
        high = start + int(np.searchsorted(cumulative, 0.95))
        values = [float(probe.unscaled(expected.edges[min(k, len(expected.edges) - 1)])) for k in (low, high + 1)]
        words = f"{shown(probe.quantity, values[0])} to {shown(probe.quantity, values[1])}"
        out.append(Outcome(words, float(weight.sum()), _leaves(scene, view, weight)))
    over = both[:, -1]
    if over.sum() > 0.01:
        out.append(Outcome("OL", float(over.sum()), _leaves(scene, view, over)))
    return tuple(sorted(out, key=lambda o: -o.probability))


def _gaps(total: Array) -> list[int]:
    """Ends of the humps of a histogram: cuts in the middle of its two widest near-empty stretches."""
    thin = total < 0.04 * float(total.max())
    runs: list[tuple[int, int]] = []
    start = None
    for k, empty in enumerate([*thin.tolist(), False]):
        if empty and start is None:
            start = k
        elif not empty and start is not None:
            if start > 0 and k < len(total):
                runs.append((k - start, (start + k) // 2))
            start = None
    inner = sorted(middle for _, middle in sorted(runs, reverse=True)[:2])
    return [0, *inner, len(total)]


def _leaves(scene: Scene, view: Foresight, weight: Array) -> str:
    share = weight / max(float(weight.sum()), 1e-300)
    order = np.argsort(-share, kind="stable")
    first = order[0]
    leading = f"{name_of(scene, view, int(first))} {100 * share[first]:.0f} %"
    if share[first] > 0.8 or len(order) < 2:
        return leading
    second = order[1]
    return f"{leading}, then {name_of(scene, view, int(second))} {100 * share[second]:.0f} %"


def _why(scene: Scene, view: Foresight, candidate: Candidate, outcomes: Array, expected: Expected | None) -> str:
    p = view.belief.probabilities
    first = int(np.argmax(p))
    name = name_of(scene, view, first)
    if candidate.kind is TestKind.TAKE_OFF:
        mine = sum(q for q, e in zip(p.tolist(), view.examples, strict=True) if candidate.target[0] in e.parts)
        part = candidate.target[0]
        return f"{part} is suspect with {100 * mine:.0f} %; its place and the part by itself make the proof."
    if candidate.kind is TestKind.SPLIT:
        here, there = (100 * float((p * _lies_on(view, candidate, side)).sum()) for side in (0, 1))
        ends = [_end(scene, candidate, side) for side in (0, 1)]
        return f"{here:.0f} % lie on the side of {ends[0]}, {there:.0f} % on that of {ends[1]}; joined they read alike."
    if candidate.kind is TestKind.MILLIVOLTS:
        return f"Millivolts across {candidate.target[0]} show which way the current fed flows, with nothing lifted."
    if candidate.kind is TestKind.HEAT:
        return "What the fed current warms is where it goes."
    if candidate.kind is TestKind.LOOK:
        return "It costs little, and a crack or a burn would move its part up; seeing nothing settles nothing."
    if candidate.cure == "replace":
        return "Only the board itself says whether the new part cures it."
    if candidate.kind is TestKind.REPLACE:
        return "It is mild, it may cure, and a cure that stays is a sign of its own."
    if expected is None:
        return f"It weighs {name} against the rest."
    best = _most_apart(view, outcomes, first)
    return f"It tells {name} from {name_of(scene, view, best)}."


def _most_apart(view: Foresight, outcomes: Array, first: int) -> int:
    p = view.belief.probabilities
    overlap = np.minimum(outcomes, outcomes[first]).sum(axis=1)
    return int(np.argmax(p * (1.0 - overlap)))
