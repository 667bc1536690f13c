"""Tracks and vias that plausibly join the pads of each net on one side of a board.

A picture needs copper that looks routed, not a fabricable board. Each join is searched on a coarse grid
near its two pads (A*, eight directions); where none is found the pads get vias, as if an inner layer
took over. Ground is left to the pour. No net names leave this file, only lines.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ohmwright.geometry.frames import Outline
from ohmwright.geometry.packages import Pad

CELL_MM = 0.2
_KEEP_MM = 0.24
"""Half a track and its clearance: 0.075 + 0.15 mm and rounding; a usual board-house minimum, no source."""
_LONGEST_MM = 34.0
"""Joins longer than this go by an inner layer."""
_STEPS = (
    (1, 0, 1.0),
    (-1, 0, 1.0),
    (0, 1, 1.0),
    (0, -1, 1.0),
    (1, 1, 1.42),
    (1, -1, 1.42),
    (-1, 1, 1.42),
    (-1, -1, 1.42),
)
_MANY = -2
_FREE = -1

Cell = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Track:
    """A line of copper of one net (by number, never by name) through points in board mm."""

    net: int
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Via:
    """A plated hole, in board mm; it shows on both sides."""

    net: int
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True)
class Routing:
    """What was routed: tracks by side, and vias."""

    tracks: dict[str, tuple[Track, ...]]
    vias: tuple[Via, ...]


@dataclass(slots=True)
class _Grid:
    """Which net each cell is reserved for, one array per side; filled while routing."""

    outline: Outline
    cells: dict[str, NDArray[np.int32]] = field(default_factory=dict)

    def cell(self, x_mm: float, y_mm: float) -> Cell:
        return round((y_mm - self.outline.top_mm) / CELL_MM), round((x_mm - self.outline.left_mm) / CELL_MM)

    def point(self, cell: Cell) -> tuple[float, float]:
        return self.outline.left_mm + cell[1] * CELL_MM, self.outline.top_mm + cell[0] * CELL_MM

    def reserve(self, side: str, net: int, x: float, y: float, half_x: float, half_y: float) -> None:
        """Keep others off a box about (x, y)."""
        row, column = self.cell(x, y)
        down, across = math.ceil(half_y / CELL_MM), math.ceil(half_x / CELL_MM)
        part = self.cells[side][max(0, row - down) : row + down + 1, max(0, column - across) : column + across + 1]
        part[...] = np.where((part == _FREE) | (part == net), net, _MANY)

    def free_for(self, net: int, cell: Cell, sides: Sequence[str]) -> bool:
        """Whether a cell is inside the board and nobody else's on these sides."""
        rows, columns = self.cells["top"].shape
        if not (3 <= cell[0] < rows - 3 and 3 <= cell[1] < columns - 3):
            return False
        return all(self.cells[s][cell] in (_FREE, net) for s in sides)


def routed(outline: Outline, pads: Sequence[tuple[Pad, int]], ground: int) -> Routing:
    """Tracks and vias for pads, each with its net's number (negative: on no net).

    Parameters
    ----------
    ground : int
        Number of the net that is left to the pour; its pads get a via each.
    """
    grid = _Grid(outline)
    shape = (math.ceil(outline.height_mm / CELL_MM) + 1, math.ceil(outline.width_mm / CELL_MM) + 1)
    for side in ("top", "bottom"):
        grid.cells[side] = np.full(shape, _FREE, dtype=np.int32)
    lone = 100000  # a pad on no net keeps everyone off
    for i, (pad, net) in enumerate(pads):
        for side in ("top", "bottom") if pad.drill_mm else (pad.side,):
            w, h = _extent(pad)
            grid.reserve(side, net if net >= 0 else lone + i, pad.x_mm, pad.y_mm, w / 2 + _KEEP_MM, h / 2 + _KEEP_MM)
    tracks: dict[str, list[Track]] = {"top": [], "bottom": []}
    vias: list[Via] = []
    for side in ("top", "bottom"):
        _route_side(grid, side, [(p, n) for p, n in pads if p.side == side or p.drill_mm], ground, tracks[side], vias)
    return Routing({side: tuple(lines) for side, lines in tracks.items()}, tuple(vias))


def _route_side(
    grid: _Grid, side: str, pads: list[tuple[Pad, int]], ground: int, tracks: list[Track], vias: list[Via]
) -> None:
    """Join what can be joined, the shortest first, and send the rest through vias."""
    by_net: dict[int, list[Pad]] = {}
    for pad, net in pads:
        by_net.setdefault(net, []).append(pad)
    joins = [(d, net, a, b) for net, own in by_net.items() if net not in (ground, -1) for d, a, b in _tree(own)]
    failed = [(net, pad) for net, own in by_net.items() if net == ground or len(own) == 1 for pad in own]
    for length, net, a, b in sorted(joins, key=lambda join: (join[0], join[1], join[2].part, join[2].pin)):
        path = _path(grid, side, net, a, b) if length <= _LONGEST_MM else None
        if path is None:
            failed += [(net, a), (net, b)]
            continue
        tracks.append(Track(net, path))
        for x, y in _dense(path):
            grid.reserve(side, net, x, y, 0.15, 0.15)
    done: set[tuple[str, str]] = set()
    for net, pad in failed:
        if net >= 0 and not pad.drill_mm and (pad.part, pad.pin) not in done:
            done.add((pad.part, pad.pin))
            _drop_via(grid, side, net, pad, tracks, vias)


