"""What a scanner adds: shadows, uneven light, dust, a little blur and noise."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from ohmwright.pictures.canvas import Canvas, Field, Pixels, grain

_STRIP = 512
_COARSE = 4


def cast_shadows(canvas: Canvas, bodies: list[tuple[NDArray[np.float64], float]]) -> None:
    """Darken the board beside each body.

    Parameters
    ----------
    bodies : list of (corners, height)
        Corners in pixels, shape (4, 2), and the body's height in mm.
    """
    height, width = canvas.pixels.shape[:2]
    shade: Pixels = np.zeros((height // _COARSE + 1, width // _COARSE + 1), dtype=np.uint8)
    for corners, tall in sorted(bodies, key=lambda body: -body[1]):
        step = np.array(canvas.light) * -0.3 * tall * canvas.px_per_mm
        for share, strength in ((1.0, 90), (0.15, 150)):
            moved = np.round((corners + step * share) / _COARSE * 16).astype(np.int32)
            cv2.fillConvexPoly(shade, moved, strength, cv2.LINE_AA, 4)
    blur = max(0.8, 0.11 * canvas.px_per_mm / _COARSE)
    shade = cv2.GaussianBlur(shade, (0, 0), blur)
    for start in range(0, height, _STRIP):
        rows = canvas.pixels[start : start + _STRIP]
        part_shade = _stretched(shade, start, rows.shape[0], width)
        rows[...] = (rows * (1.0 - part_shade[..., None] / 255.0)).astype(np.uint8)


def finish_scan(canvas: Canvas, random: np.random.Generator, *, dust: float = 1.0) -> None:
    """Light that falls off unevenly, dust on the glass, then the scanner's blur and noise."""
    _scatter_dust(canvas, random, dust)
    height, width = canvas.pixels.shape[:2]
    lamp = grain(random, (64, 64), (3, 4), 0.022)
    across = 0.03 * np.linspace(-1, 1, 64, dtype=np.float32)
    gain = (1.02 + lamp + across[None, :] - across[:, None] * 0.7).astype(np.float32)
    noise = random.standard_normal((_STRIP, 1024, 1)).astype(np.float32) * 1.5
    colour_noise = random.standard_normal((_STRIP, 1024, 3)).astype(np.float32) * 0.9
    sheet = noise + colour_noise
    sigma = 0.013 * canvas.px_per_mm
    for start in range(0, height, _STRIP):
        rows = canvas.pixels[start : start + _STRIP]
        rolled = np.roll(sheet, int(random.integers(1024)), axis=1)
        tiled = np.tile(rolled, (1, width // 1024 + 1, 1))[: rows.shape[0], :width]
        if sigma > 0.25:
            rows[...] = cv2.GaussianBlur(rows, (0, 0), sigma)
        lit = rows * _stretched(gain, start, rows.shape[0], width, of=height)[..., None] + tiled
        rows[...] = np.clip(lit + 0.5, 0, 255).astype(np.uint8)


def _stretched(small: Pixels | Field, start: int, rows: int, width: int, of: int | None = None) -> Field:
    """A strip of a small field stretched over the picture."""
    scale_x = small.shape[1] / width if of else 1.0 / _COARSE
    scale_y = small.shape[0] / of if of else 1.0 / _COARSE
    x = ((np.arange(width, dtype=np.float32) + 0.5) * scale_x - 0.5)[None, :]
    y = ((np.arange(start, start + rows, dtype=np.float32) + 0.5) * scale_y - 0.5)[:, None]
    map_x, map_y = (np.ascontiguousarray(np.broadcast_to(m, (rows, width))) for m in (x, y))
    drawn = cv2.remap(small, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(drawn, dtype=np.float32)


def _scatter_dust(canvas: Canvas, random: np.random.Generator, amount: float) -> None:
    """Specks and a few fibres, pale, out of focus."""
    height, width = canvas.pixels.shape[:2]
    area = height * width / canvas.px_per_mm**2 / 100.0
    for _ in range(int(area * 0.5 * amount)):
        x, y = int(random.integers(width)), int(random.integers(height))
        radius = max(1, round(random.exponential(0.03) * canvas.px_per_mm))
        _blend_spot(canvas, x, y, min(radius, 6), float(random.uniform(0.08, 0.3)))
    for _ in range(int(area * 0.025 * amount)):
        _fibre(canvas, random)


def _blend_spot(canvas: Canvas, x: int, y: int, radius: int, weight: float) -> None:
    part = canvas.pixels[max(0, y - radius) : y + radius + 1, max(0, x - radius) : x + radius + 1]
    part[...] = (part * (1 - weight) + 218 * weight).astype(np.uint8)


def _fibre(canvas: Canvas, random: np.random.Generator) -> None:
    height, width = canvas.pixels.shape[:2]
    start = np.array([random.integers(width), random.integers(height)], dtype=np.float64)
    heading, bend = random.uniform(0, 6.28), random.normal(0, 0.25)
    points = [start]
    for _ in range(14):
        heading += bend + random.normal(0, 0.12)
        points.append(points[-1] + 0.12 * canvas.px_per_mm * np.array([np.cos(heading), np.sin(heading)]))
    line = np.round(points).astype(np.int32)
    low, high = np.maximum(line.min(axis=0) - 4, 0), line.max(axis=0) + 5
    part = canvas.pixels[low[1] : high[1], low[0] : high[0]]
    if part.size == 0:
        return
    mask = np.zeros(part.shape[:2], dtype=np.uint8)
    cv2.polylines(
        mask, [(line - low).reshape(-1, 1, 2)], False, 110, max(1, round(0.02 * canvas.px_per_mm)), cv2.LINE_AA
    )
    weight = cv2.GaussianBlur(mask, (0, 0), 0.8).astype(np.float32)[..., None] / 255.0
    part[...] = (part * (1 - weight) + np.array((206, 208, 212)) * weight).astype(np.uint8)
