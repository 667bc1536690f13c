"""Where the figures of one display stand, and each place cut out in one size, so that places can be compared.

A meter has its figures at fixed places. Once the user has told what a few displays of it said, the places are known
from them, also where no figure is lit, and need not be found anew in every picture.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from ohmwright.pictures.display.glass import Glass, Grey, ink_of
from ohmwright.pictures.display.row import LIT, Row, on_level, sheared

FINE = 32
"""Rows of a patch for the height of a figure. [px]"""
PAD = 4
"""Rows of a patch above and below. [px]"""
SLACK = 2
"""How far a place may be off in a patch. [px]"""
NEAR_WHITE = 7
"""How far the smear about a white place reaches. [px] estimate"""
EDGE = 0.02
"""Share of the width on either side where the case may be seen past corners that were marked loosely. [1]"""
WIDE = 0.8
"""Share of the broadest figure from which a figure fills its place, so that its middle is the place's. [1]"""
ASTRAY = 0.07
"""How far the figures may be off their places, as a share of their height. [1]"""


@dataclass(frozen=True, slots=True)
class Places:
    """The places of a display, counted from the last figure's to the left.

    Parameters
    ----------
    right : float
        Middle of the last figure. [px]
    step : float
        From one figure to the next. [px]
    bottom, drop : float
        Foot of the last figure, and how much lower the next to its left stands. [px]
    high, wide : float
        Of a figure. [px]
    lean : float
        Sideways per downwards. [1]
    dark : bool
        Whether ink is darker than the glass.
    """

    right: float
    step: float
    bottom: float
    drop: float
    high: float
    wide: float
    lean: float
    dark: bool

    @property
    def count(self) -> int:
        """Places that the glass has room for, the last of them perhaps only in part. [1]"""
        return max(1, min(10, math.ceil((self.right + 0.5 * self.step) / self.step)))


@dataclass(frozen=True, slots=True)
class Upright:
    """Ink made upright and scaled to 1 where it is on; letters do not lean, so they are kept as they are."""

    ink: Grey
    plain: Grey
    white: Grey
    plain_white: Grey


def upright(glass: Glass, places: Places) -> Upright | None:
    """The ink of a glass whose figures stand at known places; None where nothing is lit."""
    fine = ink_of(glass, dark=places.dark, reach=int(0.9 * places.high))
    top, bottom = int(max(places.bottom - places.high, 0)), int(places.bottom)
    on = on_level(fine[top:bottom], glass.clipped[top:bottom])
    if on < 4.0:
        return None
    fine = np.asarray(cv2.GaussianBlur(np.asarray(fine / on, np.float32), (0, 0), 1.0), np.float32)
    edge = max(3, int(EDGE * fine.shape[1]))
    fine[:, :edge] = fine[:, -edge:] = 0.0
    smear = cv2.dilate(glass.clipped.astype(np.uint8), np.ones((NEAR_WHITE, NEAR_WHITE), np.uint8)).astype(np.float32)
    ink = sheared(fine, places.lean, bottom)
    white = sheared(smear, places.lean, bottom) * (ink < LIT)
    return Upright(ink, fine, white, np.asarray(smear * (fine < LIT), np.float32))


def cut(image: Grey, places: Places, place: float, *, wide: float, slack: int = SLACK) -> Grey:
    """One place in the common size, with so much more on every side. [px]"""
    scale = places.high / FINE
    rows, columns = FINE + 2 * PAD + 2 * slack, max(3, round(wide / scale)) + 2 * slack
    middle, foot = places.right - places.step * place, places.bottom + places.drop * place
    left, top = middle - scale * (columns - 1) / 2, foot - scale * (FINE + PAD + slack)
    way = np.array([[scale, 0, left], [0, scale, top]], np.float32)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(cv2.warpAffine(image, way, (columns, rows), flags=flags), np.float32)


def point_patch(image: Grey, places: Places, place: int) -> Grey:
    """The foot of the gap after a place, where its point would stand; the strokes on both sides are left out."""
    gap = places.step - places.wide
    whole = cut(image, places, place - 0.5, wide=max(0.75 * gap, 0.06 * places.high), slack=0)
    return whole[PAD + int(0.74 * FINE) :]


@dataclass(frozen=True, slots=True)
class Seen:
    """Where the figures of one told display were found.

    Parameters
    ----------
    middles : tuple of (place, middle, foot)
        Of the figures that fill their places. [1], [px]
    """

    middles: tuple[tuple[int, float, float], ...]
    row: Row
    dark: bool


def seen_in(row: Row, text: str, dark: bool) -> Seen | None:
    """The places of a row that has as many figures as were told; else None."""
    figures = [c for c in text if c not in ".-"]
    boxes = [box for box in row.boxes if box.high > 0.34 * row.high]
    if len(boxes) != len(figures) or not figures:
        return None
    broadest = max(box.wide for box in boxes)
    if not 0.36 * row.high < broadest < 0.85 * row.high:
        return None
    middles = tuple(
        (len(boxes) - 1 - k, (box.left + box.right) / 2, float(box.bottom))
        for k, box in enumerate(boxes) if box.wide > WIDE * broadest
    )  # fmt: skip
    return Seen(middles, row, dark)


def places_of(found: Sequence[Seen]) -> Places | None:
    """The places that told displays agree on; None where they do not, or where two places are not known yet."""
    several = [s for s in found if s.middles]
    if not several:
        return None
    dark = sum(s.dark for s in several) * 2 > len(several)
    several = [s for s in several if s.dark is dark]
    high = float(np.median([s.row.high for s in several]))
    points: NDArray[np.float64] = np.array([m for s in several for m in s.middles], float)
    if len(np.unique(points[:, 0])) < 2:
        return None
    ones = np.stack((np.ones(len(points)), points[:, 0]), axis=1)
    (right, step), *_ = np.linalg.lstsq(ones, points[:, 1], rcond=None)
    off = np.abs(ones @ (right, step) - points[:, 1])
    (bottom, drop), *_ = np.linalg.lstsq(ones, points[:, 2], rcond=None)
    wide = float(np.median([max(b.wide for b in s.row.boxes) for s in several]))
    if float(np.median(off)) > ASTRAY * high or not wide < -step < 2.2 * high:
        return None
    lean = float(np.median([s.row.lean for s in several]))
    return Places(float(right), float(-step), float(bottom), float(drop), high, wide, lean, dark)
