"""Writing: codes on resistors and coils, top marks, the printed legend."""

from __future__ import annotations

import math
from functools import lru_cache

import cv2
import numpy as np

from ohmwright.pictures.canvas import Canvas, Colour, Field, Pixels, Window


@lru_cache(maxsize=512)
def text_stencil(text: str, height_px: int) -> Pixels:
    """The text as a stencil, 0 to 255, trimmed to its ink, about `height_px` high."""
    scale = max(8, height_px) / 22.0
    (width, height), drop = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, scale, 1)
    sheet = np.zeros((3 * height + drop + 8, width + 4 * height + 8), dtype=np.uint8)
    cv2.putText(sheet, text, (height, 2 * height), cv2.FONT_HERSHEY_SIMPLEX, scale, 255, 1, cv2.LINE_AA)
    inked = np.argwhere(sheet > 40)
    if not len(inked):
        return np.zeros((2, 2), dtype=np.uint8)
    (top, left), (bottom, right) = inked.min(axis=0), inked.max(axis=0)
    return np.ascontiguousarray(sheet[top : bottom + 1, left : right + 1])


def paint_text(
    canvas: Canvas,
    window: Window,
    text: str,
    colour: Colour,
    *,
    height_mm: float,
    u_mm: float = 0.0,
    v_mm: float = 0.0,
    strength: float = 1.0,
    widest_mm: float = math.inf,
    turned: bool = False,
) -> None:
    """Text centred at (u, v) of the window's thing, reading along u, or along v where `turned`."""
    if not text.strip():
        return
    stencil = text_stencil(text, math.ceil(height_mm / window.px_mm))
    width_mm = height_mm * stencil.shape[1] / stencil.shape[0]
    if width_mm > widest_mm:
        height_mm, width_mm = height_mm * widest_mm / width_mm, widest_mm
    along, down = window.u - u_mm, window.v - v_mm
    if turned:
        along, down = -down, along
    k_x, k_y = stencil.shape[1] / width_mm, stencil.shape[0] / height_mm
    cover = cv2.remap(
        stencil,
        ((along + width_mm / 2) * k_x - 0.5).astype(np.float32),
        ((down + height_mm / 2) * k_y - 0.5).astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
    )
    shade: Field = cover.astype(np.float32) / 255.0 * strength
    canvas.paint(window, shade, colour)


def resistor_code(ohms: float) -> str:
    """What a chip resistor of that value says: three figures, or R as the point (IEC 60062).

    >>> resistor_code(10e3), resistor_code(4.7), resistor_code(0.0), resistor_code(0.01)
    ('103', '4R7', '0', 'R010')
    """
    if ohms < 5e-4:
        return "0"
    if ohms < 1.0:
        return "R" + f"{ohms:.3f}"[2:]
    if ohms < 10.0:
        whole, tenth = divmod(round(ohms * 10), 10)
        return f"{whole}R{tenth}"
    power = math.floor(math.log10(ohms) + 1e-9) - 1
    figures = round(ohms / 10**power)
    return f"{figures // 10}{0}{power + 1}" if figures >= 100 else f"{figures}{power}"


def coil_code(henries: float) -> str:
    """What a moulded coil says, in microhenries: 2R2, 100 for 10.

    >>> coil_code(2.2e-6), coil_code(10e-6), coil_code(0.47e-6)
    ('2R2', '100', 'R47')
    """
    micro = henries * 1e6
    return "R" + f"{micro:.2f}"[2:] if micro < 0.995 else resistor_code(micro)
