"""What one picture of a board shows otherwise than another, light, colour and focus apart.

Both are laid on the board, brought together once more on patches, made equally soft, and taken as logarithms without
their slow part, so that brighter light, a shadow's slope or another white adds nothing. What then differs by more
than the boards' own small differences do, wherever it is looked for within a tenth of a millimetre, stands out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from ohmwright.errors import DataError
from ohmwright.geometry.camera import View
from ohmwright.geometry.registration import refined
from ohmwright.geometry.transforms import Homography
from ohmwright.pictures.canvas import Field, Pixels
from ohmwright.pictures.matching import ALIKE, LEAST_INLIERS, patches
from ohmwright.pictures.outline import edge_of, flat_to_board, straightened
from ohmwright.pictures.sheets import Sheet

MOST_PX = 9e6
"""Pixels compared. [px]"""
FINEST = 20.0
"""Pixels to the millimetre that are compared, at most. [px/mm]"""
SLOW_MM = 4.0
"""What is softer than this is light, not board. [mm]"""
SMALLER = 0.125
"""Scale at which the slow part is looked for. [1]"""
LEVELS = 64
"""Steps of lightness between which its median is interpolated. [1]"""
SLACK_MM = 0.14
"""How far a part may sit elsewhere and still be the same. [mm] a machine's and a hand's spread, a guess"""
STANDS_OUT = 0.17
"""Difference of the logarithms that a changed part has. [1] a factor of 1.2 in lightness; black on dark green is 0.3"""
CORE = 0.36
"""The strongest part of a small change has to reach so much. [1]"""
BROAD_CORE, BROAD_MM2 = 0.25, 3.0
"""That of a broad one so much: a black body on a dark board is no stronger. [1], [mm2]"""
SMALLEST_MM2 = 0.12
"""Smaller changes are dust or a reflection. [mm2] a 0201's body is 0.18"""
EDGE_MM = 0.8
"""How near the rim of what both show nothing is compared. [mm]"""


@dataclass(frozen=True, slots=True)
class Change:
    """A place that the two pictures show differently.

    Parameters
    ----------
    x_mm, y_mm, width_mm, height_mm : float
        The upright box about it, left upper corner first. [mm] on the board
    strength : float
        How strongly; 1 is a metal cap against bare mask. [1]
    """

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    strength: float


def changes(first: Sheet, first_to_board: Homography, second: Sheet, second_to_board: Homography) -> tuple[Change, ...]:
    """The places that differ, the strongest first. Both pictures must lie on the board already."""
    box, scale = _common(first, first_to_board, second, second_to_board)
    a = straightened(first, View("", first_to_board.inverse), box, scale)
    view = _brought_together(a, box, scale, second, second_to_board)
    b = straightened(second, view, box, scale)
    rim = max(1, round(EDGE_MM * scale))
    on_a, on_b = _on_board(a, rim), _on_board(b, rim)
    both = on_a & on_b
    differs = _difference(a.pixels, b.pixels, both, scale)
    differs[~both] = 0.0
    differs[:rim] = differs[-rim:] = 0.0
    differs[:, :rim] = differs[:, -rim:] = 0.0
    return _places(differs, box, scale)


def _on_board(flat: Sheet, rim: int) -> NDArray[np.bool_]:
    """Where the board is, as far as its edge can be seen: what it lies on is no change of it."""
    width, height = flat.size_px
    mask: Pixels = np.ones((height, width), np.uint8)
    try:
        corners = edge_of(flat).corners
    except DataError:
        return np.asarray(mask, dtype=np.bool_)
    mask[...] = 0
    cv2.fillConvexPoly(mask, np.round(corners).astype(np.int32), (1,))
    return np.asarray(cv2.erode(mask, np.ones((2 * rim + 1, 2 * rim + 1), np.uint8)), dtype=np.bool_)


def _common(
    first: Sheet, to_board: Homography, second: Sheet, second_to_board: Homography
) -> tuple[tuple[float, float, float, float], float]:
    """The box of the board that both show, and pixels to the millimetre that both have."""
    lows, highs, scales = [], [], []
    for sheet, onto in ((first, to_board), (second, second_to_board)):
        width, height = sheet.full_px
        corners = [[0, 0], [width - 1, 0], [width - 1, height - 1], [0, height - 1]]
        rim = onto.applied(np.array(corners, dtype=np.float64))
        lows.append(rim.min(axis=0))
        highs.append(rim.max(axis=0))
        pixel = math.sqrt(abs(float(np.linalg.det(onto.after(sheet.to_full).matrix[:2, :2]))))
        scales.append(1.0 / pixel)
    low, high = np.max(lows, axis=0), np.min(highs, axis=0)
    if (high - low).min() < 2.0:
        raise DataError("These two pictures show no common part of the board.", hint="register one to the other first")
    scale = min(*scales, FINEST, math.sqrt(MOST_PX / float(np.prod(high - low))))
    return (float(low[0]), float(low[1]), float(high[0]), float(high[1])), scale


def _brought_together(
    flat: Sheet, box: tuple[float, float, float, float], scale: float, second: Sheet, second_to_board: Homography
) -> View:
    """The second picture's view, with what registration left over taken out."""
    onto = flat_to_board(flat, box, scale)
    side = "bottom" if second_to_board.mirrors else "top"
    view = View(side, second_to_board.inverse)
    at, there, alike = patches(flat, onto, second, view, 8)
    good = alike >= ALIKE
    if good.sum() < LEAST_INLIERS:
        raise DataError(
            "These two pictures cannot be compared: too little of them looks alike where they lie.",
            hint="register one to the other first, or see whether they show the same board and side",
        )  # fmt: skip
    return refined(view, at[good], there[good], second.full_px, lens=good.sum() > 60)


