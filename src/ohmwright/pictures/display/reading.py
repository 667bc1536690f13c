"""What a display says, put together: figures, sign, point, unit and words, or why it is not certain.

Nothing is guessed. Every figure has to be clear, every place between and before the figures has to be clearly empty
or clearly marked, and where the camera saw only white nothing is taken for empty.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from ohmwright.pictures.display.doubt import DoubtError
from ohmwright.pictures.display.figures import cell_width, check_feet, signs_of
from ohmwright.pictures.display.glass import TALL, Glass, Grey, glass_from_picture, looks_dark
from ohmwright.pictures.display.lettering import mark_patch
from ohmwright.pictures.display.marks import UNITS, Mark, faint_words, mark_in, unit_boxes, word_boxes
from ohmwright.pictures.display.places import (
    check_after,
    check_before,
    check_minus,
    check_places,
    point_of,
    prefix_seen,
)
from ohmwright.pictures.display.row import Row, row_of

ALIKE, APART = 0.93, 0.06
"""Correlation from which a mark is one that was taught, and by how much it must beat another. [1]"""


@dataclass(frozen=True, slots=True)
class Taught:
    """A mark whose meaning the user told once. Shape of the patch: `lettering.MARK_SIZE`."""

    says: str
    patch: Grey


@dataclass(frozen=True, slots=True)
class DisplayRead:
    """What one picture of a display says.

    Parameters
    ----------
    text : str
        Figures with sign and point, or ``OL``; "" where they are not certain.
    unit : str
        As printed, ``mV``; "" where it is not certain.
    words : tuple of str
        Words above the figures that are certain, ``DC``, ``HOLD``, ``diode``.
    unknown : int
        Marks above the figures that say nothing certain. [1]
    margin : float
        How far the least clear figure is from doubt, from 0 to 1. [1]
    why : str
        What is in doubt; "" for nothing.
    boxes : tuple
        Left, top, right, bottom of each figure as shares of the glass. [1]
    marks : tuple of ndarray
        Patches of the unit and of the unknown words, to be taught.
    """

    text: str = ""
    unit: str = ""
    words: tuple[str, ...] = ()
    unknown: int = 0
    margin: float = 0.0
    why: str = ""
    boxes: tuple[tuple[float, float, float, float], ...] = ()
    marks: tuple[Grey, ...] = ()

    @property
    def sure(self) -> bool:
        """Whether figures, unit and words are all certain."""
        return bool(self.text and self.unit) and not self.unknown

    @property
    def held(self) -> bool:
        """Whether the meter says that it holds an old value."""
        return "HOLD" in self.words


def read_display(
    picture: NDArray[np.uint8], corners: NDArray[np.float64], taught: tuple[Taught, ...] = ()
) -> DisplayRead:
    """Read a display between its corners. [px]

    Raises
    ------
    DataError
        If the corners enclose nothing.
    """
    glass = glass_from_picture(picture, corners)
    first = looks_dark(glass)
    found = _read(glass, first, taught)
    if found.text:
        return found
    other = _read(glass, not first, taught)
    return other if other.text and other.unit else found


def _read(glass: Glass, dark: bool, taught: tuple[Taught, ...]) -> DisplayRead:
    row = row_of(glass, dark=dark)
    if row is None:
        return DisplayRead(why="there are no figures to be seen")
    wide = row.ink.shape[1]
    boxes = tuple((b.left / wide, b.top / TALL, b.right / wide, b.bottom / TALL) for b in row.boxes)
    marked = _marked(row, taught)
    try:
        text, margin = _text(row)
    except DoubtError as doubt:
        return replace(marked, unit="", why=str(doubt), boxes=boxes)  # a figure run into its unit spoils both
    why = (
        ""
        if marked.unit and not marked.unknown
        else "the unit is not clear"
        if not marked.unit
        else "a mark is not clear"
    )
    return replace(marked, text=text, margin=margin, why=why, boxes=boxes)


def _text(row: Row) -> tuple[str, float]:
    """Figures with sign and point, and the margin."""
    boxes = row.boxes
    low = [box.high < 0.34 * row.high for box in boxes]
    minus = low[0]
    figures = boxes[1:] if minus else boxes
    if any(low[1:]) or not figures:
        raise DoubtError("something in the row is no figure")
    if len(figures) > 8:
        raise DoubtError("there are more figures than a meter has")
    wide = cell_width(figures, row.high)
    if minus:
        check_minus(row, boxes[0], figures[0])
    signs, margin, typed = signs_of(row, figures, wide)
    check_feet(row, figures, signs)
    point = point_of(row, figures, wide)
    check_places(row, figures, wide, point, typed)
    check_before(row, figures[0], boxes[0] if minus else None, wide)
    check_after(row, figures[-1], wide)
    if "L" in signs:
        if signs not in ("0L", "L0") or minus:
            raise DoubtError("an L among the figures")
        if signs == "L0":
            raise DoubtError("an L before the figures")
        return "OL", margin
    text = signs if point < 0 else f"{signs[:point] or '0'}.{signs[point:]}"
    return ("-" if minus else "") + text, margin


def _marked(row: Row, taught: tuple[Taught, ...]) -> DisplayRead:
    """Unit and words."""
    units = [_told(row.ink, mark_in(row.ink, box), taught) for box in unit_boxes(row)]
    words = [_told(row.plain, mark_in(row.plain, box), taught) for box in word_boxes(row)]
    clear = [m.says for m in units if m.says in UNITS]
    unit = clear[0] if len(clear) == 1 and all(m.says for m in units) else ""
    if unit and not prefix_seen(row, next(m.box for m in units if m.says == unit)):
        unit = ""
    said = [m.says for m in (*units, *words) if m.says and m.says not in UNITS]
    dark = [m for m in words if not m.says or m.says in UNITS]
    lost = faint_words(row, tuple(m.box for m in words))
    patches = tuple(mark_patch(row.ink, m.box.left, m.box.right, m.box.top, m.box.bottom) for m in units if not unit)
    patches += tuple(mark_patch(row.plain, m.box.left, m.box.right, m.box.top, m.box.bottom) for m in dark)
    return DisplayRead(unit=unit, words=tuple(said), unknown=len(dark) + lost, marks=patches)


def _told(ink: Grey, mark: Mark, taught: tuple[Taught, ...]) -> Mark:
    """A mark the network is not sure of, by what the user taught."""
    if mark.says or not taught:
        return mark
    box = mark.box
    patch = mark_patch(ink, box.left, box.right, box.top, box.bottom)
    likeness: dict[str, float] = {}
    for one in taught:
        likeness[one.says] = max(likeness.get(one.says, -1.0), _likeness(patch, one.patch))
    best = max(likeness, key=lambda says: likeness[says])
    second = max((value for says, value in likeness.items() if says != best), default=-1.0)
    if likeness[best] > ALIKE and likeness[best] - second > APART:
        return Mark(best, likeness[best], box)
    return mark


def _likeness(a: Grey, b: Grey) -> float:
    x, y = cv2.GaussianBlur(a, (0, 0), 0.7).ravel(), cv2.GaussianBlur(b, (0, 0), 0.7).ravel()
    x, y = x - x.mean(), y - y.mean()
    size = float(np.linalg.norm(x) * np.linalg.norm(y))
    return float(x @ y) / size if size > 0 else -1.0
