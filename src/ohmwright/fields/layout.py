"""Copper as something that answers: where a sink could be, and what a current at one point raises at another."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from ohmwright.facts.gradient import CopperShape
from ohmwright.fields.network import Array, Index
from ohmwright.fields.rectangle import RectangleSheet
from ohmwright.fields.sheet import NODES, Sheet, inside, sheet_of
from ohmwright.fields.tracks import Tracks


@dataclass(frozen=True, eq=False)
class Cells:
    """Pieces of the copper in which the sink may lie.

    Parameters
    ----------
    at : ndarray, shape (n, 2)
        Their middles. [mm]
    half : ndarray, shape (n, 2)
        Of an area: half width and half height. Of a trace: half its own length, as a vector. [mm]
    measure : ndarray, shape (n,)
        Area or length. [mm²] or [mm]
    """

    at: Array
    half: Array
    measure: Array

    def chosen(self, which: NDArray[np.bool_] | Index) -> Cells:
        """Some of them."""
        return Cells(self.at[which], self.half[which], self.measure[which])


class Seen(Protocol):
    """What is seen from some points of the copper."""

    def response(self, to: Array) -> Array:
        """Potential at `to`, shape (n, 2) [mm], for one ampere at each of the points, in squares, shape (m, n)."""
        ...


class Layout(Protocol):
    """Copper of one make."""

    @property
    def dimensions(self) -> int:
        """1 along traces, 2 over an area."""
        ...

    @property
    def coarser(self) -> tuple[Layout, ...]:
        """The same copper solved less finely: what they differ by is about what this one is wrong by."""
        ...

    def cells(self, about: int) -> Cells:
        """The whole copper in about so many pieces."""
        ...

    def split(self, cells: Cells) -> Cells:
        """Each piece in smaller ones."""
        ...

    def seen_from(self, points: Array) -> Seen:
        """What is seen from those points, shape (m, 2). [mm]"""
        ...

    def around(self, points: Array, step: float) -> tuple[tuple[Array, Array], ...]:
        """Pairs of points so far to either side, along each direction there is. [mm]"""
        ...

    def nearest(self, points: Array) -> Array:
        """The copper nearest to each point, shape (n, 2). [mm]"""
        ...


@dataclass(frozen=True, eq=False)
class _RectangleSeen:
    sheet: RectangleSheet
    points: Array

    def response(self, to: Array) -> Array:
        return self.sheet.response(self.points, to)


@dataclass(frozen=True, slots=True)
class EvenRectangle:
    """A whole rectangle, solved by images."""

    sheet: RectangleSheet

    @property
    def dimensions(self) -> int:
        """An area."""
        return 2

    @property
    def coarser(self) -> tuple[Layout, ...]:
        """Images are exact."""
        return ()

    def cells(self, about: int) -> Cells:
        """Squares, nearly."""
        s = self.sheet
        side = (s.width * s.height / about) ** 0.5
        nx, ny = max(4, round(s.width / side)), max(4, round(s.height / side))
        x = s.left + (np.arange(nx) + 0.5) * s.width / nx
        y = s.top + (np.arange(ny) + 0.5) * s.height / ny
        at = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
        half = np.broadcast_to(np.array([s.width / nx / 2, s.height / ny / 2]), at.shape)
        return Cells(at, half, np.full(len(at), s.width * s.height / len(at)))

    def split(self, cells: Cells) -> Cells:
        """Each in four."""
        return quartered(cells)

    def seen_from(self, points: Array) -> Seen:
        """In closed form."""
        return _RectangleSeen(self.sheet, points)

    def around(self, points: Array, step: float) -> tuple[tuple[Array, Array], ...]:
        """To the left and right, up and down."""
        return crosswise(points, step)

    def nearest(self, points: Array) -> Array:
        """Points outside are brought to the edge."""
        s = self.sheet
        return np.clip(points, (s.left, s.top), (s.left + s.width, s.top + s.height))


@dataclass(frozen=True, eq=False)
class DrawnArea:
    """An area of any outline, with holes."""

    sheet: Sheet
    shape: CopperShape

    @property
    def dimensions(self) -> int:
        """An area."""
        return 2

    @cached_property
    def coarser(self) -> tuple[Layout, ...]:
        """Grids with a third and a quarter of the nodes.

        A grid's error at necks and at corners that jut in falls as the pitch does, and hangs on how the edge lies
        between the nodes: two are asked. Of an error that falls with the pitch the finer grid has 0.7 to 1.4 times
        what they differ by.
        """
        return tuple(
            DrawnArea(sheet_of(self.shape.outline, self.shape.holes, nodes), self.shape)
            for nodes in (NODES // 3, NODES // 4)
        )

    def cells(self, about: int) -> Cells:
        """The nodes of the grid, or blocks of them."""
        corners = np.array(self.shape.outline)
        low, high = corners.min(axis=0), corners.max(axis=0)
        box = EvenRectangle(RectangleSheet(low[0], low[1], high[0] - low[0], high[1] - low[1]))
        share = max(self.sheet.area / float(np.prod(high - low)), 0.02)
        return self._kept(box.cells(round(about / share)))

    def split(self, cells: Cells) -> Cells:
        """Each in four, without what lies off the copper."""
        return self._kept(quartered(cells))

    def _kept(self, cells: Cells) -> Cells:
        return cells.chosen(inside(cells.at, self.shape.outline, self.shape.holes))

    def seen_from(self, points: Array) -> Seen:
        """Solved on the grid."""
        return self.sheet.seen_from(points)

    def around(self, points: Array, step: float) -> tuple[tuple[Array, Array], ...]:
        """To the left and right, up and down."""
        return crosswise(points, max(step, self.sheet.pitch))

    def nearest(self, points: Array) -> Array:
        """The grid's nearest node, for points off the copper."""
        return self.sheet.nearest(points)