def _difference(a: Pixels, b: Pixels, on_board: NDArray[np.bool_], scale: float) -> Field:
    """How strongly two straightened pictures differ at each pixel of the board."""
    first, second = _equally_soft(a, b, on_board, scale)
    plain_a, plain_b = (_without_light(one, on_board, scale) for one in (first, second))
    reach = max(1, round(SLACK_MM * scale))
    sigma = 0.08 * scale
    best: Field | None = None
    for dy in range(-reach, reach + 1, max(1, reach // 2)):
        for dx in range(-reach, reach + 1, max(1, reach // 2)):
            moved = np.roll(plain_b, (dy, dx), axis=(0, 1))
            away = cv2.GaussianBlur(np.sqrt(((plain_a - moved) ** 2).mean(axis=2)), (0, 0), sigma)
            best = away if best is None else np.minimum(best, away)
    return np.asarray(best, dtype=np.float32)


def _equally_soft(a: Pixels, b: Pixels, on_board: NDArray[np.bool_], scale: float) -> tuple[Field, Field]:
    """Both with the detail that the softer one has, and no noise."""
    base = max(0.8, 0.05 * scale)
    first, second = (cv2.GaussianBlur(p.astype(np.float32), (0, 0), base) for p in (a, b))

    def detail(picture: Field) -> float:
        grey = np.log(picture.mean(axis=2) + 12.0)
        sharp = np.abs(cv2.Laplacian(grey, cv2.CV_32F))[::2, ::2]
        return float(np.median(sharp[on_board[::2, ::2]]) + 1e-6) if on_board.any() else 1.0

    for sigma in np.arange(0.5, 4.0, 0.5):
        ratio = detail(first) / detail(second)
        if 0.92 < ratio < 1.09:
            break
        if ratio > 1:
            first = cv2.GaussianBlur(a.astype(np.float32), (0, 0), math.hypot(base, sigma))
        else:
            second = cv2.GaussianBlur(b.astype(np.float32), (0, 0), math.hypot(base, sigma))
    return np.asarray(first), np.asarray(second)


def _without_light(picture: Field, on_board: NDArray[np.bool_], scale: float) -> Field:
    """Logarithms without their slow part, so that light, its slope and its colour drop out.

    What the board lies on has no say in the slow part: it is no light that falls on the board.
    """
    logs = np.log(picture + 16.0)
    small = cv2.resize(logs, None, fx=SMALLER, fy=SMALLER, interpolation=cv2.INTER_AREA)
    cover = cv2.resize(on_board.astype(np.float32), (small.shape[1], small.shape[0]), interpolation=cv2.INTER_AREA)
    cover = (cover > 0.99).astype(np.float32)
    # The median of the surroundings is that of the mask, whether a part is there or not.
    k = max(3, round(2 * SLOW_MM * scale * SMALLER)) | 1
    slow = np.dstack([_median_about(small[..., channel], cover, k) for channel in range(small.shape[2])])
    slow = cv2.GaussianBlur(slow, (0, 0), max(1.0, k / 6))
    return np.asarray(logs - cv2.resize(slow, (picture.shape[1], picture.shape[0])), dtype=np.float32)


def _median_about(values: Field, cover: Field, k: int) -> Field:
    """The median of those values within a square about each pixel that the cover counts. [1], [px]"""
    counted = cv2.boxFilter(cover, -1, (k, k), normalize=False, borderType=cv2.BORDER_CONSTANT)
    known = values[cover > 0]
    if not len(known):
        return values
    steps = np.quantile(known, np.linspace(0.0, 1.0, LEVELS))
    out = np.full(values.shape, steps[-1], np.float32)
    below, last = np.zeros(values.shape, np.float32), steps[0]
    for step in steps:
        within = cover * (values <= step)
        share = cv2.boxFilter(within, -1, (k, k), normalize=False, borderType=cv2.BORDER_CONSTANT)
        share = share / np.maximum(counted, 1.0)
        crossed = (share >= 0.5) & (below < 0.5)
        part = (0.5 - below) / np.maximum(share - below, 1e-6)
        out = np.where(crossed, last + part * (step - last), out)
        below, last = share, step
    return np.asarray(out, dtype=np.float32)


def _places(differs: Field, box: tuple[float, float, float, float], scale: float) -> tuple[Change, ...]:
    mask = (differs > STANDS_OUT).astype(np.uint8)
    k = max(3, round(0.3 * scale)) | 1
    joined = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (k, k)))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(joined)
    found = []
    for n in range(1, count):
        x, y, w, h, _ = (int(v) for v in stats[n])
        piece = differs[y : y + h, x : x + w][labels[y : y + h, x : x + w] == n]
        strong = piece > STANDS_OUT
        area = float(strong.sum()) / scale**2
        wanted = BROAD_CORE if area >= BROAD_MM2 else CORE
        if area >= SMALLEST_MM2 and float(np.quantile(piece, 0.95)) >= wanted:
            found.append(
                Change(box[0] + x / scale, box[1] + y / scale, w / scale, h / scale, float(piece[strong].mean()))
            )
    return tuple(sorted(found, key=lambda change: -change.strength * math.sqrt(change.width_mm * change.height_mm)))
