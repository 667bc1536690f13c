"""An area of copper with holes on a square grid, insulated at every edge.

Two neighbouring nodes of an even sheet are joined by one square, whatever the pitch. Where the edge of the
copper cuts the way between two nodes, the conductance is the share of that way's width that is left, found
on a grid four times as fine.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ohmwright.errors import DataError
from ohmwright.facts.gradient import Point
from ohmwright.fields.network import Array, Index, Network

FINER = 4
NODES = 14_000
"""Nodes of the grid over the box that holds the copper, about. [1]"""


@dataclass(frozen=True, eq=False)
class Sheet:
    """Copper on a grid.

    Parameters
    ----------
    origin : (float, float)
        Middle of the first node. [mm]
    pitch : float
        [mm]
    node : ndarray of int, shape (rows, columns)
        Number of the node there; -1 where there is no copper.
    area : float
        [mm²]
    """

    origin: Point
    pitch: float
    node: Index
    network: Network
    area: float

    def seen_from(self, points: Array) -> SheetSeen:
        """Solve for a unit current in at each point, shape (m, 2). [mm]"""
        where, share = self.spread(points)
        into = np.zeros((self.network.count, len(points)))
        for corner in range(4):
            np.add.at(into, (where[:, corner], np.arange(len(points))), share[:, corner])
        return SheetSeen(self, self.network.potentials(into))

    def spread(self, points: Array) -> tuple[Index, Array]:
        """The four nodes about each point and their shares, shapes (m, 4); only nodes with copper count."""
        rows, columns = self.node.shape
        u = np.clip((points[:, 0] - self.origin[0]) / self.pitch, 0.0, columns - 1.0)
        v = np.clip((points[:, 1] - self.origin[1]) / self.pitch, 0.0, rows - 1.0)
        i, j = np.minimum(u.astype(int), columns - 2), np.minimum(v.astype(int), rows - 2)
        fu, fv = u - i, v - j
        where = np.stack([self.node[j, i], self.node[j, i + 1], self.node[j + 1, i], self.node[j + 1, i + 1]], axis=1)
        share = np.stack([(1 - fu) * (1 - fv), fu * (1 - fv), (1 - fu) * fv, fu * fv], axis=1)
        share = np.where(where >= 0, share, 0.0)
        lost = share.sum(axis=1) < 1e-9
        if lost.any():
            near = self._nearest_node(points[lost])
            where[lost, 0], share[lost, 0] = near, 1.0
        return np.maximum(where, 0), share / share.sum(axis=1, keepdims=True)

    def _places(self) -> Array:
        row, column = np.nonzero(self.node >= 0)
        at = np.empty((self.network.count, 2))
        at[self.node[row, column]] = np.stack((column, row), axis=1) * self.pitch + np.array(self.origin)
        return at

    def _nearest_node(self, points: Array) -> Index:
        places = self._places()
        return np.array([int(np.argmin(((places - p) ** 2).sum(axis=1))) for p in points], dtype=np.intp)

    def nearest(self, points: Array) -> Array:
        """The copper nearest to each point: the point itself where it lies within a pitch of a node. [mm]"""
        near = self._places()[self._nearest_node(points)]
        on = (np.abs(points - near) <= self.pitch).all(axis=1, keepdims=True)
        return np.asarray(np.where(on, points, near))


@dataclass(frozen=True, eq=False)
class SheetSeen:
    """The solved potentials, shape (n_nodes, m)."""

    sheet: Sheet
    potentials: Array

    def response(self, to: Array) -> Array:
        """Between the nodes in proportion, shape (m, n)."""
        where, share = self.sheet.spread(to)
        return np.asarray(np.einsum("nk,nkm->mn", share, self.potentials[where]))


def sheet_of(outline: Sequence[Point], holes: Sequence[Sequence[Point]] = (), nodes: int = NODES) -> Sheet:
    """Lay a grid of about so many nodes over an outline; of copper in pieces the largest piece is kept. [mm]"""
    corners = np.array(outline)
    low, high = corners.min(axis=0), corners.max(axis=0)
    width, height = (high - low).tolist()
    if min(width, height) <= 0.0 or max(width, height) > 400 * min(width, height):
        raise DataError("This area is no area.", hint="click around its edge, or draw a trace instead")
    pitch = (width * height / nodes) ** 0.5
    columns, rows = max(4, round(width / pitch)), max(4, round(height / pitch))
    pitch = max(width / columns, height / rows)
    fine = pitch / FINER
    x = low[0] + (np.arange(columns * FINER) + 0.5) * fine
    y = low[1] + (np.arange(rows * FINER) + 0.5) * fine
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    copper = inside(grid, outline, holes).reshape(rows * FINER, columns * FINER)
    return _gridded((low[0] + pitch / 2, low[1] + pitch / 2), pitch, copper)


def _gridded(origin: Point, pitch: float, copper: NDArray[np.bool_]) -> Sheet:
    rows, columns = copper.shape[0] // FINER, copper.shape[1] // FINER
    share = copper.reshape(rows, FINER, columns, FINER).mean(axis=(1, 3))
    there = share > 0.25
    number = np.where(there, np.cumsum(there).reshape(there.shape) - 1, -1)
    ahead, down = _ways(copper), _ways(copper.T).T
    a = np.concatenate((number[:, :-1].ravel(), number[:-1].ravel()))
    b = np.concatenate((number[:, 1:].ravel(), number[1:].ravel()))
    g = np.concatenate((ahead.ravel(), down.ravel()))
    good = (a >= 0) & (b >= 0) & (g > 0.0)
    whole = Network(int(there.sum()), a[good], b[good], g[good])
    if whole.count < 4:
        raise DataError("No copper is left inside this outline.", hint="draw the holes smaller, or the edge anew")
    pieces = whole.pieces()
    keep = pieces == np.argmax(np.bincount(pieces))
    renamed = np.where(keep, np.cumsum(keep) - 1, -1)
    a, b, g = renamed[a[good]], renamed[b[good]], g[good]
    both = (a >= 0) & (b >= 0)
    node = np.where(number >= 0, renamed[np.maximum(number, 0)], -1)
    return Sheet(
        origin,
        pitch,
        node,
        Network(int(keep.sum()), a[both], b[both], g[both]),
        float(copper.mean() * copper.size * (pitch / FINER) ** 2),
    )


def _ways(copper: NDArray[np.bool_]) -> Array:
    """Open share of the way from each node to the next in its row, shape (rows, columns - 1)."""
    rows, columns = copper.shape[0] // FINER, copper.shape[1] // FINER
    half = FINER // 2
    between = copper[:, half:-half].reshape(rows, FINER, columns - 1, FINER)
    return np.asarray(between.all(axis=3).mean(axis=1), dtype=np.float64)


def inside(points: Array, outline: Sequence[Point], holes: Sequence[Sequence[Point]] = ()) -> NDArray[np.bool_]:
    """Whether points, shape (n, 2), lie on the copper (even-odd rule). [mm]"""
    found = _within(points, outline)
    for hole in holes:
        found &= ~_within(points, hole)
    return found


def _within(points: Array, ring: Sequence[Point]) -> NDArray[np.bool_]:
    x, y = points[:, 0], points[:, 1]
    odd = np.zeros(len(points), dtype=bool)
    for (x0, y0), (x1, y1) in zip(ring, (*ring[1:], ring[0]), strict=True):
        if y0 != y1:
            crosses = ((y0 > y) != (y1 > y)) & (x < (x1 - x0) * (y - y0) / (y1 - y0) + x0)
            odd ^= crosses
    return odd
