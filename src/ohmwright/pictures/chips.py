"""Larger bodies: chips with leads, without leads and with balls; connectors."""

from __future__ import annotations

import numpy as np

from ohmwright.pictures.bodies import (
    PLASTIC,
    Painter,
    Sitter,
    block_level,
    can,
    ceramic,
    chip_resistor,
    coil,
    ferrite,
    fuse,
    led,
    moulded_diode,
    nothing,
    polymer,
)  # fmt: skip
from ohmwright.pictures.canvas import Window, box, disc, dome, tinted
from ohmwright.pictures.marks import paint_text
from ohmwright.pictures.solder import TIN, metal_level

_ETCH = (150, 148, 142)
"""Laser marks on black moulding."""


def leaded(sitter: Sitter) -> None:
    """A chip with gull-wing leads on two, three or four sides."""
    reach = max(max(abs(n.x_mm), abs(n.y_mm)) for n in sitter.pattern.lands) + 0.6
    window = sitter.canvas.window(sitter.spot, max(reach, sitter.half[0] + 0.3), max(reach, sitter.half[1] + 0.3))
    if window is None:
        return
    for land in sitter.pattern.lands:
        if abs(land.x_mm) > 0.8 * sitter.half[0] or abs(land.y_mm) > 0.8 * sitter.half[1]:
            _lead(sitter, land.x_mm, land.y_mm, min(land.width_mm, land.height_mm) * 0.7)
    _moulding(sitter, window)


def _lead(sitter: Sitter, x: float, y: float, width: float) -> None:
    """A lead from the body's side to the middle of its pad: shoulder, bend in shade, foot."""
    a, b = sitter.half
    sideways = abs(x) - a > abs(y) - b
    inner, outer = (a, abs(x) + 0.25) if sideways else (b, abs(y) + 0.25)
    sign = float(np.sign(x if sideways else y)) or 1.0
    middle, half = sign * (inner + outer) / 2, max((outer - inner) / 2, 0.1)
    window = sitter.canvas.window(sitter.spot, max(abs(x) + 0.6, a), max(abs(y) + 0.6, b))
    if window is None:
        return
    u, v = (window.u - middle, window.v - y) if sideways else (window.v - middle, window.u - x)
    near = (np.abs(u) < half + 0.2) & (np.abs(v) < width + 0.2)
    rows, columns = np.flatnonzero(near.any(axis=1)), np.flatnonzero(near.any(axis=0))
    if not len(rows) or not len(columns):
        return
    cut = (slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1))
    part = Window(
        slice(window.rows.start + int(rows[0]), window.rows.start + int(rows[-1]) + 1),
        slice(window.columns.start + int(columns[0]), window.columns.start + int(columns[-1]) + 1),
        window.u[cut], window.v[cut], window.light, window.px_mm,
    )  # fmt: skip
    strip = box(u[cut], v[cut], half, width / 2, 0.03)
    along = np.clip((sign * u[cut] + half) / (2 * half), 0, 1)
    bend = 0.3 * np.exp(-(((along - 0.42) / 0.13) ** 2))
    level = metal_level(part, dome(strip, 0.06), sitter.random) * (1.04 - bend)
    sitter.canvas.paint(part, part.cover(strip), tinted(level.astype(np.float32), TIN))


def _moulding(sitter: Sitter, window: Window) -> None:
    a, b = sitter.half
    body = box(window.u, window.v, a, b, 0.06)
    sitter.canvas.paint(window, window.cover(body), tinted(block_level(sitter, window, body, 0.1, 0.03), PLASTIC))
    if len(sitter.pattern.lands) > 3 and min(a, b) > 0.7:
        inset = min(0.55, 0.45 * min(a, b))
        _pin_one(sitter, window, -a + inset, -b + inset, min(0.32, 0.2 * min(a, b)))
    _top_mark(sitter, window)


def _pin_one(sitter: Sitter, window: Window, u: float, v: float, radius: float) -> None:
    """The dimple that marks pin 1."""
    dimple = disc(window.u - u, window.v - v, radius)
    shade = np.clip((window.u - u) * window.light[0] + (window.v - v) * window.light[1], -radius, radius) / radius
    sitter.canvas.paint(window, 0.9 * window.cover(dimple), tinted((0.86 - 0.3 * shade).astype(np.float32), PLASTIC))


def _top_mark(sitter: Sitter, window: Window) -> None:
    """The marking in up to three lines, along the longer edge, and an invented date code on larger ones."""
    a, b = sitter.half
    lines = [line for line in sitter.part.marking.replace("\\n", "\n").split("\n") if line.strip()]
    if not lines:
        return
    if len(lines) == 1 and min(a, b) > 1.4:
        week = int(sitter.random.integers(1, 52))
        lines.append(f"{int(sitter.random.integers(21, 26))}{week:02d}")
    tall = b > 1.15 * a
    room, across = (a, b) if tall else (b, a)
    height = min(0.62 * room / len(lines), 0.24 * across + 0.25, 1.3)
    for i, line in enumerate(lines[:3]):
        offset = (i - (len(lines) - 1) / 2) * height * 1.65
        u, v = (-offset, 0.0) if tall else (0.0, offset)
        paint_text(
            sitter.canvas, window, line, _ETCH,
            height_mm=height, u_mm=u, v_mm=v, widest_mm=1.55 * across, turned=tall, strength=0.72,
        )  # fmt: skip


