"""A figure of seven segments read by its segments: each must be clearly on or clearly off, and nothing else be lit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ohmwright.pictures.display.glass import Grey
from ohmwright.pictures.display.row import Box

FIGURES = {
    "abcdef": "0", "bc": "1", "abdeg": "2", "abcdg": "3", "bcfg": "4", "acdfg": "5", "acdefg": "6", "cdefg": "6",
    "abc": "7", "abcf": "7", "abcdefg": "8", "abcdfg": "9", "abcfg": "9", "def": "L", "g": "-",
}  # fmt: skip
ON, OFF = 0.62, 0.38
"""Level from which a segment is on, and to which it is off. [1]"""
UNEXPLAINED = 0.18
"""Share of a figure's ink that may lie outside its lit segments. [1]"""
SEGMENTS = "abcdefg"


@dataclass(frozen=True, slots=True)
class Figure:
    """What stands at one place.

    Parameters
    ----------
    sign : str
        "0" to "9", "-", "L", or "" where that is not certain.
    margin : float
        How far the least clear segment is from being in doubt, from 0 to 1. [1]
    why : str
        What is in doubt.
    """

    sign: str
    margin: float = 0.0
    why: str = ""


def segment_levels(ink: Grey, box: Box, top: int, bottom: int, wide: float, stroke: float) -> dict[str, float]:
    """Level of each segment of a cell whose right edge is the box's. [1], [px]"""
    right, high = float(box.right), float(bottom - top)
    left, mid, half = right - wide, (top + bottom) / 2.0, stroke / 2.0
    side = 0.16 * high
    bars = {
        "a": (left + 1.2 * stroke, right - 1.2 * stroke, top, top + stroke),
        "g": (left + 1.2 * stroke, right - 1.2 * stroke, mid - half, mid + half),
        "d": (left + 1.2 * stroke, right - 1.2 * stroke, bottom - stroke, bottom),
        "b": (right - stroke, right, top + side, mid - side + half),
        "c": (right - stroke, right, mid + side - half, bottom - side),
        "f": (left, left + stroke, top + side, mid - side + half),
        "e": (left, left + stroke, mid + side - half, bottom - side),
    }
    return {name: _level(ink, *bar, along=name in "agd") for name, bar in bars.items()}


def _level(ink: Grey, left: float, right: float, top: float, bottom: float, *, along: bool) -> float:
    """The bar's ink across its middle, taken at the weakest third of its length so that half a segment is no segment."""
    x0, x1 = int(round(left)), int(round(right))
    y0, y1 = int(round(top)), int(round(bottom))
    part = ink[max(y0, 0) : max(y1, y0 + 1), max(x0, 0) : max(x1, x0 + 1)]
    if part.size == 0:
        return 0.5
    # The stroke is somewhere in the bar: the best line along it counts, smoothed over its neighbours.
    lines = part.mean(1) if along else part.mean(0)
    best = np.convolve(lines, np.ones(3) / 3, "same").max() if lines.size >= 5 else lines.max()
    return float(best)


def figure_of(ink: Grey, box: Box, top: int, bottom: int, wide: float, stroke: float) -> Figure:
    """The figure in a box of seven segments. [px], [1]"""
    levels = segment_levels(ink, box, top, bottom, wide, stroke)
    lit = "".join(name for name in SEGMENTS if levels[name] > 0.5)
    margin = min(min(abs(level - 0.5) for level in levels.values()) * 2, 1.0)
    if any(OFF < level < ON for level in levels.values()):
        return Figure("", margin, f"segment {min(levels, key=lambda n: abs(levels[n] - 0.5))} is neither on nor off")
    sign = FIGURES.get(lit, "")
    if not sign or sign == "-":
        return Figure("", margin, "the segments make no figure")
    strengths = [levels[name] for name in lit]
    if max(strengths) > 1.9 * min(strengths):
        return Figure("", margin, "its segments are unequally strong")
    stray = _unexplained(ink, box, top, bottom, wide, stroke, lit)
    if stray > UNEXPLAINED:
        return Figure("", margin, "there is ink beside its segments")
    return Figure(sign, margin)


def _unexplained(ink: Grey, box: Box, top: int, bottom: int, wide: float, stroke: float, lit: str) -> float:
    """Share of the cell's ink that its lit segments do not account for. [1]"""
    x0, x1 = max(0, int(box.right - wide - 0.3 * stroke)), int(box.right + 0.3 * stroke)
    y0, y1 = max(0, int(top - 0.3 * stroke)), int(bottom + 0.3 * stroke)
    cell = np.clip(ink[y0:y1, x0:x1], 0, 1.2)
    yes = np.zeros(cell.shape, bool)
    h, w, t = cell.shape[0], cell.shape[1], int(1.7 * stroke)
    mid = h // 2
    room = {
        "a": np.s_[:t, :], "g": np.s_[mid - t // 2 - 2 : mid + t // 2 + 2, :], "d": np.s_[h - t :, :],
        "b": np.s_[: mid + t // 2, w - t :], "c": np.s_[mid - t // 2 :, w - t :],
        "f": np.s_[: mid + t // 2, :t], "e": np.s_[mid - t // 2 :, :t],
    }  # fmt: skip
    for name in lit:
        yes[room[name]] = True
    solid = np.where(cell > 0.3, cell, 0.0)
    total = float(solid.sum())
    return float(solid[~yes].sum()) / total if total > 0 else 1.0
