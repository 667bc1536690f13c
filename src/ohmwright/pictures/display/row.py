"""The row of figures on a glass: where it is, how it leans, where each figure stands, and the points between them."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from ohmwright.pictures.display.glass import TALL, Glass, Grey, ink_of

LOWEST, HIGHEST = 0.28, 0.92
"""Share of the glass's height that figures take. [1] estimate"""
SHORTEST = 0.66
"""Height of the lowest figure, a slender one or four, as a share of the tallest. [1]"""
LIT = 0.5
"""Ink from which a place is lit, and its being white means nothing. [1]"""
LEANS = np.tan(np.radians(np.arange(-3.0, 16.1, 0.75)))


@dataclass(frozen=True, slots=True)
class Box:
    """A figure's place on the upright ink. [px]"""

    left: int
    right: int
    top: int
    bottom: int

    @property
    def wide(self) -> int:
        """[px]"""
        return self.right - self.left

    @property
    def high(self) -> int:
        """[px]"""
        return self.bottom - self.top


@dataclass(frozen=True, slots=True)
class Row:
    """A row of figures made upright.

    Parameters
    ----------
    ink : ndarray
        Upright ink, 1 where the display is fully on. [1]
    plain : ndarray
        The same before it was made upright: letters do not lean with the figures. [1]
    clipped : ndarray of bool
        Where the camera saw white and nothing is lit: there may be ink or none.
    top, bottom : int
        Of the row. [px]
    boxes : tuple of Box
        Figures, left to right; a minus is among them.
    points : tuple of Box
        Small marks at the foot of the row.
    others : tuple of Box
        What is in the row and is no figure, mostly the unit.
    lean : float
        Sideways per downwards. [1]
    """

    ink: Grey
    plain: Grey
    clipped: NDArray[np.bool_]
    top: int
    bottom: int
    boxes: tuple[Box, ...]
    points: tuple[Box, ...]
    others: tuple[Box, ...]
    lean: float

    @property
    def high(self) -> int:
        """Height of a figure. [px]"""
        return self.bottom - self.top


def row_of(glass: Glass, *, dark: bool) -> Row | None:
    """The row of figures, or None where there is none."""
    rough = ink_of(glass, dark=dark, reach=int(0.55 * TALL))
    band = _band(rough, glass.clipped)
    if band is None:
        return None
    top, bottom = band
    fine = ink_of(glass, dark=dark, reach=int(0.9 * (bottom - top)))
    on = on_level(fine[top:bottom], glass.clipped[top:bottom])
    if on < 6.0:
        return None
    fine = np.asarray(fine / on, np.float32)
    lean = _lean(fine[top:bottom])
    first = _parts(sheared(fine, lean, bottom), top, bottom)
    if first is None:
        return None
    if first[2]:  # the unit stands upright and has a say in the lean of the figures: ask the figures alone
        span = slice(max(0, first[0][0].left - 8), first[0][-1].right + 8)
        lean = _lean(fine[top:bottom, span])
    upright = sheared(fine, lean, bottom)
    parts = _parts(upright, top, bottom)
    if parts is None:
        return None
    white = sheared(glass.clipped.astype(np.float32), lean, bottom) > 0.5
    return Row(upright, fine, white & (upright < LIT), top, bottom, *parts, lean)


def sheared(image: Grey, lean: float, bottom: int) -> Grey:
    """The image with what leans made upright; its foot stays where it is. [1], [px]"""
    way = np.array([[1, lean, -lean * bottom], [0, 1, 0]], np.float32)
    return np.asarray(cv2.warpAffine(image, way, (image.shape[1], image.shape[0])), np.float32)


def _mask(ink: Grey, level: float, join: int) -> NDArray[np.uint8]:
    """Ink above a level; what is near above one another is joined, what is near side by side less so. [1], [px]"""
    mask = (ink > level).astype(np.uint8)
    return np.asarray(cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((2 * join - 1, join), np.uint8)), np.uint8)


def _band(ink: Grey, clipped: NDArray[np.bool_]) -> tuple[int, int] | None:
    """Rows of the tallest things that stand side by side. [px]"""
    level = 0.45 * on_level(ink, clipped)
    if level < 3.0:
        return None
    edge = 3
    inner = ink.copy()
    inner[:edge], inner[-edge:], inner[:, :edge], inner[:, -edge:] = 0, 0, 0, 0
    _, _, stats, _ = cv2.connectedComponentsWithStats(_mask(inner, level, 7))
    tall = [
        (int(y), int(y + h), int(a)) for x, y, w, h, a in stats[1:]
        if LOWEST * TALL < h < HIGHEST * TALL and w < 3 * h and a > 0.08 * h * h * min(w / h, 1.0)
    ]  # fmt: skip
    if not tall:
        return None
    groups = []
    for top, bottom, _ in tall:
        slack = 0.1 * (bottom - top)
        near = [(t, b) for t, b, _ in tall if abs(t - top) < slack and abs(b - bottom) < slack]
        groups.append((len(near) * (bottom - top), near))
    best = max(groups, key=lambda g: g[0])[1]
    return int(np.median([t for t, _ in best])), int(np.median([b for _, b in best]))


