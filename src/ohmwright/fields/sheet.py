"""An area of copper with holes on a square grid, insulated at every edge.

Two neighbouring nodes of an even sheet are joined by one square, whatever the pitch. Where the edge of the
copper cuts the side that two cells share, the conductance is the share of that side that is copper, found along
lines drawn through the cells much closer than the nodes. A cell that copper only reaches into still carries
along itself as much as it holds; a slit that parts a cell parts its nodes, however narrow it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ohmwright.errors import DataError
from ohmwright.facts.gradient import Point
from ohmwright.fields.network import Array, Index, Network

LINES = 24
"""Lines through each row and each column of cells; a neck is as wide as it is drawn to this share of a pitch. [1]"""
NODES = 40_000
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
    rings = (outline, *holes)
    ahead, across = _ways(rings, low, pitch, (columns, rows))
    turned = [[(y, x) for x, y in ring] for ring in rings]
    down, _ = _ways(turned, low[::-1], pitch, (rows, columns))
    return _gridded((low[0] + pitch / 2, low[1] + pitch / 2), pitch, ahead, down.T, float(across.mean()))


def _gridded(origin: Point, pitch: float, ahead: Array, down: Array, share: float) -> Sheet:
    rows, columns = len(ahead), down.shape[1]
    number = np.arange(rows * columns).reshape(rows, columns)
    a = np.concatenate((number[:, :-1].ravel(), number[:-1].ravel()))
    b = np.concatenate((number[:, 1:].ravel(), number[1:].ravel()))
    g = np.concatenate((ahead.ravel(), down.ravel()))
    good = g > 0.0
    a, b, g = a[good], b[good], g[good]
    pieces = Network(number.size, a, b, g).pieces()
    keep = pieces == np.argmax(np.bincount(pieces))
    if int(keep.sum()) < 4:
        raise DataError("No copper is left inside this outline.", hint="draw the holes smaller, or the edge anew")
    renamed = np.where(keep, np.cumsum(keep) - 1, -1)
    both = keep[a] & keep[b]
    node = renamed.reshape(rows, columns)
    network = Network(int(keep.sum()), renamed[a[both]], renamed[b[both]], g[both])
    return Sheet(origin, pitch, node, network, share * rows * columns * pitch**2)


def _ways(rings: Sequence[Sequence[Point]], low: Array, pitch: float, size: tuple[int, int]) -> tuple[Array, Array]:
    """Open share of the side between each cell and the next in its row, shape (rows, columns - 1), and copper there.

    Along each line, whatever lies between a side and the middle of a cell is either all copper, or copper that
    ends in this cell and does not begin again: then it belongs to this node. Anything else is a slit.
    """
    columns, rows = size
    lines = low[1] + (np.arange(rows * LINES) + 0.5) * (pitch / LINES)
    copper, met = np.ones((len(lines), 2 * columns + 1), dtype=bool), np.zeros((len(lines), 2 * columns), dtype=int)
    for k, ring in enumerate(rings):
        line, x = _crossings(ring, lines)
        half = np.clip(np.ceil((x - low[0]) / (0.5 * pitch)), 0, 2 * columns + 1).astype(np.intp)
        counts = np.zeros((len(lines), 2 * columns + 2), dtype=int)
        np.add.at(counts, (line, half), 1)
        within = np.cumsum(counts[:, :-1], axis=1) % 2 == 1
        copper &= within if k == 0 else ~within
        met += counts[:, 1:-1]
    left, right = met[:, 0::2], met[:, 1::2]
    sides = copper[:, 0::2]
    to_right = sides[:, 1:] & ((right == 0) | ((right == 1) & (left == 0)))
    to_left = sides[:, :-1] & ((left == 0) | ((left == 1) & (right == 0)))
    open_way = (to_right[:, :-1] & to_left[:, 1:]).reshape(rows, LINES, columns - 1)
    return open_way.mean(axis=1), copper[:, 1::2].astype(float)


def _crossings(ring: Sequence[Point], lines: Array) -> tuple[Index, Array]:
    """Which of the lines y = const the ring crosses, and where."""
    found_line, found_x = [], []
    for (x0, y0), (x1, y1) in zip(ring, (*ring[1:], ring[0]), strict=True):
        if y0 != y1:
            crosses = np.flatnonzero((y0 > lines) != (y1 > lines))
            found_line.append(crosses)
            found_x.append((x1 - x0) * (lines[crosses] - y0) / (y1 - y0) + x0)
    if not found_line:
        return np.empty(0, dtype=np.intp), np.empty(0)
    return np.concatenate(found_line), np.concatenate(found_x)


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
