"""Units and words on the glass: where they stand, and what they say."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from ohmwright.pictures.display.glass import Grey
from ohmwright.pictures.display.lettering import mark_patch, net
from ohmwright.pictures.display.row import Box, Row

UNITS = ("V", "mV", "µV", "A", "mA", "µA", "Ω", "kΩ", "MΩ", "Hz", "kHz", "nF", "µF", "mF")
WORDS = ("DC", "AC", "AUTO", "HOLD", "diode", "MAX", "MIN", "REL")
FAINT_WORD = 0.18
"""Ink above the figures, smoothed, from which there may be a word. Empty glass shows 0.05, words from 0.4 on. [1]"""
SURE = 0.96
"""Probability from which a mark is believed. [1]"""


@dataclass(frozen=True, slots=True)
class Mark:
    """A mark and what it says; "" where that is not certain. [1]"""

    says: str
    odds: float
    box: Box


def unit_boxes(row: Row) -> tuple[Box, ...]:
    """Where a unit may stand: right of the last figure, each group of letters one box. [px]"""
    if not row.boxes:
        return ()
    high = row.high
    left = int(row.boxes[-1].right + 0.06 * high)
    top, bottom = max(0, row.top - int(0.25 * high)), min(row.plain.shape[0], row.bottom + int(0.2 * high))
    return _groups(row.ink, left, row.plain.shape[1], top, bottom, 0.22 * high, high)


def word_boxes(row: Row) -> tuple[Box, ...]:
    """Where words may stand: above the figures. [px]"""
    bottom = row.top - int(0.06 * row.high)
    right = int(row.boxes[-1].right + 0.06 * row.high) if row.boxes else row.plain.shape[1]
    return _groups(row.plain, 0, right, 2, bottom, 0.12 * row.high, row.high)


def faint_words(row: Row, seen: tuple[Box, ...]) -> bool:
    """Whether something stands above the figures that is too faint for a word, a HOLD perhaps. [px]"""
    high, edge = row.high, max(4, int(0.05 * row.plain.shape[1]))
    bottom, right = row.top - int(0.06 * high), int(row.boxes[-1].right + 0.06 * high) if row.boxes else edge
    rest = row.plain[6 : max(bottom, 6), edge:right].copy()
    size, pad = max(3, int(0.07 * high)), max(3, int(0.07 * high))
    if min(rest.shape) < 2 * size:
        return False
    for box in seen:
        above, before = max(0, box.top - pad - 6), max(0, box.left - pad - edge)
        rest[above : max(0, box.bottom + pad - 6), before : max(0, box.right + pad - edge)] = 0
    return float(cv2.blur(rest, (size, size)).max()) > FAINT_WORD


def mark_in(ink: Grey, box: Box) -> Mark:
    """What the letters in a box say. [1]"""
    says, odds = net("marks").sign(mark_patch(ink, box.left, box.right, box.top, box.bottom), SURE)
    return Mark(says, odds, box)


def _groups(ink: Grey, left: int, right: int, top: int, bottom: int, gap: float, high: int) -> tuple[Box, ...]:
    """Letters that stand together. [px]"""
    part = ink[max(top, 0) : max(bottom, 0), max(left, 0) : right]
    if part.shape[0] < 6 or part.shape[1] < 6:
        return ()
    peak = float(np.percentile(part, 99.3))
    if peak < 0.25:
        return ()
    mask = (part > 0.42 * min(peak, 1.2)).astype(np.uint8)
    edge = max(2, int(0.012 * ink.shape[1]))
    _, _, stats, _ = cv2.connectedComponentsWithStats(mask)
    boxes: list[list[int]] = []
    for x, y, w, h, area in stats[1:]:
        far = left + x + w
        if area < 6 or h < 0.05 * high or h > 0.75 * high or far > ink.shape[1] - edge or left + x < edge:
            continue
        if top <= 2 and y == 0 and h < 0.1 * high:
            continue
        boxes.append([left + int(x), left + int(x + w), top + int(y), top + int(y + h)])
    boxes.sort()
    grouped: list[list[int]] = []
    for box in boxes:
        near = grouped and box[0] - grouped[-1][1] < gap and box[2] < grouped[-1][3] and box[3] > grouped[-1][2]
        if near:
            last = grouped[-1]
            grouped[-1] = [min(last[0], box[0]), max(last[1], box[1]), min(last[2], box[2]), max(last[3], box[3])]
        else:
            grouped.append(box)
    return tuple(Box(*g) for g in grouped if g[3] - g[2] > 0.1 * high)
