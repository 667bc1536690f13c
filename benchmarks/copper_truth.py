"""How current really spreads in copper: linear finite elements on triangles that follow the edge.

It shares nothing with `ohmwright.fields`: no grid of conductances, no images, another rule for what lies inside,
triangles no wider than a fraction of what the program's grid can tell, and a sink as wide as a small pad where the
program has a point. Used by the benchmark and its tests as the truth that readings are made from.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import splu
from scipy.spatial import Delaunay, cKDTree

Array = NDArray[np.float64]
Ring = Sequence[tuple[float, float]]
PAD_MM = 0.3
"""Radius over which a clip or a part takes its current, as a 0402's pad does. [mm]"""


class Elements:
    """Copper inside an outline, without its holes, insulated at every edge.

    Parameters
    ----------
    outline, holes : rings of (float, float)
        [mm]
    edge : float
        Of the triangles. [mm]
    """

    def __init__(self, outline: Ring, holes: Sequence[Ring] = (), edge: float = 0.4) -> None:
        self.outline, self.holes = np.array(outline, dtype=float), [np.array(hole, dtype=float) for hole in holes]
        at = self._points(edge)
        mesh = Delaunay(at)
        inside = self.inside(at[mesh.simplices].mean(axis=1))
        corners = mesh.simplices[inside]
        p, q, r = (at[corners[:, k]] for k in range(3))
        turn = _cross(q - p, r - p)
        good = turn > 1e-4 * edge**2
        self.at, self.corners, self._mesh = at, corners[good], mesh
        self.area = float(turn[good].sum() / 2.0)
        sides = np.stack((r - q, p - r, q - p), axis=1)[good]
        stiff = np.einsum("tid,tjd->tij", sides, sides) / (2.0 * turn[good])[:, None, None]
        rows, columns = np.repeat(self.corners, 3, axis=1).ravel(), np.tile(self.corners, (1, 3)).ravel()
        self.used = np.unique(self.corners)
        k: Any = sparse.csc_matrix((stiff.ravel(), (rows, columns)), shape=(len(at), len(at)))
        # The last node is held at zero.
        self._factor = splu(k[self.used[:-1]][:, self.used[:-1]].tocsc(), permc_spec="MMD_AT_PLUS_A")

    def inside(self, points: Array) -> NDArray[np.bool_]:
        """Whether points, shape (n, 2), are copper. [mm]"""
        told = _in(points, self.outline)
        for hole in self.holes:
            told &= ~_in(points, hole)
        return told

    def drawn(self, chance: np.random.Generator, count: int, off_edge: float = 0.5) -> Array:
        """Places all over the copper, none nearer to an edge than that, shape (count, 2). [mm]"""
        low, high = self.outline.min(axis=0), self.outline.max(axis=0)
        found: list[Array] = []
        while len(found) < count:
            one = chance.uniform(low, high)
            if self.inside(one[None])[0] and self._clear(one) > off_edge:
                found.append(one)
        return np.array(found)

    def volts(self, source: Array, sink: Array, at: Array) -> Array:
        """Potential at places, shape (n, 2), for one ampere from source to sink, in squares; the level is arbitrary."""
        load = np.zeros(len(self.at))
        for middle, amps in ((source, 1.0), (sink, -1.0)):
            ring = np.array([[0.0, 0.0], *(PAD_MM * 0.7 * _turn(k / 8) for k in range(8))])
            spots = middle + ring
            spots = spots[self.inside(spots)]
            node, share = self._spread(spots)
            np.add.at(load, node.ravel(), (amps * share / len(spots)).ravel())
        solved = np.zeros(len(self.at))
        solved[self.used[:-1]] = self._factor.solve(load[self.used[:-1]])
        node, share = self._spread(at)
        return np.asarray((solved[node] * share).sum(axis=1))

    def _clear(self, at: Array) -> float:
        rings = (self.outline, *self.holes)
        return min(abs(cv2.pointPolygonTest(ring.astype(np.float32), at.tolist(), True)) for ring in rings)

    def _spread(self, points: Array) -> tuple[NDArray[np.intp], Array]:
        """The corners of the triangle each point lies in, and their shares, shapes (n, 3)."""
        which = self._mesh.find_simplex(points)
        turn = self._mesh.transform[which]
        first = np.einsum("nij,nj->ni", turn[:, :2], points - turn[:, 2])
        return self._mesh.simplices[which], np.column_stack((first, 1.0 - first.sum(axis=1)))

    def _points(self, edge: float) -> Array:
        """Corners along every edge, and a honeycomb inside that keeps off them."""
        rim = np.concatenate([_along(ring, edge) for ring in (self.outline, *self.holes)])
        low, high = self.outline.min(axis=0), self.outline.max(axis=0)
        rows = np.arange(low[1], high[1], edge * 0.75**0.5)
        columns = np.arange(low[0] - edge, high[0] + edge, edge)
        grid = np.concatenate([np.stack((columns + edge / 2 * (n % 2), np.full(len(columns), y)), axis=1)
                               for n, y in enumerate(rows)])  # fmt: skip
        grid = grid[self.inside(grid)]
        far = cKDTree(rim).query(grid)[0] > 0.55 * edge
        # Points on one line or circle leave triangles of no area, and Delaunay's choice between equals to chance.
        shake = np.random.default_rng(1).normal(0.0, 1e-3 * edge, (int(far.sum()), 2))
        return np.concatenate((rim, grid[far] + shake))


def _along(ring: Array, edge: float) -> Array:
    out = []
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        n = max(1, round(float(np.hypot(*(b - a))) / edge))
        out.append(a + np.arange(n)[:, None] / n * (b - a))
    return np.concatenate(out)


def _in(points: Array, ring: Array) -> NDArray[np.bool_]:
    """By how often the ring turns around each point: another rule than the program's crossings."""
    turned = np.zeros(len(points))
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        turned += np.arctan2(_cross(a - points, b - points), ((a - points) * (b - points)).sum(axis=1))
    return np.asarray(np.abs(turned) > np.pi)


def _cross(a: Array, b: Array) -> Array:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def _turn(share: float) -> Array:
    return np.array([np.cos(2 * np.pi * share), np.sin(2 * np.pi * share)])
