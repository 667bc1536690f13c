"""Traces that meet at their ends: a network of squares in a row, solved exactly.

A current that leaves a trace somewhere between its ends is felt elsewhere as if it left in part at either
end, in proportion; so between the points where something is connected every potential is a straight line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ohmwright.errors import DataError
from ohmwright.facts.gradient import Run
from ohmwright.fields.network import Array, Index, Network

JOINED_MM = 0.3
"""Ends closer than that are one joint. [mm]"""


@dataclass(frozen=True, eq=False)
class Tracks:
    """Pieces of trace.

    Parameters
    ----------
    runs : tuple of Run
    """

    runs: tuple[Run, ...]

    @classmethod
    def drawn(cls, runs: tuple[Run, ...]) -> Tracks:
        """Traces as drawn: one that begins on the way of another is joined to it there."""
        ends = [end for run in runs for end in (run.a, run.b)]
        return cls(tuple(piece for run in runs for piece in _cut(run, ends)))

    def __post_init__(self) -> None:
        ends = _joints(self)
        network = Network(int(ends.max()) + 1, ends[:, 0], ends[:, 1], np.ones(len(ends)))
        if network.pieces().max() > 0:
            raise DataError(
                "These traces do not hang together.",
                hint="end each trace exactly where the next one begins",
            )

    @property
    def a(self) -> Array:
        """First ends, shape (n, 2). [mm]"""
        return np.array([run.a for run in self.runs])

    @property
    def along(self) -> Array:
        """From the first end to the other, shape (n, 2). [mm]"""
        return np.array([run.b for run in self.runs]) - self.a

    def placed(self, points: Array) -> tuple[Index, Array]:
        """The run nearest to each point, and how far along it, from 0 to 1."""
        a, d = self.a, self.along
        t = np.clip(((points[:, None] - a) * d).sum(axis=2) / (d**2).sum(axis=1), 0.0, 1.0)
        off = ((a + t[..., None] * d - points[:, None]) ** 2).sum(axis=2)
        run = np.argmin(off, axis=1)
        return run, t[np.arange(len(points)), run]

    def nearest(self, points: Array) -> Array:
        """Points brought onto the nearest trace. [mm]"""
        run, t = self.placed(points)
        return np.asarray(self.a[run] + t[:, None] * self.along[run])

    def around(self, points: Array, step: float) -> tuple[tuple[Array, Array], ...]:
        """Back and forth along the trace, not beyond its ends. [mm]"""
        run, t = self.placed(points)
        d, length = self.along[run], np.hypot(*self.along[run].T)
        low, high = np.clip(t - step / length, 0.0, 1.0), np.clip(t + step / length, 0.0, 1.0)
        a = self.a[run]
        return ((a + low[:, None] * d, a + high[:, None] * d),)

    def pieces(self, about: int) -> tuple[Array, Array]:
        """Middles and half lengths as vectors of about so many pieces, shapes (n, 2). [mm]"""
        length = np.hypot(*self.along.T)
        counts = np.maximum(1, np.round(about * length / length.sum())).astype(int)
        at, half = [], []
        for a, d, n in zip(self.a, self.along, counts, strict=True):
            at.append(a + (np.arange(n)[:, None] + 0.5) * d / n)
            half.append(np.broadcast_to(d / n / 2, (n, 2)))
        return np.concatenate(at), np.concatenate(half)

    def seen_from(self, points: Array) -> TracksSeen:
        """Solve with a unit current in at each point, shape (m, 2). [mm]"""
        run, t = self.placed(points)
        joint = _joints(self)
        stops: list[dict[float, int]] = [{0.0: int(p), 1.0: int(q)} for p, q in joint]
        count = int(joint.max()) + 1
        nodes = []
        for r, s in zip(run.tolist(), t.tolist(), strict=True):
            known = stops[r]
            if s not in known:
                known[s] = count
                count += 1
            nodes.append(known[s])
        edges = [_edges(stops[r], one) for r, one in enumerate(self.runs)]
        a, b, g = (np.concatenate(column) for column in zip(*edges, strict=True))
        into = np.zeros((count, len(points)))
        into[nodes, np.arange(len(points))] = 1.0
        solved = Network(count, a, b, g).potentials(into)
        return TracksSeen(self, tuple(_sorted(s) for s in stops), solved)


@dataclass(frozen=True, eq=False)
class TracksSeen:
    """The solved potentials, shape (n_nodes, m), and the nodes along each run."""

    tracks: Tracks
    stops: tuple[tuple[Array, Index], ...]
    potentials: Array

    def response(self, to: Array) -> Array:
        """A straight line between neighbouring nodes, shape (m, n)."""
        run, t = self.tracks.placed(to)
        out = np.empty((self.potentials.shape[1], len(to)))
        for r in np.unique(run).tolist():
            here: NDArray[np.intp] = np.flatnonzero(run == r)
            where, node = self.stops[r]
            after = np.clip(np.searchsorted(where, t[here]), 1, len(where) - 1)
            share = (t[here] - where[after - 1]) / (where[after] - where[after - 1])
            low, high = self.potentials[node[after - 1]], self.potentials[node[after]]
            out[:, here] = (low + share[:, None] * (high - low)).T
        return out


def _cut(run: Run, ends: Sequence[tuple[float, float]]) -> tuple[Run, ...]:
    """A run in pieces, cut where other ends lie on it."""
    a, d = np.array(run.a), np.array(run.b) - np.array(run.a)
    length = float(np.hypot(*d))
    at = {0.0: run.a, 1.0: run.b}
    for end in ends:
        t = float((np.array(end) - a) @ d) / length**2
        if JOINED_MM < t * length < length - JOINED_MM and np.hypot(*(a + t * d - end)) < JOINED_MM:
            at.setdefault(t, end)
    stops = [at[t] for t in sorted(at)]
    return tuple(
        Run(p, q, run.width_mm)
        for p, q in pairwise(stops)
        if np.hypot(q[0] - p[0], q[1] - p[1]) >= JOINED_MM or len(stops) == 2
    )


def _joints(tracks: Tracks) -> Index:
    """Number of the joint at either end of each run, shape (n, 2)."""
    ends = np.concatenate([(run.a, run.b) for run in tracks.runs])
    number: list[int] = []
    firsts: list[Array] = []
    for end in ends:
        near = next((k for k, other in enumerate(firsts) if np.hypot(*(end - other)) < JOINED_MM), None)
        if near is None:
            near = len(firsts)
            firsts.append(end)
        number.append(near)
    return np.array(number, dtype=np.intp).reshape(-1, 2)


def _sorted(stops: dict[float, int]) -> tuple[Array, Index]:
    order = sorted(stops.items())
    return np.array([s for s, _ in order]), np.array([n for _, n in order], dtype=np.intp)


def _edges(stops: dict[float, int], run: Run) -> tuple[Index, Index, Array]:
    where, node = _sorted(stops)
    length = float(np.hypot(run.b[0] - run.a[0], run.b[1] - run.a[1]))
    squares = np.maximum(np.diff(where) * length / run.width_mm, 1e-9)
    return node[:-1], node[1:], 1.0 / squares


def chain(points: Sequence[tuple[float, float]], width_mm: float = 1.0) -> tuple[Run, ...]:
    """Runs from point to point. [mm]"""
    return tuple(Run(a, b, width_mm) for a, b in pairwise(points))
