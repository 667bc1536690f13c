"""What a finger or a camera makes of watts: a rough model, estimates without a source.

The hottest part is found if it is hot enough, and a neighbour is taken for it sometimes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import Board, Feed
from ohmwright.evidence.joint import Array
from ohmwright.evidence.roster import Index
from ohmwright.facts import Heat, HeatFinding

FEELS = {"finger": 0.25, "camera": 0.04, "alcohol film": 0.12}
"""Watts in one small part that each method finds half the time; estimates. [W]"""
DRAW_SPREAD = 1.3
"""Spread of the natural logarithm of what chips that are fed and do nothing draw. [1] estimate"""
THREE = ((-math.sqrt(3.0), 1.0 / 6.0), (0.0, 2.0 / 3.0), (math.sqrt(3.0), 1.0 / 6.0))
"""Three points of Gauss and Hermite, in spreads, and their weights: how hungry the chips of a board are, and how many
ohms a fault has. M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, table 25.10, from memory"""
HELD = 0.5
"""Share of the set volts over a fault from which the supply is taken to hold its volts, below it its limit. [1]"""
MISTAKEN = 0.2
"""Share of findings that name a neighbour of the hot part."""
MISLAID = 0.05
"""Share of thermal pictures laid so wrongly on the board, or so mirrored, that the spot may be any part; estimate."""


@dataclass(frozen=True, eq=False)
class Warmth:
    """Watts everywhere under each hypothesis, for one feed.

    Carriers are the parts of the board, then its nets, for what is not on the map.

    Parameters
    ----------
    sound : ndarray, shape (n_circuits, n_carriers)
        Power in parts, that of the fault itself and of what chips draw to work left out. [W]
    draw : ndarray, shape (n_circuits, n_carriers)
        What chips turn into heat as they work, median. [W]
    rise : ndarray, shape (n_carriers,)
        How warm each gets from a watt, with respect to a small part. [1]
    circuit : ndarray of int, shape (n_hypotheses,)
    carrier : ndarray of int, shape (n_hypotheses, SLOTS)
        Where each defect turns power into heat; -1 for none.
    over, through : ndarray, shape (n_hypotheses, SLOTS)
        Volts over each defect and amperes through it, at its ohms. [V], [A]
    spread : ndarray, shape (n_hypotheses, SLOTS)
        Of the natural logarithm of those ohms. [1]
    feed : Feed
    """

    board: Board
    method: str
    sound: Array
    draw: Array
    rise: Array
    circuit: Index
    carrier: Index
    over: Array
    through: Array
    spread: Array
    feed: Feed

    @cached_property
    def extra(self) -> Array:
        """Power of the defects themselves, shape (n_hypotheses, SLOTS). [W]"""
        return self.over * self.through

    def expected(self, probabilities: Array) -> Array:
        """Watts in each carrier, averaged over the hypotheses, shape (n_carriers,). [W]"""
        mean = self.sound + math.exp(DRAW_SPREAD**2 / 2.0) * self.draw
        total = np.bincount(self.circuit, probabilities, len(self.sound)) @ mean
        np.add.at(total, self.carrier.clip(0), probabilities[:, None] * self.extra)
        return np.asarray(total)

    @cached_property
    def hottest(self) -> Index:
        """The carrier that gets warmest under each hypothesis, -1 where nothing does, shape (n_hypotheses,)."""
        warm = (self.sound + self.draw) * self.rise
        best = warm.max(axis=1, initial=0.0)[self.circuit]
        where = np.where(best > 0.0, warm.argmax(axis=1)[self.circuit], -1)
        for slot in range(self.carrier.shape[1]):
            carrier = self.carrier[:, slot]
            own = (warm[self.circuit, carrier] + self.extra[:, slot] * self.rise[carrier]) * (carrier >= 0)
            where, best = np.where(own > best, carrier, where), np.maximum(own, best)
        return np.asarray(where)

    def at(self, farther: Array) -> Array:
        """Power of the defects where their ohms are others, shape (n_hypotheses, SLOTS). [W]

        What the supply holds at its volts takes less the more ohms it has; what it holds at its limit takes more.

        Parameters
        ----------
        farther : ndarray, shape (n_hypotheses, SLOTS)
            Natural logarithm of the ohms over those told. [1]
        """
        more = np.exp(farther)
        ohms = more * np.divide(self.over, self.through, out=np.ones_like(self.over), where=self.through > 0.0)
        held = np.minimum(self.extra / more, self.feed.limit**2 * ohms)
        limited = np.minimum(self.extra * more, self.feed.volts**2 / ohms)
        return np.asarray(np.where(self._held, held, limited))

    @property
    def _held(self) -> NDArray[np.bool_]:
        """Over which defects the supply holds its volts, shape (n_hypotheses, SLOTS)."""
        return np.asarray(self.over > HELD * self.feed.volts)

    def known(self, moved: Array, left: Array) -> Warmth:
        """The same once readings have told more of the ohms.

        Parameters
        ----------
        moved, left : ndarray, shape (n_hypotheses, SLOTS)
            By how much, and how much of the spread is left; both in spreads. [1]
        """
        farther = moved * self.spread
        over = self.over * np.where(self._held, 1.0, np.exp(farther))
        through = np.divide(self.at(farther), over, out=np.zeros_like(over), where=over > 0.0)
        return replace(self, over=over, through=through, spread=left * self.spread)

    def findings(self, findings: Sequence[Heat]) -> Array:
        """How likely each finding is under each hypothesis, shape (n_hypotheses, n_findings). [1]"""
        hungers = THREE if self.draw.any() else ((0.0, 1.0),)
        hits = np.array([_hits(self.board, finding) for finding in findings])
        parts = [
            w * v * self._findings(findings, hits, self.sound + math.exp(DRAW_SPREAD * x) * self.draw, extra)
            for y, v in THREE
            for extra in (self.at(y * self.spread),)
            for x, w in hungers
        ]
        return np.asarray(sum(parts))

    def _findings(self, findings: Sequence[Heat], hits: Array, sound: Array, extra: Array) -> Array:
        """The same with so many watts in each carrier and so many in each fault. [W]"""
        half = FEELS.get(self.method, FEELS["finger"])
        felt, pull = _felt(sound * self.rise, half)
        strongest = felt.max(axis=1, initial=0.0)[self.circuit]
        total = pull.sum(axis=1)[self.circuit]
        named = (pull @ hits.T)[self.circuit]
        for slot in range(self.carrier.shape[1]):
            where = np.flatnonzero(extra[:, slot] > 0.0)
            carrier, row = self.carrier[where, slot], self.circuit[where]
            before = sound[row, carrier]
            new_felt, new_pull = _felt((before + extra[where, slot]) * self.rise[carrier], half)
            more = new_pull - _felt(before * self.rise[carrier], half)[1]
            strongest[where] = np.maximum(strongest[where], new_felt)
            total[where] += more
            named[where] += more[:, None] * hits[:, carrier].T
        nothing = 0.04 + 0.94 * (1.0 - strongest)
        floor = 0.02 / max(len(self.board.parts), 1)
        least = np.array([floor * max(len(finding.parts), 1) for finding in findings])
        share = named / np.maximum(total, 1e-300)[:, None]
        out = np.maximum((1.0 - nothing)[:, None] * share, least)
        quiet = [k for k, finding in enumerate(findings) if finding.finding is HeatFinding.NOTHING]
        out[:, quiet] = nothing[:, None]
        return np.asarray(out)


def _felt(watts: Array, half: float) -> tuple[Array, Array]:
    """Chance that so much power in one small part is felt, and how it draws the finger."""
    felt = watts**2 / (watts**2 + half**2)
    return felt, np.sqrt(watts) * watts * felt


def _hits(board: Board, finding: Heat) -> Array:
    """Chance that a finding like this one is what each hot carrier leads to, shape (n_carriers,)."""
    out = np.zeros(len(board.parts) + len(board.nets))
    if finding.finding is HeatFinding.NOTHING:
        return out
    number = {part.name: k for k, part in enumerate(board.parts)}
    if finding.shares:
        return _seen_hits(board, finding, out)
    at_net = {net.name: len(board.parts) + k for k, net in enumerate(board.nets)}
    for name in finding.parts:
        out[number[name]] += 1.0 - MISTAKEN
        for hot, share in _taken_for(board).get(name, ()):
            out[number[hot]] += MISTAKEN * share
        for net in set(board.part(name).nets):
            out[at_net[net]] += 0.8 / max(len(board.pins_on[net]), 1)
    return np.minimum(out, 1.0)


def _seen_hits(board: Board, finding: Heat, out: Array) -> Array:
    """The same for a spot in a thermal picture, which names each part by its share of where the spot may be."""
    number = {part.name: k for k, part in enumerate(board.parts)}
    out[: len(board.parts)] = MISLAID / max(len(board.parts), 1)
    for name, share in finding.shares:
        out[number[name]] += (1.0 - MISLAID) * share
    at_net = {net.name: len(board.parts) + k for k, net in enumerate(board.nets)}
    nowhere = max(1.0 - sum(share for _, share in finding.shares), 0.0)
    for net in {net for name in finding.parts for net in board.part(name).nets}:
        out[at_net[net]] = nowhere
    return np.minimum(out, 1.0)


@lru_cache(maxsize=8)
def _taken_for(board: Board) -> dict[str, tuple[tuple[str, float], ...]]:
    """For each part the hot parts it may be mistaken for, each with its share of their mistakes."""
    found: dict[str, list[tuple[str, float]]] = {}
    for part in board.parts:
        near = neighbours_of(board, part.name)
        for other in near:
            found.setdefault(other, []).append((part.name, 1.0 / len(near)))
    return {name: tuple(hot) for name, hot in found.items()}


@lru_cache(maxsize=20_000)
def neighbours_of(board: Board, name: str) -> tuple[str, ...]:
    """The parts nearest a part: by place where places are known, else those on its nets besides ground."""
    part = board.part(name)
    if part.place is not None:
        here = part.place
        placed = [
            ((p.place.x_mm - here.x_mm) ** 2 + (p.place.y_mm - here.y_mm) ** 2, p.name)
            for p in board.parts
            if p.place is not None and p.name != name and p.place.side == here.side
        ]
        return tuple(other for _, other in sorted(placed)[:5])
    near = {p.name for net in part.nets if net != board.ground for p, _ in board.pins_on[net]} - {name}
    return tuple(sorted(near))
