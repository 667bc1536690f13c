"""A part of two pads found about two clicks, its size and the picture's scale unknown.

On a small part two clicks miss by much of its length and tell little of its turn. What they tell is where to look: what
is not board there, weighed less the farther off, should be told by two alike pads and a body between them, in the
proportions of one of the usual cases. Of all places, turns, sizes and cases the one is taken that leaves least of it
untold. A pair that lies within a part, or takes the ends of two, leaves much untold, however well it fits by itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from ohmwright.geometry.lands import Land, LandPattern
from ohmwright.geometry.packages import land_pattern
from ohmwright.geometry.transforms import Array, Homography, affine, similarity
from ohmwright.pictures.canvas import Field, Pixels
from ohmwright.pictures.sheets import Sheet
from ohmwright.pictures.snapping import Snap, trimmed

CASES = ("C0402", "C0805", "C1206", "C1210", "R2010", "R2512")
"""Whose proportions are tried; those of others lie between. KiCad's land patterns, as `land_pattern` makes them"""
WIDE = 1.0
"""How wide about the clicks a thing counts, one standard deviation, over their distance. [1]"""
MOST_AWAY = 0.9
"""How far the middle may lie from that of the clicks, over their distance. [1]"""
SIZES = tuple(0.5 * 1.17**n for n in range(12))
"""Distances of the pads that are tried, over that of the clicks. [1]"""
TURN_DEG = 10.0
ROUGH_PX = 16.0
"""Pixels to the distance of the clicks in the first look. [px]"""
CAP = 40.0
"""Colours farther than this from the board's count as this far. [L* a* b* steps]"""
TINY = 1e-9
CLICKS = ((-0.5, 0.0), (0.5, 0.0))
HAND = 1.0
"""How far a click misses its pad, over the distance of the pads, one standard deviation. [1] wide: hands differ"""
SPREAD = 0.8
"""How far the distance of the clicks is off, its logarithm, one standard deviation. [1] wide, because hands differ"""
FEW = ("C0402", "C0805", "C1206", "R2512")
"""Of the cases, those that are tried in the first look."""
ALIKE = 10.0
"""How far a body differs from its pads at least, about. [L* a* b* steps]"""
BARE = 0.25
"""What a pair loses with nothing but board between its pads. [1]"""
DARK_PADS = 0.7
"""Weight of a place whose pads are darker than the board. [1]"""


FIT = 0.4
"""How well a place must fit in itself, as `contrast` says. [1] chosen on three rendered boards"""
AS_GOOD = 0.9
"""Share of what the best place tells from which another is a doubt. [1] chosen with the above"""
MOST_TRIM = 0.15
"""How far a pad may move while it is made exact, over their distance. [1] chosen with the above"""
SURE_TURN_DEG = 60.0
"""Turned farther than this against the clicks it is not sure which end is pin 1. [deg] a guess"""
STEP_DEG = 4.0
"""First step of the turn when a place is made exact. [deg]"""


@dataclass(frozen=True, slots=True)
class Shape:
    """A case over the distance of its pads: pads along and across, body across. [1]"""

    along: float
    across: float
    body: float

    @property
    def pattern(self) -> LandPattern:
        """A pair of that shape, its pads a unit apart."""
        one, other = (Land(pin, x, 0.0, self.along, self.across) for pin, x in (("1", -0.5), ("2", 0.5)))
        return LandPattern("chip", (1.0 + self.along, self.body), (one, other), sourced=False)


@dataclass(frozen=True, slots=True)
class Found:
    """A place: middle and distance of the pads over the distance of the clicks, turned against them. [1], [deg]

    `told` is the share of what is not board about the clicks that it tells. [1]
    """

    x: float
    y: float
    turn_deg: float
    size: float
    shape: Shape
    told: float

    @property
    def map(self) -> Homography:
        """From a pair a unit apart about its middle to the pair as clicked."""
        return similarity(self.size, self.turn_deg, self.x, self.y)


