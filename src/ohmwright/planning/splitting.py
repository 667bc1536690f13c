"""Splitting a rail: which series part to take off so that what is wrong shows on one side of it.

Cold readings on both sides of a coil or a ferrite of milliohms are alike, so that nothing tells suspects there apart
until the copper is opened. A part splits a rail only where no other part of little resistance joins its two sides;
parts that lie side by side come off together.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from ohmwright.circuit import Board
from ohmwright.devices import METAL, one_at_dc
from ohmwright.facts import Quantity, Reading
from ohmwright.planning import costs
from ohmwright.planning.advice import Step, TestKind
from ohmwright.planning.candidates import Candidate, path_nets
from ohmwright.planning.scene import Scene, at, point
from ohmwright.planning.work import paired_reading

SPLIT_FROM = 0.04
"""Product of the beliefs on both sides from which opening a rail is weighed. [1]"""
MOST_SPLITS = 2
MOST_TOGETHER = 3
"""Splits weighed, and parts side by side that come off for one. [1]"""


@dataclass(frozen=True, slots=True)
class Split:
    """Parts that come off and the nets they join, the side with more belief first.

    Parameters
    ----------
    shares : (float, float)
        Belief in a path to ground on each side. [1]
    """

    parts: tuple[str, ...]
    nets: tuple[str, str]
    sides: tuple[frozenset[str], frozenset[str]]
    shares: tuple[float, float]


def splits(scene: Scene) -> list[Split]:
    """Where rails come apart, what tells most for its minutes first."""
    board, off = scene.board, scene.state.off
    joined = _joints(board, off)
    mass = path_nets(scene.posterior)
    found = []
    for pair, parts in sorted(joined.items(), key=lambda item: item[1]):
        if len(parts) > MOST_TOGETHER:
            continue
        apart = one_at_dc(board, off.union(parts))
        share = {net: sum(mass.get(other, 0.0) for other in apart[net]) for net in pair}
        a, b = sorted(pair, key=lambda net: (-share[net], net))
        if b not in apart[a] and share[a] * share[b] >= SPLIT_FROM:
            found.append(Split(tuple(parts), (a, b), (apart[a], apart[b]), (share[a], share[b])))
    return sorted(found, key=lambda s: -s.shares[0] * s.shares[1] / _minutes(board, s))[:MOST_SPLITS]


def _joints(board: Board, off: frozenset[str]) -> dict[frozenset[str], list[str]]:
    """Parts of little resistance by the pair of nets they join, ground left out."""
    joined: dict[frozenset[str], list[str]] = {}
    for part in board.parts:
        nets = frozenset(part.nets)
        if part.kind in METAL and part.name not in off and len(nets) == 2 and board.ground not in nets:
            joined.setdefault(nets, []).append(part.name)
    return joined


def _minutes(board: Board, split: Split) -> float:
    """Taking the parts off, both readings, and putting them back. [min]"""
    work = sum(costs.removal_minutes(board.part(part)) for part in split.parts)
    return work + 2.0 * costs.OHMS + costs.REFIT * len(split.parts)


def split_tests(scene: Scene) -> Iterator[tuple[Candidate, tuple[Reading, Reading]]]:
    """Rails to open, with the readings of both sides that tell."""
    board = scene.board
    for split in splits(scene):
        state = replace(scene.state, off=scene.state.off | set(split.parts))
        ends = tuple(point(scene, net, split.parts) for net in split.nets)
        sides = [Reading(Quantity.OHMS, end, board.ground, 0.0, state, scene.meter) for end in ends]
        before = [step for net in split.nets for step in paired_reading(scene, net, board.ground)[0]]
        read = tuple(Step("read", Quantity.OHMS.value, end, board.ground) for end in ends)
        steps = (*scene.quiet(), *before, *(Step("take off", parts=(part,)) for part in split.parts), *read)
        names = " and ".join(split.parts)
        title = f"Take {names} off to split {at(scene, split.nets[0])} from {at(scene, split.nets[1])}; read both sides"
        risk = sum(costs.removal_risk(board.part(part)) for part in split.parts)
        minutes = _minutes(board, split) + costs.OHMS * len(before)
        yield (
            Candidate(TestKind.SPLIT, title, steps, minutes, risk, None, split.parts, None, "", split.sides),
            (sides[0], sides[1]),
        )
