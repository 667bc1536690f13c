"""What a display says, put together: figures, sign, point, unit and words, or why it is not certain.

Nothing is guessed. Every figure has to be clear, every place between and before the figures has to be clearly empty
or clearly marked, and where the camera saw only white nothing is taken for empty.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from ohmwright.pictures.display.glass import TALL, Glass, Grey, glass_from_picture, looks_dark
from ohmwright.pictures.display.lettering import figure_patch, mark_patch, net
from ohmwright.pictures.display.marks import UNITS, Mark, mark_in, unit_boxes, word_boxes
from ohmwright.pictures.display.row import Box, Row, row_of
from ohmwright.pictures.display.segments import Figure, figure_of, segment_levels

POINT_ON, POINT_OFF = 0.55, 0.28
"""Level from which a point is there, and to which it is not. [1]"""
FAINT = 0.36
"""Ink in an empty place from which it is not certainly empty. [1]"""
BLIND = 0.12
"""Share of white from which a place cannot be called empty. [1]"""
TYPE_SURE = 0.92
"""Probability from which a figure set in type is believed. [1]"""
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


class _DoubtError(Exception):
    """Why the display is not read; it never leaves this module."""


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
    except _DoubtError as doubt:
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
        raise _DoubtError("something in the row is no figure")
    if len(figures) > 8:
        raise _DoubtError("there are more figures than a meter has")
    wide = _cell(figures, row.high)
    if minus:
        _check_minus(row, boxes[0], figures[0])
    signs, margin, typed = _signs(row, figures, wide)
    _check_feet(row, figures, signs)
    point = _point(row, figures, wide)
    _check_places(row, figures, wide, point, typed)
    _check_before(row, figures[0], boxes[0] if minus else None, wide)
    _check_after(row, figures[-1], wide)
    if "L" in signs:
        if signs not in ("0L", "L0") or minus:
            raise _DoubtError("an L among the figures")
        if signs == "L0":
            raise _DoubtError("an L before the figures")
        return "OL", margin
    text = signs if point < 0 else f"{signs[:point] or '0'}.{signs[point:]}"
    return ("-" if minus else "") + text, margin


def _cell(figures: tuple[Box, ...], high: int) -> float:
    """Width of a whole figure. [px]"""
    widest = max(box.wide for box in figures)
    if widest > 0.85 * high:
        raise _DoubtError("figures run together")
    return float(widest if widest > 0.36 * high else 0.55 * high)


def _signs(row: Row, figures: tuple[Box, ...], wide: float) -> tuple[str, float, bool]:
    """Figures by their segments, or else as type; and whether they are set in type."""
    stroke = _stroke(row, figures)
    by_segment = [_by_segments(row, box, wide, stroke) for box in figures]
    by_type = [_by_type(row, box) for box in figures]
    if all(figure.sign for figure in by_segment):
        for one, other in zip(by_segment, by_type, strict=True):
            if other.sign and other.sign != one.sign and other.margin > 0.9:
                raise _DoubtError(f"a figure looks like {one.sign} and like {other.sign}")
        return "".join(f.sign for f in by_segment), min(f.margin for f in by_segment), False
    if any(figure.half for figure in by_segment):
        raise _DoubtError(next(f.why for f in by_segment if f.half))
    if all(figure.sign for figure in by_type):
        for box in figures:
            if _white(row, box.left, box.right, row.top, row.bottom) > BLIND:
                raise _DoubtError("light falls on a figure")
        for one, other in zip(by_segment, by_type, strict=True):
            if one.sign and one.sign != other.sign and one.margin > 0.5:
                raise _DoubtError(f"a figure looks like {one.sign} and like {other.sign}")
        return "".join(f.sign for f in by_type), min(f.margin for f in by_type), True
    worst = next(f for f in by_segment if not f.sign)
    raise _DoubtError(worst.why)


def _stroke(row: Row, figures: tuple[Box, ...]) -> float:
    """Width of the uprights. [px]"""
    lengths: list[int] = []
    for share in (0.22, 0.27, 0.73, 0.78):
        y = int(row.top + share * row.high)
        line = row.ink[y, figures[0].left : figures[-1].right] > 0.5
        edges = np.flatnonzero(np.diff(np.concatenate(([0], line.astype(np.int8), [0]))))
        lengths += [int(b - a) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 0.04 * row.high]
    middle = float(np.median(lengths)) if lengths else 0.13 * row.high
    return float(np.clip(middle, 0.08 * row.high, 0.22 * row.high))


def _by_segments(row: Row, box: Box, wide: float, stroke: float) -> Figure:
    """A figure by its segments: in its box's own cell, in a whole cell to its right edge, or, for an L, to its left."""
    top, bottom = (box.top, box.bottom) if box.high > 0.9 * row.high else (row.top, row.bottom)
    tries = [figure_of(row.ink, box, top, bottom, wide, stroke)]
    if box.wide > 0.8 * wide:
        tries.append(figure_of(row.ink, box, top, bottom, float(box.wide), stroke))
    if not any(t.sign for t in tries) and 0.4 * wide < box.wide < 0.97 * wide:
        whole = Box(box.left, int(box.left + wide), box.top, box.bottom)
        leftmost = figure_of(row.ink, whole, top, bottom, wide, stroke)
        if leftmost.sign == "L":
            tries.append(leftmost)
    signs = {t.sign for t in tries if t.sign}
    if len(signs) > 1:
        return Figure("", 0.0, f"a figure may be {' or '.join(sorted(signs))}")
    figure = max(tries, key=lambda t: (bool(t.sign), t.margin))
    narrow = box.wide < max(0.42 * wide, 1.7 * stroke)
    if figure.sign == "1" and not narrow:
        return Figure("", 0.0, "a figure one as wide as others")
    if figure.sign and narrow and figure.sign != "1":
        return Figure("", 0.0, "a narrow figure that is no one")
    blind = _white(row, int(box.right - wide), box.right, row.top, row.bottom)
    if figure.sign and figure.sign != "8" and blind > BLIND / 2:
        return Figure("", figure.margin, "light falls on a figure")
    return figure