def pair_found(sheet: Sheet, clicked: Homography, taken: Sequence[Array] = ()) -> Snap:
    """Two pads brought onto what the picture shows about two clicks, and whether that is sure.

    Parameters
    ----------
    clicked : Homography
        From a pair a unit apart about its middle to pixels of the whole picture, as clicked.
    taken : sequence of ndarray, shape (4, 2)
        Corners of the pads that other parts have already. [px] of the whole picture
    """
    found = pairs_about(sheet, clicked, shapes(), taken)
    if not found:
        return Snap(clicked, 0.0, 0.0, "the picture does not show its pads clearly; they lie where you clicked")
    rivals = [one for one in found if one.told > AS_GOOD * found[0].told]
    fits = [trimmed(sheet, one.shape.pattern, clicked.after(one.map), STEP_DEG) for one in rivals]
    best, fit = rivals[0], fits[0]
    if fit.score < FIT:
        # It tells most of what is there and is no pair all the same: the clicks are nearer to one.
        doubt = "the picture does not show its pads clearly; they lie where you clicked"
        return Snap(clicked, 0.0, fit.score, doubt)
    moved = max(math.dist(best.map.at(*click), click) for click in CLICKS)
    here = clicked.after(best.map)
    trimmed_by = max(math.dist(here.inverse.at(*fit.on_picture.at(*click)), click) for click in CLICKS)
    others = [one for one, snap in zip(rivals[1:], fits[1:], strict=True) if snap.score >= FIT]
    # Beside a neighbour that touches it, what fits best in itself takes in the neighbour's end.
    return Snap(fit.on_picture if trimmed_by < MOST_TRIM else here, moved, fit.score, _doubt(best, others))


def _doubt(best: Found, others: Sequence[Found]) -> str:
    """Why the best place may be wrong; empty where nothing tells against it."""
    if any(away(one, best) > 0.2 * best.size for one in others):
        return "the picture fits it in two places; see that it lies right, or tell its package or a length"
    if abs(best.turn_deg) > SURE_TURN_DEG:
        return "it lies across the clicks; see that pin 1 is the end you meant"
    return ""


def shapes(cases: Sequence[str] = CASES) -> tuple[Shape, ...]:
    """Proportions of these cases."""
    out = []
    for case in cases:
        pattern = land_pattern(case, ["1", "2"])
        one, other = pattern.lands
        apart = abs(other.x_mm - one.x_mm)
        out.append(Shape(one.width_mm / apart, one.height_mm / apart, pattern.body_mm[1] / apart))
    return tuple(out)


def pairs_about(
    sheet: Sheet, clicked: Homography, tried: Sequence[Shape], taken: Sequence[Array] = ()
) -> list[Found]:
    """Places of a pair about two clicks, the best first, each of them a place of its own; as for `pair_found`."""
    near = _Near(sheet, clicked, taken)
    turns = np.arange(-90.0, 90.0, TURN_DEG)
    few = shapes(FEW)
    found = [one for turn in turns for one in near.looked(turn, few, SIZES, (0.0, 0.0), MOST_AWAY, ROUGH_PX, step=2)]
    found.sort(key=lambda one: -one.told)
    apart: list[Found] = []
    for one in found:
        if all(away(one, other) > 0.3 * min(one.size, other.size) for other in apart):
            apart.append(one)
        if len(apart) == 4:
            break
    return sorted((_closer(near, one, tried) for one in apart if one.told > 0), key=lambda one: -one.told)


def away(one: Found, other: Found) -> float:
    """How far the farther pad of a place lies from where it is at the other, whichever is pin 1. [1]"""
    a, b = (np.array([found.map.at(-0.5, 0.0), found.map.at(0.5, 0.0)]) for found in (one, other))
    return float(min(np.hypot(*(a - b).T).max(), np.hypot(*(a - b[::-1]).T).max()))


def _closer(near: _Near, at: Found, tried: Sequence[Shape]) -> Found:
    best = at
    for px, deg, grow in ((2.0 * ROUGH_PX, 5.0, 0.08), (3.0 * ROUGH_PX, 2.5, 0.04), (3.0 * ROUGH_PX, 1.2, 0.02)):
        px = min(px / best.size**0.5, near.finest)
        looks: list[Found] = []
        for turn in (-deg, 0.0, deg):
            sizes = [best.size * (1 + k * grow) for k in ((-2, -1, 0, 1, 2) if deg == 5.0 else (-1, 0, 1))]
            some = tried if deg == 5.0 else (best.shape,)
            looks += near.looked(best.turn_deg + turn, some, sizes, (best.x, best.y), 3.0 / px + 0.02, px, most=1)
        best = max(looks, key=lambda one: one.told, default=best)
    return best