def no_lead(sitter: Sitter) -> None:
    """A chip without leads: only the ends of its lands show at the edge."""
    window = sitter.window(0.4)
    if window is None:
        return
    a, b = sitter.half
    _moulding(sitter, window)
    for land in sitter.pattern.lands:
        if max(abs(land.x_mm) / a, abs(land.y_mm) / b) > 0.7:
            u, v = np.clip(land.x_mm, -a, a), np.clip(land.y_mm, -b, b)
            side = abs(land.x_mm) / a > abs(land.y_mm) / b
            width = min(land.width_mm, land.height_mm) / 2
            sliver = box(window.u - u, window.v - v, 0.05 if side else width, width if side else 0.05, 0.01)
            sitter.canvas.paint(window, 0.9 * window.cover(sliver), (182, 158, 128))


def balls(sitter: Sitter) -> None:
    """A chip on balls: a bare die or a moulding, nothing of its joints to be seen."""
    window = sitter.window()
    if window is not None:
        _moulding(sitter, window)


def tab(sitter: Sitter) -> None:
    """A power package with its tab soldered down."""
    a, b = sitter.half
    window = sitter.canvas.window(sitter.spot, 5.6, 3.6)
    if window is None:
        return
    metal = box(window.u - 3.1, window.v, 2.1, 2.6, 0.2)
    level = metal_level(window, dome(metal, 0.15), sitter.random)
    sitter.canvas.paint(window, window.cover(metal), tinted(level, TIN))
    for y in (-2.28, 2.28):
        _lead(sitter, -4.2, y, 0.8)
    body = box(window.u + 0.1, window.v, a * 0.95, b, 0.12)
    sitter.canvas.paint(window, window.cover(body), tinted(block_level(sitter, window, body, 0.2), PLASTIC))
    _top_mark(sitter, window)


def connector(sitter: Sitter) -> None:
    """A connector: a housing with a mouth, or the pins of a header."""
    window = sitter.window(0.8)
    if window is None:
        return
    a, b = sitter.half
    through = any(land.drill_mm for land in sitter.pattern.lands)
    metal_shell = any(word in sitter.part.package.upper() for word in ("USB", "HDMI", "SD"))
    body = box(window.u, window.v, a, b, 0.25)
    if metal_shell:
        level = metal_level(window, dome(body, 0.3), sitter.random, polish=0.8)
        sitter.canvas.paint(
            window, window.cover(body), tinted(level * (1 + 0.02 * np.sin(window.u * 40)), (190, 190, 190))
        )
        for sign in (-0.5, 0.5):
            latch = box(window.u - sign * a, window.v - 0.25 * b, a * 0.14, b * 0.3, 0.1)
            sitter.canvas.darken(window, 0.5 * window.cover(np.abs(latch) - 0.05))
        return
    colour = (46, 46, 48) if through else (216, 208, 186)
    sitter.canvas.paint(window, window.cover(body), tinted(block_level(sitter, window, body, 0.2), colour))
    if not through:
        mouth = box(window.u, window.v - 0.3 * b, a * 0.84, b * 0.42, 0.1)
        sitter.canvas.paint(window, 0.9 * window.cover(mouth), tinted(1.0 - 0.3 * dome(mouth, 0.5), (150, 142, 122)))
    for land in sitter.pattern.lands:
        v = land.y_mm if through else land.y_mm * 0.72
        pin = box(window.u - land.x_mm, window.v - v, *((0.32, 0.32) if through else (0.14, b * 0.3)), 0.05)
        level = metal_level(window, dome(pin, 0.12), sitter.random)
        sitter.canvas.paint(window, window.cover(pin), tinted(level, (204, 184, 132)))


_BY_FAMILY: dict[str, Painter] = {
    "gull": leaded, "quad-gull": leaded, "no-lead": no_lead, "balls": balls, "tab": tab, "line": connector,
    "can": can, "bare": nothing, "moulded": moulded_diode, "coil": coil, "chip": ceramic,
}  # fmt: skip
_BY_KIND_ON_CHIP: dict[str, Painter] = {
    "resistor": chip_resistor, "sense": chip_resistor, "link": chip_resistor, "fuse": fuse, "ferrite": ferrite,
    "led": led, "coil": coil, "polymer": polymer, "diode": moulded_diode, "schottky": moulded_diode,
    "tvs": moulded_diode, "tvs-two-way": moulded_diode, "crystal": can, "connector": connector,
}  # fmt: skip


def painter_for(kind: str, family: str) -> Painter:
    """Who paints a part of that kind in that family of packages; a new body is one line above."""
    if family == "chip":
        return _BY_KIND_ON_CHIP.get(kind, ceramic)
    if kind == "connector" and family == "gull":
        return connector
    return _BY_FAMILY.get(family, leaded)
