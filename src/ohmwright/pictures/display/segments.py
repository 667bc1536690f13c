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
ON, OFF = 0.66, 0.38
"""Level from which a segment is on, and to which it is off. One that is on is even along its length; half of a side in
dots, or its corners, come near two thirds. [1]"""
FAINTEST = 0.55
"""Level of the strongest segments below which a figure may be a leftover of another. [1]"""
UNEXPLAINED = 0.18
"""Share of a figure's ink that may lie outside its lit segments. [1]"""
SEGMENTS = "abcdefg"
Bar = tuple[float, float, float, float]


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
    half : bool
        Whether it is a figure of segments, one of which is neither on nor off.
    like : str
        What it was taken for by its shape, though more may have spoken against it.
    """

    sign: str
    margin: float = 0.0
    why: str = ""
    half: bool = False
    like: str = ""


def segment_levels(ink: Grey, box: Box, top: int, bottom: int, wide: float, stroke: float) -> dict[str, float]:
    """Level of each segment of a cell whose right edge is the box's. [1], [px]"""
    bars = bars_of(box, top, bottom, wide, stroke)
    return {name: _level(ink, *bar, along=name in "agd") for name, bar in bars.items()}


def bars_of(box: Box, top: int, bottom: int, wide: float, stroke: float) -> dict[str, Bar]:
    """Left, right, top and bottom of where each segment is looked for. [px]"""
    right, high = float(box.right), float(bottom - top)
    left, mid, half = right - wide, (top + bottom) / 2.0, stroke / 2.0
    side = 0.16 * high
    return {
        "a": (left + 1.2 * stroke, right - 1.2 * stroke, top, top + stroke),
        "g": (left + 1.2 * stroke, right - 1.2 * stroke, mid - half, mid + half),
        "d": (left + 1.2 * stroke, right - 1.2 * stroke, bottom - stroke, bottom),
        "b": (right - stroke, right, top + side, mid - side + half),
        "c": (right - stroke, right, mid + side - half, bottom - side),
        "f": (left, left + stroke, top + side, mid - side + half),
        "e": (left, left + stroke, mid + side - half, bottom - side),
    }


def _evenly_half(ink: Grey, bar: Bar, full: float) -> bool:
    """Whether a bar is grey all over, as a segment that fades is; a letter's edge is part on and part off. [px]"""
    left, right, top, bottom = (round(v) for v in bar)
    part = ink[max(top, 0) : max(bottom, top + 1), max(left, 0) : max(right, left + 1)] / max(full, 1e-6)
    return bool(part.size) and float(((part > 0.25) & (part < 0.75)).mean()) > 0.55


def _level(ink: Grey, left: float, right: float, top: float, bottom: float, *, along: bool) -> float:
    """Ink of the best line along the bar, over its whole length: half a segment is half as strong. [px], [1]"""
    x0, x1 = round(left), round(right)
    y0, y1 = round(top), round(bottom)
    part = ink[max(y0, 0) : max(y1, y0 + 1), max(x0, 0) : max(x1, x0 + 1)]
    if part.size == 0:
        return 0.5
    # The stroke is somewhere in the bar: the best line along it counts, smoothed over its neighbours.
    lines = part.mean(1) if along else part.mean(0)
    best = np.convolve(lines, np.ones(3) / 3, "same").max() if lines.size >= 5 else lines.max()
    return float(best)


def figure_of(ink: Grey, box: Box, top: int, bottom: int, wide: float, stroke: float) -> Figure:
    """The figure in a box of seven segments. [px], [1]"""
    raw = segment_levels(ink, box, top, bottom, wide, stroke)
    # Against its own strongest two: a segment at half strength stays at half, however bright the rest of the row is.
    full = sum(sorted(raw.values())[-2:]) / 2
    if full < FAINTEST:
        return Figure("", 0.0, "its segments are faint")
    levels = {name: level / full for name, level in raw.items()}
    lit = "".join(name for name in SEGMENTS if levels[name] > 0.5)
    margin = min(min(abs(level - 0.5) for level in levels.values()) * 2, 1.0)
    if any(OFF < level < ON for level in levels.values()):
        why = f"segment {min(levels, key=lambda n: abs(levels[n] - 0.5))} is neither on nor off"
        doubtful = [name for name in SEGMENTS if OFF < levels[name] < ON]
        grey = any(_evenly_half(ink, bars_of(box, top, bottom, wide, stroke)[name], full) for name in doubtful)
        return Figure("", margin, why, grey and _fits(ink, box, top, bottom, wide, stroke, levels))
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


def _fits(
    ink: Grey, box: Box, top: int, bottom: int, wide: float, stroke: float, levels: dict[str, float]
) -> bool:  # fmt: skip
    """Whether it is a figure of segments at all: with what is in doubt on or off it is one, and no ink lies beside it.

    Dots and type are as grey between their dots and round their corners as a segment that fades.
    """
    sure = "".join(name for name in SEGMENTS if levels[name] >= ON)
    every = "".join(name for name in SEGMENTS if levels[name] > OFF)
    figure = sure in FIGURES or every in FIGURES or len(every) - len(sure) > 1
    return figure and _unexplained(ink, box, top, bottom, wide, stroke, every) <= UNEXPLAINED


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