class _Near:
    """The picture about two clicks, as differences from the board's colour."""

    def __init__(self, sheet: Sheet, clicked: Homography, taken: Sequence[Array]) -> None:
        self._sheet = sheet
        back = clicked.inverse
        self._others = [back.applied(corners) for corners in taken]
        self._to_here = sheet.to_full.inverse.after(clicked)
        a, b = self._to_here.at(0.0, 0.0), self._to_here.at(1.0, 0.0)
        self.finest = 1.3 * math.hypot(b[0] - a[0], b[1] - a[1])
        self._soft: dict[float, Pixels] = {}
        self._board: Array = np.zeros(3)
        self._board = _commonest(self._taken(0.0, (0.0, 0.0), 3.5, 12.0))
        rough = self._taken(0.0, (0.0, 0.0), 3.0, ROUGH_PX)
        steps = np.arange(rough.shape[0]) / ROUGH_PX - 3.0
        weights = _weights(steps, steps)
        differs = np.minimum((rough**2).sum(axis=2), CAP**2)
        self._all = float((differs * weights).sum()) / ROUGH_PX**2 + TINY

    def _taken(self, turn_deg: float, middle: tuple[float, float], half: float, px: float) -> Field:
        n = math.ceil(half * px)
        here = similarity(1.0, turn_deg, *middle).after(affine(1 / px, 0, -n / px, 0, 1 / px, -n / px))
        source, shrink = self._sheet.pixels, self.finest / 1.3 / px
        if shrink > 1.3:
            if shrink not in self._soft:
                self._soft[shrink] = np.asarray(cv2.GaussianBlur(source, (0, 0), 0.45 * shrink))
            source = self._soft[shrink]
        size = (2 * n + 1, 2 * n + 1)
        taken = cv2.warpPerspective(
            source, self._to_here.after(here).matrix, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        lab = np.asarray(cv2.cvtColor(taken.astype(np.float32) / 255.0, cv2.COLOR_BGR2LAB), dtype=np.float32)
        lab = lab - self._board.astype(np.float32)
        for corners in self._others:  # what is another part's counts as board
            if np.hypot(*corners.mean(axis=0)) < 2.0 * half + math.hypot(*middle):
                quad = np.round(here.inverse.applied(corners) * 16).astype(np.int32)
                cv2.fillConvexPoly(lab, quad, (0.0, 0.0, 0.0), cv2.LINE_8, 4)
        return lab

    def looked(
        self,
        turn_deg: float,
        tried: Sequence[Shape],
        sizes: Sequence[float],
        middle: tuple[float, float],
        reach: float,
        px: float,
        most: int = 3,
        step: int = 1,
    ) -> list[Found]:
        """The best places of that turn."""
        half = reach + max(sizes) * 0.9
        seen = self._taken(turn_deg, middle, half, px)
        n = seen.shape[0] // 2
        steps = np.arange(-n, n + 1) / px
        u, v = similarity(1.0, -turn_deg, 0.0, 0.0).at(*middle)
        weights = _weights(steps + u, steps + v)
        differs = np.minimum((seen**2).sum(axis=2), CAP**2)
        planes = np.dstack([weights, seen * weights[..., None], (seen**2).sum(axis=2) * weights, differs * weights])
        sums: Array = np.asarray(cv2.integral(planes.astype(np.float64)), dtype=np.float64)
        wide = math.ceil(reach * px)
        best: list[Found] = []
        for size in sizes:
            for shape in tried:
                told = _told(sums, n, wide, size * px, shape, step)
                told *= math.exp(-0.5 * (math.log(size) / SPREAD) ** 2) / px**2 / self._all
                for i, j, value in _peaks(told, 0.3 * size * px / step, 2 if most > 1 else 1):
                    x, y = similarity(1.0, turn_deg, *middle).at((i * step - wide) / px, (j * step - wide) / px)
                    found = Found(x, y, turn_deg, size, shape, 0.0)
                    best.append(replace(found, told=value * _of_a_hand(found)))
        return _each_once(best, most)


def _peaks(told: Array, apart: float, most: int) -> list[tuple[int, int, float]]:
    """Columns, rows and heights of the highest places, so far apart."""
    out = []
    y, x = np.ogrid[: told.shape[0], : told.shape[1]]
    for n in range(most):
        j, i = divmod(int(told.argmax()), told.shape[1])
        out.append((i, j, float(told[j, i])))
        if n + 1 < most:
            told[(x - i) ** 2 + (y - j) ** 2 <= apart**2] = 0.0
    return out


def _each_once(found: list[Found], most: int) -> list[Found]:
    """The best of places of one turn whose middles lie apart."""
    out: list[Found] = []
    for one in sorted(found, key=lambda one: -one.told):
        if all(math.dist((one.x, one.y), (other.x, other.y)) > 0.3 * other.size for other in out):
            out.append(one)
        if len(out) == most:
            break
    return out


def _of_a_hand(found: Found) -> float:
    """How well a place goes with the clicks. [1]"""
    ends = found.map.at(-0.5, 0.0), found.map.at(0.5, 0.0)
    off = sum(math.dist(end, click) ** 2 for end, click in zip(ends, CLICKS, strict=True))
    return math.exp(-0.5 * off / (HAND * found.size) ** 2)


def _weights(x: Array, y: Array) -> Array:
    return np.exp(-0.5 * (x[None, :] ** 2 + y[:, None] ** 2) / WIDE**2)


def _commonest(picture: Field) -> Array:
    """The colour most of it has: the board's, unless parts leave little of it."""
    flat = picture.reshape(-1, 3)
    keys = np.floor(flat / 8.0).astype(np.int64)
    _, inverse, counts = np.unique(keys @ np.array([1, 1000, 1000000]), return_inverse=True, return_counts=True)
    middle = flat[inverse == int(counts.argmax())].mean(axis=0)
    close = ((flat - middle) ** 2).sum(axis=1) < 12.0**2
    return np.asarray(flat[close].mean(axis=0), dtype=np.float64)


def _told(sums: Array, n: int, wide: int, apart_px: float, shape: Shape, step: int) -> Array:
    """What two pads and a body tell at each shift."""
    inner, outer = apart_px * (1 - shape.along) / 2, apart_px * (1 + shape.along) / 2
    high, thick = apart_px * shape.across / 2, apart_px * shape.body / 2
    left = _box(sums, n, wide, step, -outer, -inner, high)
    right = _box(sums, n, wide, step, inner, outer, high)
    body = _box(sums, n, wide, step, -inner, inner, thick)
    # Both pads are of one colour, whichever lies nearer the clicks.
    mean_pad = 0.5 * (left[..., 1:4] / (left[..., :1] + TINY) + right[..., 1:4] / (right[..., :1] + TINY))
    mean_body = body[..., 1:4] / (body[..., :1] + TINY)
    # What both tell at the least: one alone is a part of something else.
    each = np.minimum(*(_gain(one, mean_pad) / (one[..., 0] + TINY) for one in (left, right)))
    gain = each * (left[..., 0] + right[..., 0]) + _gain(body, mean_body)
    apart, bare = ((mean_pad - mean_body) ** 2).sum(-1), (mean_body**2).sum(-1)
    gain = gain * (1.0 - np.exp(-apart / ALIKE**2)) * (1.0 - BARE * np.exp(-bare / ALIKE**2))
    return np.asarray(np.where(mean_pad[..., 0] < 0, DARK_PADS, 1.0) * gain)


def _gain(box: Array, colour: Array) -> Array:
    """How much nearer a box is to that colour than to the board's. [L* a* b* steps squared, summed]"""
    off = box[..., 4] - 2.0 * (box[..., 1:4] * colour).sum(-1) + box[..., 0] * (colour**2).sum(-1)
    return np.asarray(box[..., 5] - off)


def _box(sums: Array, n: int, wide: int, step: int, left: float, right: float, high: float) -> Array:
    """Sums over a box at each shift; where every shift is looked at, its edges between pixels are taken in part."""
    out: Array | float = 0.0
    for x0, y0, share in _corners(left, right, high, step == 1):
        at_x, at_y = n - wide + x0, n - wide + y0
        out = out + share * sums[at_y : at_y + 2 * wide + 1 : step, at_x : at_x + 2 * wide + 1 : step]
    return np.asarray(out)


def _corners(left: float, right: float, high: float, exact: bool) -> list[tuple[int, int, float]]:
    """Where the summed table is read, and how much each counts: linear between its points."""
    out = []
    for x, sign_x in ((left + 0.5, -1.0), (right + 0.5, 1.0)):
        for y, sign_y in ((-high + 0.5, -1.0), (high + 0.5, 1.0)):
            if not exact:
                out.append((round(x), round(y), sign_x * sign_y))
                continue
            i, j = math.floor(x), math.floor(y)
            fx, fy = x - i, y - j
            for di, sx in ((0, 1 - fx), (1, fx)):
                for dj, sy in ((0, 1 - fy), (1, fy)):
                    if sx * sy > 0:
                        out.append((i + di, j + dj, sign_x * sign_y * sx * sy))
    return out
