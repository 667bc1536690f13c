"""Splitting a rail: which series part to take off so that what is wrong shows on one side of it.

Cold readings on both sides of a coil or a ferrite of milliohms are alike, so that nothing tells suspects there apart
until the copper is opened. A part splits a rail only where no other part of little resistance joins its two sides;
parts that lie side by side come off together.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from ohmwright.circuit import Board
from ohmwright.facts import Quantity, Reading
from ohmwright.planning import costs
from ohmwright.planning.advice import Step, TestKind
from ohmwright.planning.candidates import Candidate, path_nets
from ohmwright.planning.scene import SERIES, Scene, at, point, same_circuit

PASSES = SERIES[:5]
"""Kinds of little resistance."""
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
        a, b = sorted(pair)
        here = _side(a, joined, pair)
        if b in here:
            continue
        there = _side(b, joined, pair)
        shares = [sum(mass.get(net, 0.0) for net in side) for side in (here, there)]
        if shares[0] * shares[1] < SPLIT_FROM:
            continue
        one = Split(tuple(parts), (a, b), (here, there), (shares[0], shares[1]))
        if shares[1] > shares[0]:
            one = Split(tuple(parts), (b, a), (there, here), (shares[1], shares[0]))
        found.append(one)
    return sorted(found, key=lambda s: -s.shares[0] * s.shares[1] / _minutes(board, s))[:MOST_SPLITS]


def _joints(board: Board, off: frozenset[str]) -> dict[frozenset[str], list[str]]:
    """Parts of little resistance by the pair of nets they join, ground left out."""
    joined: dict[frozenset[str], list[str]] = {}
    for part in board.parts:
        nets = frozenset(part.nets)
        if part.kind in PASSES and part.name not in off and len(nets) == 2 and board.ground not in nets:
            joined.setdefault(nets, []).append(part.name)
    return joined


def _side(start: str, joined: dict[frozenset[str], list[str]], without: frozenset[str]) -> frozenset[str]:
    """Nets still joined to one net when a pair is opened."""
    found, queue = {start}, [start]
    while queue:
        here = queue.pop()
        for pair in joined:
            if pair != without and here in pair:
                for there in pair - found:
                    found.add(there)
                    queue.append(there)
    return frozenset(found)


def _minutes(board: Board, split: Split) -> float:
    """Taking the parts off, both readings, and putting them back. [min]"""
    work = sum(costs.removal_minutes(board.part(part)) for part in split.parts)
    return work + 2.0 * costs.OHMS + costs.REFIT * len(split.parts)


def split_tests(scene: Scene) -> Iterator[tuple[Candidate, tuple[Reading, Reading]]]:
    """Rails to open, with the readings of both sides that tell."""
    board = scene.board
    for split in splits(scene):
        state = replace(scene.state, off=scene.state.off | set(split.parts))
        ends = tuple(_left_on(scene, net, split.parts) for net in split.nets)
        sides = [Reading(Quantity.OHMS, end, board.ground, 0.0, state, scene.meter) for end in ends]
        before = [step for net in split.nets for step in _unread(scene, net)]
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


def _left_on(scene: Scene, net: str, parts: tuple[str, ...]) -> str:
    """Where to probe a net once some of its parts are off: a pad of what stays, else the bare pad of what came off."""
    pins = [(part, pin) for part, pin in scene.board.pins_on[net] if part.name not in scene.state.off]
    stays = [(part, pin) for part, pin in pins if part.name not in parts]
    order = sorted(stays, key=lambda one: (one[0].kind not in ("capacitor", "polymer"), len(one[0].pins)))
    part, pin = (order or pins)[0]
    return f"{part.name}.{pin.number}"


def _unread(scene: Scene, net: str) -> tuple[Step, ...]:
    """The reading to compare with, where none is on record with the board as it stands."""
    board = scene.board
    pair = {net, board.ground}
    for reading in scene.facts.readings:
        ends = {board.net_at(reading.red), board.net_at(reading.black)}
        if reading.quantity is Quantity.OHMS and ends == pair and same_circuit(reading.state, scene.state):
            return ()
    return (Step("read", Quantity.OHMS.value, point(scene, net), board.ground),)