@dataclass(frozen=True, eq=False)
class DrawnTracks:
    """Traces that meet at their ends."""

    tracks: Tracks

    @property
    def dimensions(self) -> int:
        """Along the traces."""
        return 1

    @property
    def coarser(self) -> tuple[Layout, ...]:
        """A network is solved exactly."""
        return ()

    def cells(self, about: int) -> Cells:
        """Pieces of the traces."""
        at, half = self.tracks.pieces(about)
        return Cells(at, half, 2.0 * np.hypot(half[:, 0], half[:, 1]))

    def split(self, cells: Cells) -> Cells:
        """Each in two."""
        at = np.concatenate((cells.at - cells.half / 2, cells.at + cells.half / 2))
        return Cells(at, np.tile(cells.half / 2, (2, 1)), np.tile(cells.measure / 2, 2))

    def seen_from(self, points: Array) -> Seen:
        """Solved exactly."""
        return self.tracks.seen_from(points)

    def around(self, points: Array, step: float) -> tuple[tuple[Array, Array], ...]:
        """Back and forth along the trace."""
        return self.tracks.around(points, step)

    def nearest(self, points: Array) -> Array:
        """Brought onto the nearest trace."""
        return self.tracks.nearest(points)


def crosswise(points: Array, step: float) -> tuple[tuple[Array, Array], ...]:
    """Pairs of points to either side, in x and in y. [mm]"""
    x, y = np.array([step, 0.0]), np.array([0.0, step])
    return (points - x, points + x), (points - y, points + y)


def quartered(cells: Cells) -> Cells:
    """Each cell of an area in four."""
    half = cells.half / 2
    signs = (np.array([a, b]) for a in (-1.0, 1.0) for b in (-1.0, 1.0))
    return Cells(
        np.concatenate([cells.at + half * s for s in signs]), np.tile(half, (4, 1)), np.tile(cells.measure / 4, 4)
    )


@lru_cache(maxsize=8)
def _layout_of(shape: CopperShape) -> Layout:
    if shape.runs:
        return DrawnTracks(Tracks.drawn(shape.runs))
    corners = np.array(shape.outline)
    low, high = corners.min(axis=0), corners.max(axis=0)
    straight = np.isclose(corners, low) | np.isclose(corners, high)
    if len(corners) == 4 and straight.all() and not shape.holes and len(np.unique(corners.round(6), axis=0)) == 4:
        return EvenRectangle(RectangleSheet(low[0], low[1], high[0] - low[0], high[1] - low[1]))
    return DrawnArea(sheet_of(shape.outline, shape.holes), shape)


def layout_of(shape: CopperShape) -> Layout:
    """The copper, ready to answer: images for a whole rectangle, a grid for any other area, traces exactly."""
    # What a square is worth does not change how the current spreads.
    return _layout_of(replace(shape, square_ohms=1e-3, log_sd=1.0))
