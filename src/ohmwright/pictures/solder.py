"""Bare pads, solder, and vias."""

from __future__ import annotations

import numpy as np

from ohmwright.geometry.packages import Pad
from ohmwright.pictures.canvas import Canvas, Colour, Field, Spot, Window, box, disc, dome, slope_towards, tinted
from ohmwright.pictures.look import Look

TIN: Colour = (176, 178, 180)
_HOLE: Colour = (16, 15, 14)


def pad_spot(pad: Pad) -> Spot:
    """Where a pad sits."""
    return Spot(pad.x_mm, pad.y_mm, pad.angle_deg, pad.side)


def paint_pad(canvas: Canvas, pad: Pad, look: Look, random: np.random.Generator, *, soldered: bool) -> None:
    """One pad in its opening in the mask, bare or wetted with solder, with its hole where it has one."""
    window = canvas.window(pad_spot(pad), pad.width_mm / 2 + 0.3, pad.height_mm / 2 + 0.3)
    if window is None:
        return
    half_u, half_v = pad.width_mm / 2, pad.height_mm / 2
    radius = min(half_u, half_v) * (1.0 if pad.drill_mm else 0.35)
    distance = box(window.u, window.v, half_u, half_v, radius)
    canvas.paint(window, 0.75 * window.cover(distance - 0.05), tuple(0.5 * c for c in look.over_laminate))
    if soldered:
        paint_solder(canvas, window, distance, min(half_u, half_v), random)
    else:
        canvas.paint(window, window.cover(distance), _bare(window, distance, look, random))
    if pad.drill_mm:
        hole = disc(window.u, window.v, pad.drill_mm / 2)
        filled = TIN if soldered else _HOLE
        canvas.paint(window, window.cover(hole), filled)


def paint_solder(
    canvas: Canvas, window: Window, distance: Field, half_mm: float, random: np.random.Generator, rise: float = 0.75
) -> None:
    """Solder over a shape: a mirror that shows the lamp on the slope that faces it and the dark on the other."""
    level = metal_level(window, dome(distance, max(half_mm * rise, 2 * window.px_mm)), random)
    canvas.paint(window, window.cover(distance), tinted(level, TIN))


def metal_level(window: Window, height: Field, random: np.random.Generator, polish: float = 1.0) -> Field:
    """Brightness of bright metal of that relief, about 0.35 to 1.4."""
    lean = slope_towards(height, window)
    flat = 0.92 + 0.04 * random.standard_normal()
    glint = np.clip((lean - 0.62) / 0.3, 0, 1) ** 2
    ripple = 0.03 * random.standard_normal(lean.shape).astype(np.float32)
    level = flat + 0.28 * lean * polish + 0.42 * glint * polish - 0.22 * np.clip(-lean - 0.5, 0, 1) + ripple
    return np.asarray(level, dtype=np.float32)


def _bare(window: Window, distance: Field, look: Look, random: np.random.Generator) -> Field:
    edge = slope_towards(dome(distance, 0.05), window)
    speck = 0.02 * random.standard_normal(distance.shape).astype(np.float32)
    return tinted((1.0 + 0.12 * edge + speck + 0.05 * random.standard_normal()).astype(np.float32), look.finish)


def paint_via(canvas: Canvas, x_mm: float, y_mm: float, look: Look, *, side: str, tented: bool) -> None:
    """A via: under the mask a dimple in a ring, or open and plated."""
    window = canvas.window(Spot(x_mm, y_mm, 0.0, side), 0.4, 0.4)
    if window is None:
        return
    ring, hole = disc(window.u, window.v, 0.26), disc(window.u, window.v, 0.13)
    lean = slope_towards(dome(ring, 0.1), window)
    if tented:
        canvas.paint(window, 0.8 * window.cover(ring), tinted(1.08 + 0.28 * lean, look.over_copper))
        canvas.paint(window, 0.75 * window.soft(hole, 0.08), tuple(0.35 * c for c in look.over_laminate))
    else:
        canvas.paint(window, window.cover(ring), tinted(1.0 + 0.15 * lean, look.finish))
        canvas.paint(window, window.cover(hole), _HOLE)


def paint_screw_hole(canvas: Canvas, x_mm: float, y_mm: float, drill_mm: float, look: Look, background: Colour) -> None:
    """A plated hole for a screw, with a ring of bare finish; the scanner's lid shows through."""
    window = canvas.window(Spot(x_mm, y_mm), drill_mm + 0.6, drill_mm + 0.6)
    if window is None:
        return
    ring, hole = disc(window.u, window.v, drill_mm * 0.9), disc(window.u, window.v, drill_mm / 2)
    lean = slope_towards(dome(ring, 0.08), window)
    worn = 0.06 * np.sin(np.arctan2(window.v, window.u) * 23 + 3 * window.u)
    canvas.paint(window, 0.8 * window.cover(ring - 0.06), tuple(0.5 * c for c in look.over_laminate))
    canvas.paint(window, window.cover(ring), tinted(1.0 + 0.12 * lean + worn, look.finish))
    shade = 0.62 + 0.3 * np.clip((window.u * -window.light[0] + window.v * -window.light[1]) / drill_mm + 0.3, 0, 1)
    canvas.paint(window, window.cover(hole), tinted(shade.astype(np.float32), background))
    canvas.darken(window, 0.6 * window.cover(np.abs(hole) - 0.06))
