"""Which parts of a pattern's pads a picture can show: a body or a housing hides the rest."""

from __future__ import annotations

from dataclasses import replace

from ohmwright.geometry.lands import Land, LandPattern

PIN_MM = 0.64
"""Edge of the square pin of a 2.54 mm header. [mm] common practice (0.025 inch), no source"""
LEAST_MM = 0.06
"""A strip narrower than this does not show. [mm]"""
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
