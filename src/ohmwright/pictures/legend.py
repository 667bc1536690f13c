"""The printed legend: outlines, pin-1 marks, the board's name; references only where asked for. Never a net's name."""

from __future__ import annotations

import numpy as np

from ohmwright.circuit import Board, Part
from ohmwright.geometry.frames import Outline
from ohmwright.geometry.packages import LandPattern
from ohmwright.pictures.canvas import Canvas, Field, Spot, Window, box, disc
from ohmwright.pictures.look import Look
from ohmwright.pictures.marks import paint_text

_LINE_MM = 0.13
"""Width of a legend line: a usual board-house minimum is 0.12 to 0.15 mm (common practice, no source)."""

Box = tuple[float, float, float, float]
"""Left, top, right, bottom, in board mm."""


def paint_part_legend(
    canvas: Canvas, spot: Spot, part: Part, pattern: LandPattern, look: Look, *, reference: bool
) -> None:
    """What is printed about one part."""
    half_u, half_v = reach(pattern)
    window = canvas.window(spot, half_u + 1.2, half_v + 1.6)
    if window is None:
        return
    if pattern.family in ("gull", "quad-gull", "no-lead", "balls", "tab") and len(pattern.lands) > 2:
        _chip_outline(canvas, window, pattern, look)
    elif pattern.family in ("coil", "line", "can", "moulded") or part.kind in ("polymer", "fuse"):
        _frame(canvas, window, half_u + 0.25, half_v + 0.25, look, gap=0.0 if pattern.family == "line" else 0.5)
    if pattern.family == "moulded":
        bar = box(window.u + half_u + 0.45, window.v, _LINE_MM / 2, half_v)
        canvas.paint(window, 0.9 * window.cover(bar), look.legend)
    if reference:
        _reference(canvas, spot, part.name, half_u, half_v, look)


def reach(pattern: LandPattern) -> tuple[float, float]:
    """Half the room a part takes with its pads, in mm along its own axes."""
    u = max([pattern.body_mm[0] / 2, *(abs(n.x_mm) + n.width_mm / 2 for n in pattern.lands)])
    v = max([pattern.body_mm[1] / 2, *(abs(n.y_mm) + n.height_mm / 2 for n in pattern.lands)])
    return u, v


def _reference(canvas: Canvas, spot: Spot, name: str, half_u: float, half_v: float, look: Look) -> None:
    upright = spot.angle_deg % 180 in (0, 180)
    over = (half_v if upright else half_u) + 0.75
    plain = Spot(spot.x_mm, spot.y_mm, 0.0, spot.side)
    window = canvas.window(plain, 3.0, over + 1.0)
    if window is not None:
        paint_text(canvas, window, name, look.legend, height_mm=0.85, v_mm=-over, strength=0.9)


def _chip_outline(canvas: Canvas, window: Window, pattern: LandPattern, look: Look) -> None:
    """Corners of the body, and a dot outside pin 1."""
    a, b = pattern.body_mm[0] / 2 + 0.12, pattern.body_mm[1] / 2 + 0.12
    line: Field = np.abs(box(window.u, window.v, a, b)) - _LINE_MM / 2
    corner = np.minimum(a - np.abs(window.u), b - np.abs(window.v)) + 0 * line
    near_corner = (
        (np.abs(window.u) > 0.6 * a) & (np.abs(window.v) > 0.6 * b)
        if pattern.family != "gull"
        else (np.abs(window.v) > b - 0.2)
    )
    canvas.paint(window, 0.9 * window.cover(line) * near_corner * (corner > -1), look.legend)
    first = pattern.lands[0]
    along = abs(first.x_mm) >= abs(first.y_mm)
    u = first.x_mm - (first.width_mm / 2 + 0.3 if along else 0.0)
    v = first.y_mm - (0.0 if along else first.height_mm / 2 + 0.3)
    if pattern.family in ("gull", "tab"):
        u, v = first.x_mm, first.y_mm - first.height_mm / 2 - 0.32
    canvas.paint(window, 0.9 * window.cover(disc(window.u - u, window.v - v, 0.17)), look.legend)


def _frame(canvas: Canvas, window: Window, a: float, b: float, look: Look, gap: float) -> None:
    line: Field = np.abs(box(window.u, window.v, a, b, 0.1)) - _LINE_MM / 2
    shown = np.abs(window.u) < a * (1.0 - gap) if gap else np.ones(line.shape, dtype=bool)
    canvas.paint(window, 0.88 * window.cover(line) * (shown | (np.abs(window.v) < b * (1 - gap) * 0)), look.legend)


def paint_board_name(canvas: Canvas, board: Board, outline: Outline, side: str, taken: list[Box], look: Look) -> None:
    """The board's name and side where there is room for them."""
    for text, height in ((board.name, 2.0), ("A" if side == "top" else "B", 2.4)):
        width = 0.72 * height * len(text) + 1.0
        found = _room(outline, width, height + 1.0, taken)
        if found is None:
            continue
        x, y = found
        taken.append((x - width / 2, y - height, x + width / 2, y + height))
        window = canvas.window(Spot(x, y, 0.0, side), width / 2 + 0.5, height)
        if window is None:
            continue
        paint_text(canvas, window, text, look.legend, height_mm=height, widest_mm=width, strength=0.9)
        if len(text) == 1:
            ring = np.abs(box(window.u, window.v, 1.9, 1.9, 0.3)) - _LINE_MM
            canvas.paint(window, 0.9 * window.cover(ring.astype(np.float32)), look.legend)


def _room(outline: Outline, width: float, height: float, taken: list[Box]) -> tuple[float, float] | None:
    """The centre of a free rectangle, the lowest and leftmost first."""
    y = outline.top_mm + outline.height_mm - height / 2 - 1.5
    while y - height / 2 > outline.top_mm + 1.5:
        x = outline.left_mm + width / 2 + 2.0
        while x + width / 2 < outline.left_mm + outline.width_mm - 2.0:
            mine = (x - width / 2, y - height / 2, x + width / 2, y + height / 2)
            if not any(overlaps(mine, other) for other in taken):
                return x, y
            x += 1.0
        y -= 1.0
    return None


def overlaps(a: Box, b: Box) -> bool:
    """Whether two boxes share any room."""
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