def _drop_via(grid: _Grid, side: str, net: int, pad: Pad, tracks: list[Track], vias: list[Via]) -> None:
    """A via at the nearest free place within 2 mm of a pad, with a short track to it."""
    row, column = grid.cell(pad.x_mm, pad.y_mm)
    w, h = _extent(pad)
    spots = []
    for dr in range(-10, 11):
        for dc in range(-10, 11):
            beyond = max(abs(dc) * CELL_MM - w / 2, abs(dr) * CELL_MM - h / 2)
            if beyond >= 0.3 and (dr == 0 or dc == 0 or abs(dr) == abs(dc)):
                spots.append((math.hypot(dr, dc), dr, dc))
    for _, dr, dc in sorted(spots):
        cell = (row + dr, column + dc)
        way = [(row + round(dr * t / 10), column + round(dc * t / 10)) for t in range(1, 10)]
        around = [(cell[0] + i, cell[1] + j) for i in (-1, 0, 1) for j in (-1, 0, 1)]
        clear = all(grid.free_for(net, c, (side,)) for c in way)
        if clear and all(grid.free_for(net, c, ("top", "bottom")) for c in around):
            x, y = grid.point(cell)
            vias.append(Via(net, x, y))
            tracks.append(Track(net, ((pad.x_mm, pad.y_mm), (x, y))))
            for s in ("top", "bottom"):
                grid.reserve(s, net, x, y, 0.25 + _KEEP_MM, 0.25 + _KEEP_MM)
            return


def _tree(pads: list[Pad]) -> list[tuple[float, Pad, Pad]]:
    """The shortest tree over the pads (Prim)."""
    found: list[tuple[float, Pad, Pad]] = []
    inside, outside = pads[:1], pads[1:]
    while outside:
        length, i, j = min(
            (math.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm), i, j)
            for i, a in enumerate(inside)
            for j, b in enumerate(outside)
        )
        found.append((length, inside[i], outside[j]))
        inside.append(outside.pop(j))
    return found


def _path(grid: _Grid, side: str, net: int, a: Pad, b: Pad) -> tuple[tuple[float, float], ...] | None:
    """A way from pad to pad through cells that are free, or None."""
    start, goal = grid.cell(a.x_mm, a.y_mm), grid.cell(b.x_mm, b.y_mm)
    field_ = grid.cells[side]
    reach = 25
    low = (max(3, min(start[0], goal[0]) - reach), max(3, min(start[1], goal[1]) - reach))
    high = (
        min(field_.shape[0] - 4, max(start[0], goal[0]) + reach),
        min(field_.shape[1] - 4, max(start[1], goal[1]) + reach),
    )
    cells = _search(field_, net, start, goal, low, high)
    if cells is None:
        return None
    points = [grid.point(c) for c in _corners(cells)]
    return ((a.x_mm, a.y_mm), *points[1:-1], (b.x_mm, b.y_mm))


def _search(field_: NDArray[np.int32], net: int, start: Cell, goal: Cell, low: Cell, high: Cell) -> list[Cell] | None:
    """A* with a price on every bend, so that tracks run straight as drawn ones do."""
    window = field_[low[0] : high[0] + 1, low[1] : high[1] + 1]
    passable = ((window == _FREE) | (window == net)).tolist()
    rows, columns = len(passable), len(passable[0])
    s, g = (start[0] - low[0], start[1] - low[1]), (goal[0] - low[0], goal[1] - low[1])
    best: dict[Cell, float] = {s: 0.0}
    back: dict[Cell, tuple[Cell, int]] = {s: (s, -1)}
    queue: list[tuple[float, Cell]] = [(0.0, s)]
    while queue and len(best) < 30000:
        _, here = heapq.heappop(queue)
        if here == g:
            return [(r + low[0], c + low[1]) for r, c in _walk(back, g)]
        cost, heading = best[here], back[here][1]
        for k, (dr, dc, length) in enumerate(_STEPS):
            r, c = here[0] + dr, here[1] + dc
            if not (0 <= r < rows and 0 <= c < columns) or not (passable[r][c] or (r, c) == g):
                continue
            price = cost + length + (0.6 if heading not in (-1, k) else 0.0)
            if price < best.get((r, c), math.inf) - 1e-9:
                best[(r, c)] = price
                back[(r, c)] = (here, k)
                down, across = abs(r - g[0]), abs(c - g[1])
                heapq.heappush(queue, (price + max(down, across) + 0.42 * min(down, across), (r, c)))
    return None


def _walk(back: dict[Cell, tuple[Cell, int]], goal: Cell) -> list[Cell]:
    cells = [goal]
    while back[cells[-1]][0] != cells[-1]:
        cells.append(back[cells[-1]][0])
    return cells[::-1]


def _corners(cells: list[Cell]) -> list[Cell]:
    """The ends and the bends only."""
    kept = cells[:1]
    for before, here, after in zip(cells, cells[1:], cells[2:], strict=False):
        if (here[0] - before[0], here[1] - before[1]) != (after[0] - here[0], after[1] - here[1]):
            kept.append(here)
    return [*kept, cells[-1]]


def _dense(path: tuple[tuple[float, float], ...]) -> list[tuple[float, float]]:
    points = []
    for (x0, y0), (x1, y1) in itertools.pairwise(path):
        steps = max(1, math.ceil(math.hypot(x1 - x0, y1 - y0) / (CELL_MM / 2)))
        points += [(x0 + (x1 - x0) * t / steps, y0 + (y1 - y0) * t / steps) for t in range(steps + 1)]
    return points


def _extent(pad: Pad) -> tuple[float, float]:
    """Width and height of the upright box about a turned pad, in mm."""
    c, s = abs(math.cos(math.radians(pad.angle_deg))), abs(math.sin(math.radians(pad.angle_deg)))
    return pad.width_mm * c + pad.height_mm * s, pad.width_mm * s + pad.height_mm * c