def on_level(ink: Grey, clipped: NDArray[np.bool_]) -> float:
    """Ink of a place that is on: between the two tones, above Otsu's threshold. [1]"""
    seen = ink[~clipped] if np.count_nonzero(~clipped) > 200 else ink.ravel()
    top = float(np.percentile(seen, 99.5))
    if top < 3.0:
        return 0.0
    scaled = np.clip(seen / top * 255, 0, 255).astype(np.uint8).reshape(1, -1)
    threshold, _ = cv2.threshold(scaled, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    above = seen[scaled.ravel() > threshold]
    return float(np.percentile(above, 60)) if above.size else 0.0


def _lean(ink: Grey) -> float:
    """The shear under which uprights stand upright."""
    high, wide = ink.shape
    best = (0.0, 0.0)
    clear = np.clip(ink, 0, 1.2)
    for lean in LEANS:
        way = np.array([[1, lean, -lean * high], [0, 1, 0]], np.float32)
        sums = cv2.warpAffine(clear, way, (wide, high)).sum(0)
        score = float(np.sum(np.diff(sums) ** 2))
        if score > best[0]:
            best = (score, float(lean))
    return best[1]


def _parts(ink: Grey, top: int, bottom: int) -> tuple[tuple[Box, ...], tuple[Box, ...], tuple[Box, ...]] | None:
    """Figures, points and other things of the row."""
    high = bottom - top
    join = max(3, int(0.05 * high)) | 1
    low, tip = min(ink.shape[0], bottom + int(0.16 * high)), max(0, top - int(0.06 * high))
    mask = _without_edges(_mask(ink[tip:low], 0.45, join))
    points, keep = _points(mask, tip, bottom, high)
    body = mask.copy()
    body[~keep] = 0
    body = body[: bottom + int(0.04 * high) - tip]
    boxes: list[Box] = []
    for left, right in _runs(np.asarray(body.any(0)), max(2, int(0.02 * high))):
        rows = np.flatnonzero(body[:, left:right].any(1))
        box = Box(left, right, tip + int(rows[0]), tip + int(rows[-1]) + 1)
        if box.wide > 0.03 * high and (box.high > 0.05 * high):
            boxes.append(box)
    tall = [k for k, box in enumerate(boxes) if box.high > SHORTEST * high and box.top < top + 0.3 * high]
    if not tall:
        return None
    last = tall[0]
    for k in tall:
        if boxes[k].left - boxes[last].right > 1.3 * high:
            break
        last = k
    figures = [_without_point(box, body, tip, bottom, high, points) for box in boxes[: last + 1]]
    return tuple(figures), tuple(sorted(points, key=lambda p: p.left)), tuple(boxes[last + 1 :])


def _without_edges(mask: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The mask without what hangs at the left and right edges: the case seen past a corner that was marked loosely."""
    wide = mask.shape[1]
    edge = max(3, int(0.02 * wide))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
    for number, (x, _, w, _, _) in enumerate(stats[1:], 1):
        if (
            x + w <= 1.5 * edge
            or x >= wide - 1.5 * edge
            or (x < 2 and w < 3 * edge)
            or (x + w > wide - 2 and w < 3 * edge)
        ):
            mask[labels == number] = 0
    return mask


def _without_point(box: Box, body: NDArray[np.uint8], tip: int, bottom: int, high: int, points: list[Box]) -> Box:
    """The figure without a point that touches it on its left: columns with ink at the foot only."""
    part = body[:, box.left : box.right].astype(bool)
    foot = max(0, bottom - int(0.24 * high) - tip)
    upper = np.flatnonzero(part[:foot].any(0))
    if not upper.size:
        return box
    before, after = int(upper[0]), box.wide - 1 - int(upper[-1])
    least, most = 0.13 * high, 0.26 * high  # the hook of a five or a three is shorter
    if after > 0.5 * before:
        return box  # feet on both sides: a figure one with serifs
    if least < before < most:
        points.append(Box(box.left, box.left + before, bottom - before, bottom))
        return Box(box.left + before, box.right, box.top, box.bottom)
    return box


def _points(mask: NDArray[np.uint8], tip: int, bottom: int, high: int) -> tuple[list[Box], NDArray[np.bool_]]:
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
    points, keep = [], labels > 0
    for number, (x, y, w, h, area) in enumerate(stats[1:], 1):
        foot = tip + y + h
        squat = 0.4 < w / max(h, 1) < 2.5
        if (
            w < 0.26 * high
            and h < 0.26 * high
            and tip + y > bottom - 0.3 * high
            and foot > bottom - 0.1 * high
            and squat
        ):
            points.append(Box(int(x), int(x + w), int(tip + y), int(foot)))
            keep &= labels != number
        elif area < 0.002 * high * high:
            keep &= labels != number
    return sorted(points, key=lambda p: p.left), keep


def _runs(columns: NDArray[np.bool_], gap: int) -> list[tuple[int, int]]:
    """Stretches of columns with ink; gaps narrower than `gap` are bridged. [px]"""
    runs: list[tuple[int, int]] = []
    edges = np.flatnonzero(np.diff(np.concatenate(([0], columns.astype(np.int8), [0]))))
    for left, right in zip(edges[::2], edges[1::2], strict=True):
        if runs and left - runs[-1][1] < gap:
            runs[-1] = (runs[-1][0], int(right))
        else:
            runs.append((int(left), int(right)))
    return runs
