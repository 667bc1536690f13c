"""The glass of a meter's display cut out of a camera's picture, square, and freed of the room's light.

Ink means what the display has switched on, whether it is dark on a light glass or light on a dark one. Glare adds
light and so leaves the difference between ink and glass as it is, until the picture is so bright that both are white:
those places are kept as `clipped`, and nothing is ever concluded from finding no ink there.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from ohmwright.errors import DataError

Grey = NDArray[np.float32]
TALL = 200
"""Height of the glass once it is square. [px]"""
WIDEST = 8.0
"""Width over height of the flattest display there is. [1] estimate"""
WHITE = 251.0
"""Grey level from which a pixel may be anything brighter. [1]"""
CHANGED, LEVELS = 7, 11.0
"""Width of a change that is looked for, and its least grey levels: a segment in poor light makes twice as many. [px]"""
NOISE = 1.2
"""Smoothing against the camera's noise. [px]"""


@dataclass(frozen=True, slots=True)
class Glass:
    """A display made square.

    Parameters
    ----------
    grey : ndarray, shape (TALL, width)
        Grey levels. [1]
    clipped : ndarray of bool
        Where the camera saw white.
    """

    grey: Grey
    clipped: NDArray[np.bool_]


def glass_from_picture(picture: NDArray[np.uint8], corners: NDArray[np.float64]) -> Glass:
    """The glass between four corners, clockwise from the upper left. [px]

    Raises
    ------
    DataError
        If the corners do not enclose anything that could be a display.
    """
    grey = picture if picture.ndim == 2 else cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)
    points = np.asarray(corners, np.float32)
    if points.shape != (4, 2) or not np.isfinite(points).all() or cv2.contourArea(points) < 400:
        raise DataError("These corners enclose no display.", hint="mark the four corners of the glass, clockwise")
    if not cv2.isContourConvex(points.reshape(-1, 1, 2)):
        raise DataError(
            "The corners cross.", hint="mark them in order: upper left, upper right, lower right, lower left"
        )
    wide = float(np.linalg.norm(points[1] - points[0]) + np.linalg.norm(points[2] - points[3])) / 2
    high = float(np.linalg.norm(points[3] - points[0]) + np.linalg.norm(points[2] - points[1])) / 2
    width = int(np.clip(TALL * wide / max(high, 1.0), TALL * 0.5, TALL * WIDEST))
    square = np.array([[0, 0], [width, 0], [width, TALL], [0, TALL]], np.float32)
    way = cv2.getPerspectiveTransform(points, square)
    flat = cv2.warpPerspective(grey, way, (width, TALL), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    levels = flat.astype(np.float32)
    return Glass(np.asarray(cv2.GaussianBlur(levels, (0, 0), NOISE), np.float32), np.asarray(levels >= WHITE))


def ink_of(glass: Glass, *, dark: bool, reach: int) -> Grey:
    """How far each place differs from the glass around it, towards ink. [1]

    Parameters
    ----------
    dark : bool
        Whether ink is darker than the glass.
    reach : int
        Width of the neighbourhood whose median stands for the glass. [px]
    """
    small = cv2.resize(glass.grey, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    size = max(3, reach // 4) | 1
    ground = cv2.medianBlur(np.clip(small, 0, 255).astype(np.uint8), size).astype(np.float32)
    smooth = cv2.GaussianBlur(ground, (0, 0), size / 6)
    whole = cv2.resize(smooth, (glass.grey.shape[1], glass.grey.shape[0]), interpolation=cv2.INTER_LINEAR)
    way = whole - glass.grey if dark else glass.grey - whole
    return np.asarray(np.maximum(way, 0), np.float32)


def looks_dark(glass: Glass) -> bool:
    """Whether ink is more likely dark than light: of two tones the rarer one is ink."""
    dark, light = (ink_of(glass, dark=way, reach=int(0.5 * TALL)) for way in (True, False))
    return bool(np.sum(dark**2) > np.sum(light**2))


def corners_found(picture: NDArray[np.uint8]) -> NDArray[np.float64] | None:
    """The corners of the glass where one clear four-cornered area stands out; else None. [px]

    Only a proposal to be looked over: it is drawn on the picture before anything is read.
    """
    grey = picture if picture.ndim == 2 else cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)
    scale = 480.0 / max(grey.shape)
    small = cv2.GaussianBlur(cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), (0, 0), 1.5)
    best: tuple[float, NDArray[np.float64]] | None = None
    filled = cv2.morphologyEx(small, cv2.MORPH_CLOSE, np.ones((15, 15), np.uint8))
    emptied = cv2.morphologyEx(small, cv2.MORPH_OPEN, np.ones((15, 15), np.uint8))
    for image, way in ((filled, cv2.THRESH_BINARY), (emptied, cv2.THRESH_BINARY_INV)):
        _, mask = cv2.threshold(image, 0, 255, way + cv2.THRESH_OTSU)
        found = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)[0]
        for contour in found:
            corners = _four(np.asarray(contour, np.int32), small.shape)
            if corners is not None and (best is None or cv2.contourArea(contour) > best[0]):
                best = (float(cv2.contourArea(contour)), corners / scale)
    return None if best is None else best[1]


def _four(contour: NDArray[np.int32], shape: tuple[int, ...]) -> NDArray[np.float64] | None:
    area, whole = cv2.contourArea(contour), shape[0] * shape[1]
    if not 0.02 * whole < area < 0.9 * whole:
        return None
    hull = cv2.convexHull(contour)
    outline = cv2.approxPolyDP(hull, 0.03 * cv2.arcLength(hull, True), True)
    if len(outline) != 4 or area < 0.85 * cv2.contourArea(outline):
        return None
    points = outline.reshape(4, 2).astype(np.float64)
    sums, differences = points.sum(1), points[:, 0] - points[:, 1]
    order = [int(np.argmin(sums)), int(np.argmax(differences)), int(np.argmax(sums)), int(np.argmin(differences))]
    if len(set(order)) != 4:
        return None
    ordered = points[order]
    wide = np.linalg.norm(ordered[1] - ordered[0])
    return ordered if 1.2 < wide / max(float(np.linalg.norm(ordered[3] - ordered[0])), 1.0) < WIDEST else None


def unchanged(before: Glass, now: Glass) -> bool:
    """Whether two pictures of one glass show the same: nothing as large as a segment is lighter or darker."""
    if before.grey.shape != now.grey.shape:
        return False
    change = cv2.blur(now.grey - before.grey, (CHANGED, CHANGED))
    change -= np.median(change)
    return float(np.abs(change[CHANGED:-CHANGED, CHANGED:-CHANGED]).max()) < LEVELS