SIDES = {"0": "bcef", "3": "bc", "5": "cf", "6": "cef", "8": "bcef", "9": "bcf"}
"""Sides that every type draws of a round figure, named as segments are; the others of the four are open."""
SIDE_ON, SIDE_OPEN = 0.6, 0.45
"""Level, of the strongest, from which a side is drawn, and to which it is open. [1]"""


def _by_type(row: Row, box: Box) -> Figure:
    """A figure by the network, unless its sides say that it cannot be that one."""
    sign, odds = net("figures").sign(figure_patch(row.ink, box.left, box.right, row.top, row.bottom), TYPE_SURE)
    if sign in SIDES:
        levels = segment_levels(row.ink, box, row.top, row.bottom, float(box.wide), 0.16 * row.high)
        full = sum(sorted(levels.values())[-2:]) / 2
        levels = {name: level / max(full, 1e-6) for name, level in levels.items()}
        for side in "bcef":
            on = side in SIDES[sign]
            if levels[side] < SIDE_ON if on else levels[side] > SIDE_OPEN:
                return Figure("", odds, f"it is like {sign}, but its sides are not")
    return Figure("" if sign == "-" else sign, odds, "" if sign else "a figure is not clear")


def _check_feet(row: Row, figures: tuple[Box, ...], signs: str) -> None:
    """No point hides at the foot of a figure: nothing hangs below the row, and no foot is broader than its figure."""
    high = row.high
    lowest = float(np.median([box.bottom for box in figures]))
    for box, sign in zip(figures, signs, strict=True):
        if box.bottom > max(lowest, row.bottom) + 0.045 * high:
            raise _DoubtError("something hangs below a figure")
        part = row.ink[box.top : row.bottom, box.left : box.right] > 0.45
        foot = max(1, part.shape[0] - int(0.24 * high))
        upper = np.flatnonzero(part[:foot].any(0))
        after = box.wide - 1 - int(upper[-1]) if upper.size else 0
        before = int(upper[0]) if upper.size else 0
        if sign == "L":
            continue
        # The foot of a one reaches out on both sides, and its flag hides some of the left.
        broad = max(after, before - 0.03 * high) > 0.05 * high
        if sign == "1":
            broad = before > after + 0.03 * high or after > 0.24 * high
        if broad:
            raise _DoubtError("something stands at the foot of a figure")


