"""What an eye could find on a failed part: a crack, a burn, corrosion. A missing part is simply not painted."""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np

from ohmwright.pictures.bodies import Sitter
from ohmwright.pictures.canvas import Field, Window, box, disc, tinted

FINDINGS = ("crack", "burn", "corrosion", "missing")
"""The words `findings` may use for a part."""


def _noise(sitter: Sitter, window: Window, cell_mm: float) -> Field:
    """Smooth noise of about unit size with features of `cell_mm`."""
    rows, columns = window.u.shape
    cells = (max(3, round(rows * window.px_mm / cell_mm)), max(3, round(columns * window.px_mm / cell_mm)))
    rough = sitter.random.standard_normal(cells).astype(np.float32)
    return np.asarray(cv2.resize(rough, (columns, rows), interpolation=cv2.INTER_CUBIC), dtype=np.float32)


def crack(sitter: Sitter) -> None:
    """A hairline across the body, wandering, dark with one bright lip, and a chip out of the edge."""
    window = sitter.window()
    if window is None:
        return
    a, b = sitter.half
    body = box(window.u, window.v, a, b, 0.05)
    rows = np.linspace(-b * 1.1, b * 1.1, 12)
    knots = np.cumsum(sitter.random.normal(0, 0.07 * a, 12)) + 0.12 * a * float(sitter.random.choice([-1.0, 1.0]))
    slant = 0.25 * a * float(sitter.random.choice([-1.0, 1.0]))
    line = np.interp(window.v, rows, knots - knots.mean() + np.linspace(-slant, slant, 12)).astype(np.float32)
    width = np.float32(max(0.035 * b, 0.6 * window.px_mm))
    across = np.abs(window.u - line) - width * (0.7 + 0.5 * np.abs(_noise(sitter, window, 0.1)))
    inside = window.cover(body)
    sitter.canvas.paint(
        window, 0.45 * inside * window.cover(np.abs(window.u - line - 2.2 * width) - width), (226, 210, 188)
    )
    sitter.canvas.paint(window, 0.95 * inside * window.soft(across, 0.02), (22, 17, 14))
    chipped = disc(window.u - line[-1, 0] * 0 - slant, window.v - b, 0.22 * b) + 0.05 * b * _noise(sitter, window, 0.08)
    sitter.canvas.paint(window, inside * window.cover(chipped.astype(np.float32)), (70, 52, 40))


def burn(sitter: Sitter) -> None:
    """A charred crater in the body, with smoke on the mask around it."""
    reach = max(sitter.half) * 2.6 + 0.8
    window = sitter.canvas.window(sitter.spot, reach, reach)
    if window is None:
        return
    small, coarse = _noise(sitter, window, 0.12), _noise(sitter, window, 0.5)
    size = min(sitter.half)
    far = np.hypot(window.u - 0.15 * size, window.v)
    smoke = np.clip(1.0 - far / (reach * (0.8 + 0.12 * coarse)), 0, 1) ** 1.6
    sitter.canvas.paint(window, (0.72 * smoke).astype(np.float32), (38, 27, 18))
    crater = (far - size * (0.75 + 0.13 * coarse + 0.05 * small)).astype(np.float32)
    sitter.canvas.paint(window, 0.5 * window.soft(crater - 0.12 * size, 0.15 * size), (112, 98, 84))
    sitter.canvas.paint(window, 0.95 * window.soft(crater, 0.06), tinted(1.0 + 0.45 * small, (24, 20, 18)))
    ash = (far - size * (0.3 + 0.1 * coarse)).astype(np.float32)
    sitter.canvas.paint(window, 0.4 * window.soft(ash, 0.1), tinted(1.0 + 0.3 * small, (132, 126, 120)))


def corrosion(sitter: Sitter) -> None:
    """Green and white crust that starts at the joints and creeps over the mask."""
    reach = max(sitter.half) * 1.6 + 0.7
    window = sitter.canvas.window(sitter.spot, reach, reach)
    if window is None:
        return
    small, coarse = _noise(sitter, window, 0.07), _noise(sitter, window, 0.35)
    from_joint = np.min(
        [box(window.u - n.x_mm, window.v - n.y_mm, n.width_mm / 2, n.height_mm / 2, 0.1) for n in sitter.pattern.lands],
        axis=0,
    )
    edge = (from_joint - 0.16 - 0.22 * coarse).astype(np.float32)
    cover = window.soft(edge, 0.3) * np.clip(0.75 + 0.4 * small, 0.0, 1.0)
    green, white = np.array((96, 158, 132), np.float32), np.array((212, 220, 206), np.float32)
    mix = np.clip(0.4 + 0.5 * small, 0, 1)[..., None]
    colour = (green * (1 - mix) + white * mix) * (1.0 + 0.12 * small)[..., None]
    sitter.canvas.paint(window, (0.88 * cover).astype(np.float32), colour.astype(np.float32))


FINDING_PAINTERS: dict[str, Callable[[Sitter], None]] = {"crack": crack, "burn": burn, "corrosion": corrosion}
"""Who paints which finding over the finished part."""
