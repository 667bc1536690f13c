"""The places about the figures: sign, point, gaps, and what is only half seen. Each is clearly empty or clearly not."""

from __future__ import annotations

from itertools import pairwise

import cv2
import numpy as np

from ohmwright.pictures.display.doubt import BLIND, DoubtError, white
from ohmwright.pictures.display.marks import mark_in, unit_boxes
from ohmwright.pictures.display.row import Box, Row

POINT_ON, POINT_OFF = 0.55, 0.28
"""Level from which a point is there, and to which it is not. [1]"""
NEAR = 0.22
"""How far after a figure its point may stand, as a share of the row's height. [1] estimate"""
FAINT = 0.36
"""Ink in an empty place from which it is not certainly empty. [1]"""


def check_minus(row: Row, minus: Box, first: Box) -> None:
    """What stands before the figures is a clear minus, and nothing lies between."""
    middle = (minus.top + minus.bottom) / 2 - row.top
    fits = 0.13 * row.high < minus.wide < 0.75 * row.high and 0.34 < middle / row.high < 0.66
    flat = minus.wide > 1.3 * minus.high
    level = float(np.percentile(row.ink[minus.top : minus.bottom, minus.left : minus.right], 60))
    if not (fits and flat and level > 0.5):
        raise DoubtError("what stands before the figures is no clear minus")
    between = slice(minus.right + int(0.06 * row.high), first.left - int(0.06 * row.high))
    _check_empty(row, between.start, between.stop, "something faint stands after the minus")


def point_of(row: Row, figures: tuple[Box, ...], wide: float) -> int:
    """Before which figure the point stands; -1 for none."""
    del wide
    high, found = row.high, []
    for mark in row.points:
        middle = (mark.left + mark.right) / 2
        if any(box.left + 0.12 * box.wide < middle < box.right - 0.12 * box.wide for box in figures):
            raise DoubtError("a mark at the foot of a figure")
        if middle > figures[-1].right:
            if mark.left > figures[-1].right + NEAR * high:
                continue  # the foot of a letter of the unit, or light
            raise DoubtError("a point after the last figure")
    places = [(figures[0].left - int(0.42 * high), figures[0].left)]
    places += [(a.right, b.left) for a, b in pairwise(figures)]
    for k, (left, right) in enumerate(places):
        level = _foot(row, left, right)
        there = [m for m in row.points if left - 0.03 * high <= (m.left + m.right) / 2 <= right + 0.03 * high]
        if level is None or (POINT_OFF < level < POINT_ON) or (level >= POINT_ON) != bool(there) or len(there) > 1:
            if k == 0 and level is None:
                continue
            raise DoubtError("whether there is a point is not clear")
        if there:
            found.append(k)
        elif white(row, left, right, row.bottom - int(0.2 * high), row.bottom + int(0.12 * high)) > BLIND:
            raise DoubtError("light falls where a point may be")
    if len(found) > 1:
        raise DoubtError("there is more than one point")
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
    inner = spot[half : -half or None, half : -half or None]
    return float(inner.max()) if inner.size else None


def check_places(row: Row, figures: tuple[Box, ...], wide: float, point: int, typed: bool) -> None:
    """Between neighbours there is room for one figure's gap and no more: a place that lost its figure shows."""
    steps = [
        ((b.left + b.right - a.left - a.right) / 2 if typed else float(b.right - a.right), k + 1 == point)
        for k, (a, b) in enumerate(pairwise(figures))
    ]
    plain = [step for step, has_point in steps if not has_point] or [wide + 0.3 * row.high]
    usual = min(float(np.median(plain)), wide + 0.42 * row.high)
    for step, has_point in steps:
        if step > usual * (2.25 if has_point and typed else 1.38) or step < 0.5 * usual:
            raise DoubtError("a place between the figures is empty")


def check_before(row: Row, first: Box, minus: Box | None, wide: float) -> None:
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


def check_after(row: Row, last: Box, wide: float) -> None:
    """Nothing half seen after the last figure that is no unit, and no white there."""
    high = row.high
    left, right = last.right + int(0.07 * high), int(last.right + wide + 0.4 * high)
    if white(row, left, int(left + wide), row.top, row.bottom) > BLIND:
        raise DoubtError("light falls after the figures")
    rest = row.ink[row.top : row.bottom, left:right].copy()
    marked = [(box, mark_in(row.ink, box).says) for box in unit_boxes(row)]
    if sum(not says for _, says in marked) > 1:
        raise DoubtError("pieces of something stand after the figures")
    for box, says in marked:
        if says:
            pad = int(0.06 * high)
            rows = slice(max(0, box.top - pad - row.top), max(0, box.bottom + pad - row.top))
            rest[rows, max(0, box.left - pad - left) :] = 0
        elif box.top < row.top + 0.3 * high and box.bottom > row.bottom - 0.25 * high:
            raise DoubtError("something tall stands after the figures")
    size = max(3, int(0.085 * high))
    if rest.size and min(rest.shape) > size and any(b.high > 0.62 * high and b.left < right for b in row.others):
        raise DoubtError("something tall stands after the figures")
    upper = rest[: int(0.45 * high)]
    if upper.size and min(upper.shape) > size and float(cv2.blur(upper, (size, size)).max()) > FAINT + 0.1:
        raise DoubtError("something faint stands after the figures")


def _check_empty(row: Row, left: int, right: int, why: str) -> None:
    """Between two columns nothing is half seen, and there is no white. The foot is left to points."""
    size = max(3, int(0.085 * row.high))
    part = row.ink[row.top : row.bottom - int(0.25 * row.high), max(left, 0) : max(right, 0)]
    if part.shape[1] > size and float(cv2.blur(part, (size, size)).max()) > FAINT:
        raise DoubtError(why)
    if white(row, left, right, row.top, row.bottom) > BLIND:
        raise DoubtError("light falls before the figures")


def prefix_seen(row: Row, unit: Box) -> bool:
    """Whether the glass between figures and unit is clear, so that no prefix can be lost there."""
    left, right = row.boxes[-1].right + int(0.07 * row.high), unit.left - 2
    top, bottom = max(0, unit.top - unit.high // 4), unit.bottom + unit.high // 8
    size = max(3, unit.high // 9)
    part = row.ink[top:bottom, left:right]
    if part.shape[1] <= size:
        return True
    strong = float(np.percentile(row.ink[unit.top : unit.bottom, unit.left : unit.right], 90))
    faint = float(cv2.blur(part, (size, size)).max())
    return faint < 0.3 * strong and white(row, left, right, top, bottom) < BLIND / 2
