"""Which parts of a pattern's pads a picture can show: a body or a housing hides the rest."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from ohmwright.geometry.lands import Land, LandPattern

PIN_MM = 0.64
"""Edge of the square pin of a 2.54 mm header. [mm] common practice (0.025 inch), no source"""
LEAST_MM = 0.06
"""A strip narrower than this does not show. [mm]"""
ON_ROW = 0.3
"""How far off a row's line a pad may lie, over the pitch. [1]"""
FAR_IN_ROW = 2.5
"""Pads farther apart than that many pitches make no row. [1]"""
CLEAR_OF = 0.1
"""How far a pad beyond the end has to be from the others, over the pitch. [1]"""
OPEN = ("chip", "moulded", "coil", "bare", "can", "tab")
"""Families whose ends are as bright as their pads, or lie beside the body."""


def ways_shown(pattern: LandPattern) -> tuple[tuple[Land, ...], ...]:
    """The pads as they may be seen, in one or two ways."""
    if pattern.family == "line" and any(land.drill_mm for land in pattern.lands):
        # From above a header shows the ends of its pins in its plastic, from below its solder.
        thin = tuple(replace(land, width_mm=PIN_MM, height_mm=PIN_MM) for land in pattern.lands)
        return thin, pattern.lands
    if pattern.family in OPEN:
        return (pattern.lands,)
    shown = tuple(part for land in pattern.lands if (part := _beside(land, pattern.body_mm)) is not None)
    return (shown if len(shown) > 1 else pattern.lands,)


def is_housed(pattern: LandPattern) -> bool:
    """Whether it is a connector whose housing lies on its pads."""
    return pattern.family == "line" and max(pattern.body_mm) > 0 and not any(n.drill_mm for n in pattern.lands)


def ends_beyond(shown: Sequence[Land]) -> tuple[Land, ...]:
    """Where the next pad of a row would be if the row went on: there must be none.

    A row laid one pitch off, or a package of fewer pins than the part has, fits its pads nearly as well as the true
    one does; only beyond its end lies a pad that it leaves untold.
    """
    if len(shown) < 3:
        return ()
    at = [(land.x_mm, land.y_mm) for land in shown]
    pitch = min(math.dist(a, b) for n, a in enumerate(at) for b in at[:n])
    out: dict[tuple[float, float], Land] = {}
    for land, (x, y) in zip(shown, at, strict=True):
        along = [(u - x, v - y) for u, v in at if (abs(u - x) < ON_ROW * pitch) != (abs(v - y) < ON_ROW * pitch)]
        row = [step for step in along if math.hypot(*step) < FAR_IN_ROW * pitch]
        for dx, dy in {(round(dx / math.hypot(dx, dy)), round(dy / math.hypot(dx, dy))) for dx, dy in row}:
            for way in (1, -1):
                u, v = x + way * dx * pitch, y + way * dy * pitch
                if all(_apart_enough(land, u, v, other, pitch) for other in shown):
                    out[round(u, 2), round(v, 2)] = replace(land, x_mm=u, y_mm=v)
    return tuple(out.values())


def _apart_enough(land: Land, x: float, y: float, other: Land, pitch: float) -> bool:
    """Whether a pad like `land` at (x, y) would lie clear of another. [mm]"""
    clear = CLEAR_OF * pitch
    wide, high = (land.width_mm + other.width_mm) / 2, (land.height_mm + other.height_mm) / 2
    return abs(x - other.x_mm) > wide + clear or abs(y - other.y_mm) > high + clear


def _beside(land: Land, body_mm: tuple[float, float]) -> Land | None:
    """What of a land lies outside the body, on the side it comes out at."""
    half_x, half_y = body_mm[0] / 2, body_mm[1] / 2
    left, right = land.x_mm - land.width_mm / 2, land.x_mm + land.width_mm / 2
    top, bottom = land.y_mm - land.height_mm / 2, land.y_mm + land.height_mm / 2
    out_x, out_y = abs(land.x_mm) / max(half_x, LEAST_MM), abs(land.y_mm) / max(half_y, LEAST_MM)
    if abs(land.y_mm) < half_y + 0.05 and out_x > max(0.6, out_y):
        left, right = (max(left, half_x), right) if land.x_mm > 0 else (left, min(right, -half_x))
    elif abs(land.x_mm) < half_x + 0.05 and out_y > 0.6:
        top, bottom = (max(top, half_y), bottom) if land.y_mm > 0 else (top, min(bottom, -half_y))
    elif abs(land.x_mm) < half_x and abs(land.y_mm) < half_y:
        return None
    if right - left <= LEAST_MM or bottom - top <= LEAST_MM:
        return None
    x, y = (left + right) / 2, (top + bottom) / 2
    return replace(land, x_mm=x, y_mm=y, width_mm=right - left, height_mm=bottom - top)
