"""Figures of seven segments that were not met yet, put together from those that were."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ohmwright.pictures.display.glass import Grey
from ohmwright.pictures.display.row import Row
from ohmwright.pictures.display.segments import SEGMENTS, figure_of

LIT = {
    "0": "abcdef", "1": "bc", "2": "abdeg", "3": "abcdg", "4": "bcfg", "5": "acdfg", "6": "acdefg", "7": "abc",
    "8": "abcdefg", "9": "abcdfg",
}  # fmt: skip
MOSTLY = 0.6
"""Share of figures that read rightly by their segments, from which a display is one of segments. [1]"""
GROWTH = 3.0
"""How much the noise of what is put together may grow, in squares. [1]"""


def in_segments(told: Sequence[tuple[Row, str]]) -> bool:
    """Whether the figures of told displays are made of seven segments."""
    right = count = 0
    for row, text in told:
        signs = [c for c in text if c not in ".-"]
        boxes = [box for box in row.boxes if box.high > 0.34 * row.high]
        wide = float(max(box.wide for box in boxes))
        stroke = 0.13 * row.high
        for box, sign in zip(boxes, signs, strict=True):
            count += 1
            right += figure_of(row.ink, box, row.top, row.bottom, wide, stroke).sign == ("0" if sign == "O" else sign)
    return count > 0 and right >= MOSTLY * count


def composed(known: Mapping[str, Grey]) -> dict[str, Grey]:
    """Pictures of the figures that those known can be added up to."""
    names = [sign for sign in known if sign in LIT]
    if not names:
        return {}
    lit = np.array([[float(segment in LIT[sign]) for segment in SEGMENTS] for sign in names])
    pictures = np.array([known[sign] for sign in names])
    found: dict[str, Grey] = {}
    for sign, segments in LIT.items():
        wanted = np.array([float(segment in segments) for segment in SEGMENTS])
        share, *_ = np.linalg.lstsq(lit.T, wanted, rcond=1e-9)
        if np.abs(lit.T @ share - wanted).max() < 1e-6 and float(share @ share) <= GROWTH:
            found[sign] = np.asarray(np.maximum(np.tensordot(share, pictures, axes=1), 0.0), np.float32)
    return found