def _white(row: Row, left: int, right: int, top: int, bottom: int) -> float:
    part = row.clipped[max(top, 0) : bottom, max(left, 0) : max(right, 0)]
    return float(part.mean()) if part.size else 0.0


def _check_minus(row: Row, minus: Box, first: Box) -> None:
    middle = (minus.top + minus.bottom) / 2 - row.top
    fits = 0.13 * row.high < minus.wide < 0.75 * row.high and 0.34 < middle / row.high < 0.66
    flat = minus.wide > 1.3 * minus.high
    level = float(np.percentile(row.ink[minus.top : minus.bottom, minus.left : minus.right], 60))
    if not (fits and flat and level > 0.5):
        raise _DoubtError("what stands before the figures is no clear minus")
    between = slice(minus.right + int(0.06 * row.high), first.left - int(0.06 * row.high))
    _check_empty(row, between.start, between.stop, "something faint stands after the minus")


def _point(row: Row, figures: tuple[Box, ...], wide: float) -> int:
    """Before which figure the point stands; -1 for none."""
    del wide
    high, found = row.high, []
    for mark in row.points:
        middle = (mark.left + mark.right) / 2
        if any(box.left + 0.12 * box.wide < middle < box.right - 0.12 * box.wide for box in figures):
            raise _DoubtError("a mark at the foot of a figure")
        if middle > figures[-1].right:
            raise _DoubtError("a point after the last figure")
    places = [(figures[0].left - int(0.42 * high), figures[0].left)]
    places += [(a.right, b.left) for a, b in pairwise(figures)]
    for k, (left, right) in enumerate(places):
        level = _foot(row, left, right)
        there = [m for m in row.points if left - 0.03 * high <= (m.left + m.right) / 2 <= right + 0.03 * high]
        if level is None or (POINT_OFF < level < POINT_ON) or (level >= POINT_ON) != bool(there) or len(there) > 1:
            if k == 0 and level is None:
                continue
            raise _DoubtError("whether there is a point is not clear")
        if there:
            found.append(k)
        elif _white(row, left, right, row.bottom - int(0.2 * high), row.bottom) > BLIND:
            raise _DoubtError("light falls where a point may be")
    if len(found) > 1:
        raise _DoubtError("there is more than one point")
    return found[0] if found else -1


def _foot(row: Row, left: int, right: int) -> float | None:
    """The strongest spot, a point in size, at the foot between two columns; None where there is no room. [1]"""
    size = max(3, int(0.075 * row.high))
    top, bottom = row.bottom - int(0.24 * row.high), row.bottom + int(0.12 * row.high)
    left = max(left, 0)
    part = row.ink[max(top, 0) : bottom, left : max(right, left)]
    if part.shape[1] < size or part.shape[0] < size:
        return None
    spot = cv2.blur(part, (size, size))
    half = size // 2
    return float(spot[half : -half or None, half : -half or None].max())


def _check_places(row: Row, figures: tuple[Box, ...], wide: float, point: int, typed: bool) -> None:
    """Between neighbours there is room for one figure's gap and no more: a place that lost its figure shows."""
    steps = [
        ((b.left + b.right - a.left - a.right) / 2 if typed else float(b.right - a.right), k + 1 == point)
        for k, (a, b) in enumerate(pairwise(figures))
    ]
    plain = [step for step, has_point in steps if not has_point] or [wide + 0.3 * row.high]
    usual = min(float(np.median(plain)), wide + 0.42 * row.high)
    for step, has_point in steps:
        if step > usual * (2.25 if has_point and typed else 1.38) or step < 0.5 * usual:
            raise _DoubtError("a place between the figures is empty")


def _check_before(row: Row, first: Box, minus: Box | None, wide: float) -> None:
    """Nothing half seen before the first figure, and no white there."""
    high = row.high
    left = max(3, int(0.03 * row.ink.shape[1]), int(first.left - wide - 0.45 * high))
    right = int(first.left - 0.06 * high)
    if minus is not None:
        if minus.left - left < 0.1 * high:
            return
        right = int(minus.left - 0.05 * high)
    if right - left < 0.12 * high:
        return
    _check_empty(row, left, right, "something faint stands before the figures")


