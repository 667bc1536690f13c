"""Small parts with two ends, as a scanner sees them: ceramics, resistors, coils, diodes, fuses, crystals."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ohmwright.circuit import Part
from ohmwright.geometry.packages import LandPattern
from ohmwright.pictures.canvas import Canvas, Colour, Field, Spot, Window, box, disc, dome, grain, slope_towards, tinted
from ohmwright.pictures.marks import coil_code, paint_text, resistor_code
from ohmwright.pictures.solder import TIN, metal_level

PLASTIC: Colour = (40, 40, 42)
_TANS: tuple[Colour, ...] = ((168, 132, 96), (158, 120, 84), (176, 144, 112), (146, 112, 82), (150, 128, 106))
"""Ceramic capacitors: tan to grey brown, by batch."""
_CODE_PACKAGES = ("0603", "0805", "1206", "1210", "2010", "2512")
"""Chip resistors smaller than 0603 carry no code (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Sitter:
    """A part about to be painted: where, what, and its own random generator."""

    canvas: Canvas
    spot: Spot
    part: Part
    pattern: LandPattern
    random: np.random.Generator

    @property
    def half(self) -> tuple[float, float]:
        """Half the body, in mm."""
        return self.pattern.body_mm[0] / 2, self.pattern.body_mm[1] / 2

    def window(self, over_mm: float = 0.3) -> Window | None:
        """The pixels of the body and a little around it."""
        return self.canvas.window(self.spot, self.half[0] + over_mm, self.half[1] + over_mm)


def block_level(sitter: Sitter, window: Window, distance: Field, bevel_mm: float, rough: float = 0.02) -> Field:
    """Brightness of a block with bevelled edges, about 1, with the grain of its surface."""
    lean = slope_towards(dome(distance, max(bevel_mm, 1.5 * window.px_mm)), window)
    shape = (distance.shape[0], distance.shape[1])
    uneven = grain(sitter.random, shape, (4, 4), 0.025)
    speck = sitter.random.standard_normal(shape).astype(np.float32) * rough
    return np.asarray(1.0 + 0.3 * lean + uneven + speck, dtype=np.float32)


def _ends(sitter: Sitter, window: Window, share: float, radius: float) -> None:
    """The two plated ends of a chip, bright, a little larger than the body."""
    a, b = sitter.half
    whole = box(window.u, window.v, a + 0.015, b + 0.015, radius)
    for sign in (-1.0, 1.0):
        inner = (a * (1 - 2 * share)) - sign * window.u
        end = np.maximum(whole, inner).astype(np.float32)
        level = metal_level(window, dome(end, max(0.09, 1.5 * window.px_mm)), sitter.random, polish=0.8)
        sitter.canvas.paint(window, window.cover(end), tinted(0.98 * level, (186, 186, 184)))


def ceramic(sitter: Sitter) -> None:
    """An unmarked ceramic capacitor."""
    window = sitter.window()
    if window is None:
        return
    a, b = sitter.half
    tan = np.array(_TANS[int(sitter.random.integers(len(_TANS)))]) * sitter.random.uniform(0.94, 1.05)
    body = box(window.u, window.v, a, b, 0.08 * b)
    level = block_level(sitter, window, body, 0.22 * b, 0.03)
    sitter.canvas.paint(window, window.cover(body), tinted(level, (float(tan[0]), float(tan[1]), float(tan[2]))))
    _ends(sitter, window, 0.24, 0.1 * b)


def ferrite(sitter: Sitter) -> None:
    """A ferrite bead: a dark ceramic chip without a mark."""
    window = sitter.window()
    if window is None:
        return
    a, b = sitter.half
    body = box(window.u, window.v, a, b, 0.1 * b)
    sitter.canvas.paint(window, window.cover(body), tinted(block_level(sitter, window, body, 0.2 * b), (72, 70, 70)))
    _ends(sitter, window, 0.22, 0.1 * b)


def chip_resistor(sitter: Sitter) -> None:
    """A chip resistor: white ceramic, black glass, a code where the package is large enough."""
    window = sitter.window()
    if window is None:
        return
    a, b = sitter.half
    body = box(window.u, window.v, a, b, 0.02)
    sitter.canvas.paint(window, window.cover(body), tinted(block_level(sitter, window, body, 0.05), (206, 202, 194)))
    _ends(sitter, window, 0.17, 0.03)
    glass = box(window.u, window.v, a * 0.7, b * 0.9, 0.04)
    sitter.canvas.paint(window, window.cover(glass), tinted(block_level(sitter, window, glass, 0.06), (34, 33, 35)))
    if sitter.part.value is not None and any(size in sitter.part.package for size in _CODE_PACKAGES):
        code = resistor_code(sitter.part.value.median)
        turn = -1.0 if sitter.random.random() < 0.5 else 1.0  # they come out of the reel either way round
        turned = Window(window.rows, window.columns, turn * window.u, turn * window.v, window.light, window.px_mm)
        paint_text(sitter.canvas, turned, code, (214, 214, 208), height_mm=b * 0.95, widest_mm=a * 1.15, strength=0.9)


def fuse(sitter: Sitter) -> None:
    """A chip fuse: pale ceramic with a letter."""
    window = sitter.window()
    if window is None:
        return
    a, b = sitter.half
    body = box(window.u, window.v, a, b, 0.05)
    sitter.canvas.paint(window, window.cover(body), tinted(block_level(sitter, window, body, 0.08), (212, 214, 206)))
    _ends(sitter, window, 0.2, 0.05)
    mark = sitter.part.marking or "P"
    paint_text(sitter.canvas, window, mark, (52, 74, 60), height_mm=b * 1.05, widest_mm=a * 0.9, strength=0.85)


def coil(sitter: Sitter) -> None:
    """A moulded power coil: a grey pressed block with feet at both ends and a code."""
    window = sitter.window()
    if window is None:
        return
    a, b = sitter.half
    for sign in (-1.0, 1.0):
        foot = box(window.u - sign * a * 0.94, window.v, a * 0.12, b * 0.62, 0.04)
        level = metal_level(window, dome(foot, 0.1), sitter.random)
        sitter.canvas.paint(window, window.cover(foot), tinted(level, TIN))
    body = box(window.u, window.v, a * 0.97, b * 0.97, 0.16 * a)
    level = block_level(sitter, window, body, 0.09 * a, 0.055)
    sitter.canvas.paint(window, window.cover(body), tinted(level, (74, 74, 77)))
    if sitter.part.value is not None:
        code = sitter.part.marking or coil_code(sitter.part.value.median)
        paint_text(sitter.canvas, window, code, (198, 198, 192), height_mm=b * 0.5, widest_mm=a * 1.3, strength=0.85)


def moulded_diode(sitter: Sitter) -> None:
    """A moulded diode with the band at pin 1, its cathode."""
    window = sitter.window(0.5)
    if window is None:
        return
    a, b = sitter.half
    for sign in (-1.0, 1.0):
        lead = box(window.u - sign * a * 1.02, window.v, a * 0.16, b * 0.42, 0.03)
        level = metal_level(window, dome(lead, 0.08), sitter.random)
        sitter.canvas.paint(window, window.cover(lead), tinted(level, TIN))
    body = box(window.u, window.v, a * 0.92, b, 0.05)
    sitter.canvas.paint(window, window.cover(body), tinted(block_level(sitter, window, body, 0.14 * b), PLASTIC))
    band = np.maximum(body, np.abs(window.u + a * 0.6) - a * 0.1).astype(np.float32)
    sitter.canvas.paint(window, 0.85 * window.cover(band), (170, 170, 168))
    paint_text(
        sitter.canvas, window, sitter.part.marking, (176, 176, 172), height_mm=b * 0.6, u_mm=a * 0.2, widest_mm=a
    )


def led(sitter: Sitter) -> None:
    """A small LED: a milky lens on a white carrier."""
    window = sitter.window()
    if window is None:
        return
    a, b = sitter.half
    body = box(window.u, window.v, a, b, 0.05)
    sitter.canvas.paint(window, window.cover(body), tinted(block_level(sitter, window, body, 0.08), (216, 216, 206)))
    _ends(sitter, window, 0.16, 0.05)
    lens = box(window.u, window.v, a * 0.66, b * 0.96, 0.06)
    sitter.canvas.paint(
        window, 0.92 * window.cover(lens), tinted(block_level(sitter, window, lens, b * 0.5), (222, 214, 168))
    )
    sitter.canvas.paint(window, 0.7 * window.soft(disc(window.u, window.v, b * 0.3), 0.12), (168, 142, 70))


def polymer(sitter: Sitter) -> None:
    """A polymer or tantalum block, its bar at pin 1."""
    window = sitter.window(0.4)
    if window is None:
        return
    a, b = sitter.half
    for sign in (-1.0, 1.0):
        lead = box(window.u - sign * a, window.v, a * 0.1, b * 0.6, 0.03)
        sitter.canvas.paint(
            window, window.cover(lead), tinted(metal_level(window, dome(lead, 0.08), sitter.random), TIN)
        )
    body = box(window.u, window.v, a * 0.97, b, 0.06)
    sitter.canvas.paint(window, window.cover(body), tinted(block_level(sitter, window, body, 0.12 * b), (52, 49, 50)))
    bar = np.maximum(body, np.abs(window.u + a * 0.74) - a * 0.15).astype(np.float32)
    sitter.canvas.paint(window, 0.9 * window.cover(bar), (190, 178, 140))
    mark = sitter.part.marking or "e7"
    paint_text(
        sitter.canvas, window, mark, (196, 190, 172), height_mm=b * 0.5, u_mm=a * 0.18, widest_mm=a * 1.2, strength=0.8
    )


def can(sitter: Sitter) -> None:
    """A crystal in its metal can."""
    window = sitter.window()
    if window is None:
        return
    a, b = sitter.half
    rim = box(window.u, window.v, a, b, 0.3)
    sitter.canvas.paint(window, window.cover(rim), tinted(block_level(sitter, window, rim, 0.08), (118, 106, 84)))
    lid = box(window.u, window.v, a - 0.18, b - 0.18, 0.25)
    level = metal_level(window, dome(lid, 0.16), sitter.random, polish=0.7)
    sitter.canvas.paint(
        window, window.cover(lid), tinted(level * (1.0 + 0.03 * np.sin(window.v * 60)), (188, 186, 180))
    )
    mark = sitter.part.marking or "16.000"
    paint_text(sitter.canvas, window, mark, (92, 90, 86), height_mm=b * 0.5, widest_mm=a * 1.3, strength=0.8)


def nothing(_sitter: Sitter) -> None:
    """A bare pad or a hole: it has no body."""


Painter = Callable[[Sitter], None]
