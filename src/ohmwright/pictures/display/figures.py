"""The figures of a row: by their segments, or else as type; two ways of reading that may not contradict each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ohmwright.pictures.display.doubt import BLIND, DoubtError, white
from ohmwright.pictures.display.lettering import figure_patch, net
from ohmwright.pictures.display.row import Box, Row
from ohmwright.pictures.display.segments import Figure, figure_of, segment_levels

TYPE_SURE = 0.92
"""Probability from which a figure set in type is believed. [1]"""


BESIDE = 0.2
"""How far beside a figure's box white light is looked for, as a share of its height. [1]"""
MOSTLY = 0.6
"""Share of a row read by segments from which all of it is segments. [1]"""


def cell_width(figures: tuple[Box, ...], high: int) -> float:
    """Width of a whole figure. [px]"""
    widest = max(box.wide for box in figures)
    if widest > 0.85 * high:
        raise DoubtError("figures run together")
    return float(widest if widest > 0.36 * high else 0.55 * high)


def signs_of(row: Row, figures: tuple[Box, ...], wide: float) -> tuple[str, float, bool]:
    """Figures by their segments, or else as type; and whether they are set in type."""
    stroke = _stroke(row, figures)
    by_segment = [_by_segments(row, box, wide, stroke) for box in figures]
    by_type = [_by_type(row, box) for box in figures]
    if all(figure.sign for figure in by_segment):
        for one, other in zip(by_segment, by_type, strict=True):
            if other.like and other.like != one.sign and other.margin > 0.9:
                raise DoubtError(f"a figure looks like {one.sign} and like {other.like}")
        return "".join(f.sign for f in by_segment), min(f.margin for f in by_segment), False
    if any(figure.half for figure in by_segment):
        raise DoubtError(next(f.why for f in by_segment if f.half))
    if sum(bool(figure.sign) for figure in by_segment) >= MOSTLY * len(figures):
        # A row of segments: what is no figure of segments among them is in doubt, whatever type it may look like.
        raise DoubtError(next(f.why for f in by_segment if not f.sign))
    if all(figure.sign for figure in by_type):
        for box in figures:
            # Light that ate a figure's side has made its box narrow: what is beside the box counts too.
            beside = int(BESIDE * row.high)
            if white(row, box.left - beside, box.right + beside, row.top, row.bottom) > BLIND / 2:
                raise DoubtError("light falls on a figure")
        for one, other in zip(by_segment, by_type, strict=True):
            if one.sign and one.sign != other.sign and one.margin > 0.5:
                raise DoubtError(f"a figure looks like {one.sign} and like {other.sign}")
        return "".join(f.sign for f in by_type), min(f.margin for f in by_type), True
    worst = next(f for f in by_segment if not f.sign)
    raise DoubtError(worst.why)


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
    blind = white(row, int(box.right - wide), box.right, row.top, row.bottom)
    if figure.sign and figure.sign != "8" and blind > BLIND / 2:
        return Figure("", figure.margin, "light falls on a figure")
    return figure


DRAWN = {"0": "bcef", "3": "c", "5": "cf", "6": "ce", "8": "bcef", "9": "bf"}
"""Sides that every type draws of a round figure, named as segments are. The upper right of a three, the upper left of
a six and the lower right of a nine are slanted or short in some."""
OPEN = {"3": "ef", "5": "be", "6": "b", "9": "e"}
"""Sides that no type draws. [from memory]"""
SIDE_ON, SIDE_OPEN = 0.6, 0.62
"""Level, of the strongest, from which a side is drawn, and to which it is open: corners reach into a side. [1]"""


def _by_type(row: Row, box: Box) -> Figure:
    """A figure by the network, unless its sides say that it cannot be that one."""
    sign, odds = net("figures").sign(figure_patch(row.ink, box.left, box.right, row.top, row.bottom), TYPE_SURE)
    if sign in DRAWN:
        levels = segment_levels(row.ink, box, row.top, row.bottom, float(box.wide), 0.16 * row.high)
        full = sum(sorted(levels.values())[-2:]) / 2
        levels = {name: level / max(full, 1e-6) for name, level in levels.items()}
        lacks = any(levels[side] < SIDE_ON for side in DRAWN[sign])
        if lacks or any(levels[side] > SIDE_OPEN for side in OPEN.get(sign, "")):
            return Figure("", odds, f"it is like {sign}, but its sides are not", like=sign)
    found = "" if sign == "-" else sign
    return Figure(found, odds, "" if sign else "a figure is not clear", like=found)


def check_feet(row: Row, figures: tuple[Box, ...], signs: str) -> None:
    """No point hides at the foot of a figure: nothing hangs below the row, and no foot is broader than its figure."""
    high = row.high
    lowest = float(np.median([box.bottom for box in figures]))
    for box, sign in zip(figures, signs, strict=True):
        if box.bottom > max(lowest, row.bottom) + 0.045 * high:
            raise DoubtError("something hangs below a figure")
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
            broad = broad or (after > 0.05 * high and not _two_feet(part, after))
        if broad:
            raise DoubtError("something stands at the foot of a figure")


def _two_feet(part: NDArray[np.bool_], after: int) -> bool:
    """Whether the foot of a one reaches out to the left of its stem too, about as far as to the right. [px]"""
    tall = part.shape[0]
    stem = np.flatnonzero(part[int(0.5 * tall) : int(0.75 * tall)].mean(0) > 0.5)
    foot = np.flatnonzero(part[int(0.9 * tall) :].mean(0) > 0.4)
    if not stem.size or not foot.size:
        return False
    return bool(int(stem[0]) - int(foot[0]) > 0.5 * after)