def _check_after(row: Row, last: Box, wide: float) -> None:
    """Nothing half seen after the last figure that is no unit, and no white there."""
    high = row.high
    left, right = last.right + int(0.07 * high), int(last.right + wide + 0.4 * high)
    if _white(row, left, int(left + wide), row.top, row.bottom) > BLIND:
        raise _DoubtError("light falls after the figures")
    rest = row.ink[row.top : row.bottom, left:right].copy()
    marked = [(box, mark_in(row.ink, box).says) for box in unit_boxes(row)]
    if sum(not says for _, says in marked) > 1:
        raise _DoubtError("pieces of something stand after the figures")
    for box, says in marked:
        if says:
            pad = int(0.06 * high)
            rows = slice(max(0, box.top - pad - row.top), max(0, box.bottom + pad - row.top))
            rest[rows, max(0, box.left - pad - left) :] = 0
        elif box.top < row.top + 0.3 * high and box.bottom > row.bottom - 0.25 * high:
            raise _DoubtError("something tall stands after the figures")
    size = max(3, int(0.085 * high))
    if rest.size and min(rest.shape) > size and any(b.high > 0.62 * high and b.left < right for b in row.others):
        raise _DoubtError("something tall stands after the figures")
    upper = rest[: int(0.45 * high)]
    if upper.size and min(upper.shape) > size and float(cv2.blur(upper, (size, size)).max()) > FAINT + 0.1:
        raise _DoubtError("something faint stands after the figures")


def _check_empty(row: Row, left: int, right: int, why: str) -> None:
    """Between two columns nothing is half seen, and there is no white. The foot is left to points."""
    size = max(3, int(0.085 * row.high))
    part = row.ink[row.top : row.bottom - int(0.25 * row.high), max(left, 0) : max(right, 0)]
    if part.shape[1] > size and float(cv2.blur(part, (size, size)).max()) > FAINT:
        raise _DoubtError(why)
    if _white(row, left, right, row.top, row.bottom) > BLIND:
        raise _DoubtError("light falls before the figures")


def _prefix_seen(row: Row, unit: Box) -> bool:
    """Whether the glass between figures and unit is clear, so that no prefix can be lost there."""
    left, right = row.boxes[-1].right + int(0.07 * row.high), unit.left - 2
    top, bottom = max(0, unit.top - unit.high // 4), unit.bottom + unit.high // 8
    size = max(3, unit.high // 9)
    part = row.ink[top:bottom, left:right]
    if part.shape[1] <= size:
        return True
    strong = float(np.percentile(row.ink[unit.top : unit.bottom, unit.left : unit.right], 90))
    faint = float(cv2.blur(part, (size, size)).max())
    return faint < 0.3 * strong and _white(row, left, right, top, bottom) < BLIND / 2


def _marked(row: Row, taught: tuple[Taught, ...]) -> DisplayRead:
    """Unit and words."""
    units = [_told(row.ink, mark_in(row.ink, box), taught) for box in unit_boxes(row)]
    words = [_told(row.plain, mark_in(row.plain, box), taught) for box in word_boxes(row)]
    clear = [m.says for m in units if m.says in UNITS]
    unit = clear[0] if len(clear) == 1 and all(m.says for m in units) else ""
    if unit and not _prefix_seen(row, next(m.box for m in units if m.says == unit)):
        unit = ""
    said = [m.says for m in (*units, *words) if m.says and m.says not in UNITS]
    dark = [m for m in words if not m.says or m.says in UNITS]
    patches = tuple(mark_patch(row.ink, m.box.left, m.box.right, m.box.top, m.box.bottom) for m in units if not unit)
    patches += tuple(mark_patch(row.plain, m.box.left, m.box.right, m.box.top, m.box.bottom) for m in dark)
    return DisplayRead(unit=unit, words=tuple(said), unknown=len(dark), marks=patches)


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
