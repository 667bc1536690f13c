"""A side of the board cut into fields of a lens: which have been looked at, and how closely.

What goes on record are rectangles that were looked over, of whatever size; the fields are only how they are counted.
So a field counts as seen at the strongest magnification at which nearly all of it was in some rectangle.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

FIELD_NUMBER = 22.0
"""Diameter of what a ten-times eyepiece shows of its image. [mm] the field number marked on it, "Field Number"
in Edmund Optics' glossary; 18 to 23 are common practice, no source"""
EYEPIECE = 10.0
"""Magnification of that eyepiece. [1]"""
SQUARE = 0.7
"""Edge of the square that lies wholly in a round field, over its diameter. [1] 1/sqrt 2"""
COVERED = 0.95
"""Share of a field that has to have been in sight. [1] a choice: a hand does not lay fields edge to edge"""
SAMPLES = 9
"""Places along each edge of a field that are asked for. [1]"""
MOST_FIELDS = 1200
"""More fields than anybody looks at; then they are made larger. [1]"""
Box = tuple[float, float, float, float]
"""Left, top, width, height. [mm]"""


@dataclass(frozen=True, slots=True)
class Looked:
    """A rectangle that was looked over. [mm], [1]"""

    box: Box
    magnification: float


@dataclass(frozen=True, slots=True)
class LensField:
    """One field of a side.

    Parameters
    ----------
    name : str
        Row by a letter, column by a number, as on a chart: ``B3``.
    seen : float
        The strongest magnification at which it was looked over; 0 where it was not. [1]
    """

    name: str
    box: Box
    seen: float


def field_mm(magnification: float) -> float:
    """Edge of the square of a board that a lens of so much magnification shows at once. [1], [mm]"""
    return SQUARE * FIELD_NUMBER * EYEPIECE / magnification


def lens_fields(
    board: Box, magnification: float, looked: Sequence[Looked], rim: Sequence[tuple[float, float]] = ()
) -> tuple[LensField, ...]:
    """The fields of a side, row by row, every second row backwards: the next one always lies beside the last.

    Parameters
    ----------
    board : (float, float, float, float)
        What of the side there is to be looked at. [mm]
    magnification : float
        Of the lens. [1]
    rim : sequence of (float, float)
        Corners of the line round the board; a field that has nothing of the board in it is none. [mm]
    """
    left, top, width, height = board
    if not (width > 0.0 and height > 0.0 and magnification > 0.0):
        return ()
    edge = max(field_mm(magnification), math.sqrt(width * height / MOST_FIELDS))
    across, down = (max(1, math.ceil(size / edge - 1e-9)) for size in (width, height))
    w, h = width / across, height / down
    out = []
    for row in range(down):
        line = [
            LensField(f"{row_letters(row)}{column + 1}", (left + column * w, top + row * h, w, h), 0.0)
            for column in range(across)
        ]
        out += line if row % 2 == 0 else line[::-1]
    kept = [one for one in out if not rim or has_board(one.box, rim)]
    return tuple(LensField(one.name, one.box, seen_at(one.box, looked)) for one in kept)


def has_board(box: Box, line: Sequence[tuple[float, float]]) -> bool:
    """Whether anything inside a closed line lies in a box. [mm]"""
    left, top, width, height = box
    corners = np.array(line, dtype=float)
    inside = (corners > (left, top)).all(axis=1) & (corners < (left + width, top + height)).all(axis=1)
    if inside.any():
        return True
    steps = np.linspace(0.0, 1.0, SAMPLES)
    x, y = (axis.ravel()[:, None] for axis in np.meshgrid(left + width * steps, top + height * steps))
    (x0, y0), (x1, y1) = corners.T, np.roll(corners, -1, axis=0).T
    # A place is inside where a ray from it to the right crosses the line an odd number of times.
    crosses = (y0 > y) != (y1 > y)
    at = x0 + (y - y0) * (x1 - x0) / np.where(y1 == y0, 1.0, y1 - y0)
    return bool(((crosses & (at > x)).sum(axis=1) % 2 == 1).any())


def seen_at(box: Box, looked: Sequence[Looked]) -> float:
    """The strongest magnification at which nearly all of a box was looked over; 0 where it was not. [mm], [1]"""
    left, top, width, height = box
    steps = (np.arange(SAMPLES) + 0.5) / SAMPLES
    x, y = np.meshgrid(left + width * steps, top + height * steps)
    best = np.zeros(x.shape)
    for one in looked:
        a, b, w, h = one.box
        inside = (x >= a) & (x <= a + w) & (y >= b) & (y <= b + h)
        best = np.where(inside, np.maximum(best, one.magnification), best)
    flat = np.sort(best.ravel())
    return float(flat[math.floor((1.0 - COVERED) * len(flat))])


def row_letters(row: int) -> str:
    """A, B … Z, AA, AB … for rows from 0. [1]"""
    name = ""
    row += 1
    while row:
        row, letter = divmod(row - 1, 26)
        name = chr(ord("A") + letter) + name
    return name
