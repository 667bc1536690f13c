"""A figure of the board for a report or a forum: picture, pads, parts, nets, what was seen and what was read.

One drawing, as SVG: labels keep one size whatever the board measures, yield to each other, and are left
out rather than laid over one another. Nothing is told by colour alone: every mark has a shape and stands
in the legend.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from xml.sax.saxutils import escape, quoteattr

from ohmwright.boardmap import Chart, Layer
from ohmwright.boardmap.naming import net_names
from ohmwright.circuit import Board
from ohmwright.facts import Facts, LookFinding, Reading
from ohmwright.geometry import Pad
from ohmwright.quantities import format_quantity

PANEL_PX = 1150.0
"""Width of one side in the figure. [px]"""
MARGIN_PX, GAP_PX, LINE_PX = 24.0, 28.0, 22.0
FONT_PX, SMALL_PX = 15.0, 13.0
"""Size of the labels. [px] 13 px are 10 points at 96 px an inch: readable in print"""
CHAR = 0.6
"""Width of a letter over its height, wide enough for DejaVu Sans. [1]"""
MOST_LABELS, MOST_TAGS = 400, 60
LEAST_AROUND = 0.08
"""Of the picture that is shown around what is mapped, as a share of its longer edge. [1]"""
MARKS = {
    LookFinding.CRACK: ("M-9,-9 L9,9 M9,-9 L-9,9", "crack"), LookFinding.BURN: ("M0,-11 L10,8 L-10,8 Z", "burn"),
    LookFinding.CORROSION: ("M-9,0 A9,9 0 1 0 9,0 A9,9 0 1 0 -9,0", "corrosion"),
    LookFinding.MISSING: ("M-9,-9 H9 V9 H-9 Z", "missing"), LookFinding.REWORKED: ("M-10,0 H10 M0,-10 V10", "reworked"),
}  # fmt: skip
"""Shape of each mark, and its word."""
SIDES = {"top": "upper side", "bottom": "underside, turned over"}
DARK, PAPER, ACCENT, LIT, RED = "#10202b", "#fffdf8", "#0b5d8f", "#ffd37a", "#9c1c00"
FAMILY = "DejaVu Sans, Noto Sans, sans-serif"


@dataclass(frozen=True, slots=True)
class Tile:
    """A piece of a picture, and the rectangle of the whole picture it shows. [px]"""

    jpeg: bytes
    x: float
    y: float
    width: float
    height: float


Tiles = Callable[[Layer], Sequence[Tile]]
Box = tuple[float, float, float, float]


@dataclass
class _Side:
    """One side of the board as it is drawn: millimetres to pixels, and where labels lie already."""

    name: str
    left: float
    scale: float
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    out: list[str] = field(default_factory=list)
    taken: list[Box] = field(default_factory=list)

    @property
    def size(self) -> tuple[float, float]:
        return self.width_mm * self.scale, self.height_mm * self.scale

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Where a place of the board is drawn: the bottom as it is seen when the board is turned over."""
        along = (self.x_mm + self.width_mm - x) if self.name == "bottom" else (x - self.x_mm)
        return self.left + along * self.scale, MARGIN_PX + LINE_PX * 1.6 + (y - self.y_mm) * self.scale


def figure_svg(
    title: str, board: Board, chart: Chart, facts: Facts, tiles: Tiles, sides: Sequence[str], point: str = ""
) -> str:
    """The figure as SVG text.

    Parameters
    ----------
    sides : sequence of str
        ``top``, ``bottom`` or both, from left to right.
    point : str
        A pad to ring, with the copper it lies on lit; empty for none.
    """
    panels = _panels(chart, sides)
    for panel in panels:
        _pictures(panel, chart, tiles)
        _pads(panel, board, chart, point)
        _ring(panel, chart, point)
        _looks(panel, board, facts)
        _readings(panel, board, chart, facts)
        _names(panel, board)
    height = max(MARGIN_PX + LINE_PX * 1.6 + panel.size[1] for panel in panels) + GAP_PX
    width = max(panel.left + panel.size[0] for panel in panels) + MARGIN_PX
    legend, tall = _legend(board, chart, facts, point, width, height)
    return "\n".join([
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0f}" height="{height + tall:.0f}" '
        f'viewBox="0 0 {width:.0f} {height + tall:.0f}" font-family={quoteattr(FAMILY)}>',
        f"<title>{escape(title)}</title>", f'<rect width="100%" height="100%" fill="{PAPER}"/>',
        *(line for panel in panels for line in (
            f'<text x="{panel.left:.1f}" y="{MARGIN_PX + LINE_PX:.1f}" font-size="18" font-weight="bold" '
            f'fill="{DARK}">{escape(title)}: {SIDES[panel.name]}</text>',
            *panel.out,
        )),
        *legend, "</svg>",
    ])  # fmt: skip


def _panels(chart: Chart, sides: Sequence[str]) -> list[_Side]:
    found: list[_Side] = []
    left = MARGIN_PX
    for name in sides:
        x, y, width, height = _frame(chart, name)
        panel = _Side(name, left, PANEL_PX / width, x, y, width, height)
        found.append(panel)
        left += panel.size[0] + GAP_PX
    return found


def _frame(chart: Chart, side: str) -> Box:
    """The part of the board that is shown: what is mapped, with some of the picture around it. [mm]"""
    picture = _picture_box(chart, side)
    xs = [pad.x_mm + d * pad.width_mm for pad in chart.pads if pad.side == side for d in (-1.0, 1.0)]
    ys = [pad.y_mm + d * pad.height_mm for pad in chart.pads if pad.side == side for d in (-1.0, 1.0)]
    if not xs or not any(layer.side == side for layer in chart.layers):
        return picture
    left, top, width, height = picture
    edge = max(0.2 * max(max(xs) - min(xs), max(ys) - min(ys)), LEAST_AROUND * max(width, height))
    x0, y0 = max(left, min(xs) - edge), max(top, min(ys) - edge)
    x1, y1 = min(left + width, max(xs) + edge), min(top + height, max(ys) + edge)
    return (x0, y0, x1 - x0, y1 - y0) if x1 - x0 > 1.0 and y1 - y0 > 1.0 else picture


def _picture_box(chart: Chart, side: str) -> Box:
    """What the picture of a side shows, else what its pads take up. [mm]"""
    layer = next((layer for layer in chart.layers if layer.side == side), None)
    if layer is not None:
        corners = [layer.to_board.at(x, y) for x in (0, layer.width_px) for y in (0, layer.height_px)]
        xs, ys = [c[0] for c in corners], [c[1] for c in corners]
    else:
        xs = [pad.x_mm + d for pad in chart.pads for d in (-3.0, 3.0)] or [0.0, 60.0]
        ys = [pad.y_mm + d for pad in chart.pads for d in (-3.0, 3.0)] or [0.0, 40.0]
    return min(xs), min(ys), max(max(xs) - min(xs), 1.0), max(max(ys) - min(ys), 1.0)


def _pictures(panel: _Side, chart: Chart, tiles: Tiles) -> None:
    width, height = panel.size
    x, y = panel.left, MARGIN_PX + LINE_PX * 1.6
    key = f"frame-{panel.name}"
    panel.out.append(
        f'<clipPath id="{key}"><rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}"/></clipPath>'
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="#2c5f4a"/>'
        f'<g clip-path="url(#{key})">'
    )
    for layer in chart.layers:
        for tile in tiles(layer) if layer.side == panel.name else ():
            panel.out.append(_image(panel, layer, tile))
    panel.out.append("</g>")


def _image(panel: _Side, layer: Layer, tile: Tile) -> str:
    """A tile where it lies: three of its corners fix an affine map, exact but for strong perspective."""
    corners = [(tile.x, tile.y), (tile.x + tile.width, tile.y), (tile.x, tile.y + tile.height)]
    (ax, ay), (bx, by), (cx, cy) = (panel.at(*layer.to_board.at(x - 0.5, y - 0.5)) for x, y in corners)
    matrix = ((bx - ax) / tile.width, (by - ay) / tile.width, (cx - ax) / tile.height, (cy - ay) / tile.height, ax, ay)
    data = base64.b64encode(tile.jpeg).decode("ascii")
    seam = 0.6 * tile.width / 512.0  # a little over its neighbour, or a line shows between them
    return (
        f'<image width="{tile.width + seam:g}" height="{tile.height + seam:g}" preserveAspectRatio="none" '
        f'transform="matrix({" ".join(f"{v:.6g}" for v in matrix)})" href="data:image/jpeg;base64,{data}"/>'
    )


def _pads(panel: _Side, board: Board, chart: Chart, point: str) -> None:
    nets = {f"{p.name}.{q.number}": q.net for p in board.parts for q in p.pins}
    lit = nets.get(point) if point else None
    for pad in chart.pads:
        if pad.side != panel.name:
            continue
        net = nets.get(f"{pad.part}.{pad.pin}")
        corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in (panel.at(*corner) for corner in _corners(pad)))
        dash = ' stroke-dasharray="4 3"' if net is None else ""
        fill = LIT if net is not None and net == lit else "none"
        panel.out.append(
            f'<polygon points="{corners}" fill="{fill}" fill-opacity="0.75" stroke="{DARK}" stroke-width="3"/>'
            f'<polygon points="{corners}" fill="none" stroke="{PAPER}" stroke-width="1.3"{dash}/>'
        )
        if net == board.ground:
            x, y = panel.at(pad.x_mm, pad.y_mm)
            foot = f"M{x:.1f},{y - 5:.1f} V{y + 4:.1f} M{x - 5:.1f},{y + 4:.1f} H{x + 5:.1f}"
            panel.out.append(f'<path d="{foot}" stroke="{DARK}" stroke-width="3.5"/><path d="{foot}" stroke="{PAPER}" '
                             'stroke-width="1.6"/>')  # fmt: skip


def _corners(pad: Pad) -> list[tuple[float, float]]:
    t = math.radians(pad.angle_deg)
    cos, sin, w, h = math.cos(t), math.sin(t), pad.width_mm / 2.0, pad.height_mm / 2.0
    return [(pad.x_mm + cos * i * w + sin * j * h, pad.y_mm - sin * i * w + cos * j * h)
            for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))]  # fmt: skip


def _ring(panel: _Side, chart: Chart, point: str) -> None:
    for pad in chart.pads:
        if f"{pad.part}.{pad.pin}" != point or pad.side != panel.name:
            continue
        x, y = panel.at(pad.x_mm, pad.y_mm)
        r = max(pad.width_mm, pad.height_mm) * panel.scale / 2.0 + 9.0
        for colour, width in ((PAPER, 8), (RED, 4)):
            panel.out.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r:.1f}" fill="none" stroke="{colour}" '
                             f'stroke-width="{width}"/>')  # fmt: skip
        _label(panel, x, y, point, FONT_PX, RED, PAPER, r)


def _looks(panel: _Side, board: Board, facts: Facts) -> None:
    for look in facts.looks:
        shape = MARKS.get(look.finding)
        for name in look.parts if shape is not None else ():
            place = board.part_by_name[name].place if name in board.part_by_name else None
            if shape is None or place is None or place.side != panel.name:
                continue
            x, y = panel.at(place.x_mm, place.y_mm)
            for colour, width in ((PAPER, 7), (RED, 3.2)):
                panel.out.append(f'<path transform="translate({x:.1f} {y:.1f})" d="{shape[0]}" fill="none" '
                                 f'stroke="{colour}" stroke-width="{width}"/>')  # fmt: skip
            _label(panel, x, y, f"{name}: {shape[1]}", SMALL_PX, RED, PAPER, 14.0)


def _readings(panel: _Side, board: Board, chart: Chart, facts: Facts) -> None:
    places = {f"{pad.part}.{pad.pin}": pad for pad in reversed(chart.pads) if pad.side == panel.name}
    by_net: dict[str | None, Pad] = {}
    for part in board.parts:
        for pin in part.pins:
            if f"{part.name}.{pin.number}" in places:
                by_net.setdefault(pin.net, places[f"{part.name}.{pin.number}"])
    shown: dict[str, str] = {}
    for reading in facts.readings[-MOST_TAGS:]:
        spot = reading.red if reading.red != board.ground else reading.black
        shown[spot] = _value(reading)
    for spot, words in shown.items():
        pad = places.get(spot) or by_net.get(spot)
        if pad is not None:
            x, y = panel.at(pad.x_mm, pad.y_mm)
            _label(
                panel, x, y, words, SMALL_PX, PAPER, DARK, max(pad.width_mm, pad.height_mm) * panel.scale / 2.0 + 2.0
            )


def _value(reading: Reading) -> str:
    unit = {"ohms": "Ω", "part ohms": "Ω", "supply amps": "A"}.get(reading.quantity.value, "V")
    figures = "OL" if reading.value is None else format_quantity(reading.value, unit, 3)
    return f"{figures} {'diode' if 'diode' in reading.quantity.value else ''}".strip()


def _names(panel: _Side, board: Board) -> None:
    parts = [p for p in board.parts if p.place is not None and p.place.side == panel.name]
    parts.sort(key=lambda p: -(p.place.width_mm * p.place.height_mm) if p.place else 0.0)
    for part in parts[:MOST_LABELS]:
        if part.place is None:
            continue
        x, y = panel.at(part.place.x_mm, part.place.y_mm)
        half = min(part.place.width_mm, part.place.height_mm) * panel.scale / 2.0
        _label(panel, x, y, part.name, SMALL_PX, "none", DARK, half if len(part.pins) <= 2 else 0.0)


def _label(panel: _Side, x: float, y: float, text: str, size: float, paper: str, ink: str, clear: float) -> None:
    """A label near a place, where it lies on no other; left out where there is no room."""
    w, h = len(text) * size * CHAR + 8.0, size + 6.0
    right, bottom = panel.left + panel.size[0], MARGIN_PX + LINE_PX * 1.6 + panel.size[1]
    for dx, dy in _spots(w, h, clear):
        box = (x + dx - w / 2, y + dy - h / 2, x + dx + w / 2, y + dy + h / 2)
        inside = box[0] >= panel.left and box[1] >= MARGIN_PX + LINE_PX * 1.6 and box[2] <= right and box[3] <= bottom
        if not inside or any(_overlap(box, other) for other in panel.taken):
            continue
        panel.taken.append(box)
        if paper != "none":
            panel.out.append(f'<rect x="{box[0]:.1f}" y="{box[1]:.1f}" width="{w:.1f}" height="{h:.1f}" rx="4" '
                             f'fill="{paper}" stroke="{PAPER}"/>')  # fmt: skip
        base = f'x="{x + dx:.1f}" y="{y + dy + size * 0.35:.1f}" font-size="{size:g}" text-anchor="middle"'
        if paper == "none":  # a pale edge makes it readable on any picture
            panel.out.append(f'<text {base} font-weight="bold" stroke="{PAPER}" stroke-width="4" '
                             f'stroke-linejoin="round" fill="{PAPER}">{escape(text)}</text>')  # fmt: skip
        panel.out.append(f'<text {base} font-weight="bold" fill="{ink}" class="label">{escape(text)}</text>')
        return


def _spots(w: float, h: float, clear: float) -> Iterable[tuple[float, float]]:
    if clear == 0.0:
        yield 0.0, 0.0
    up, side = clear + h / 2 + 1.0, clear + w / 2 + 1.0
    yield from ((0.0, -up), (0.0, up), (side, 0.0), (-side, 0.0))
    for far in (1.0, 2.0, 3.0):
        yield from ((side, -far * h), (-side, -far * h), (side, far * h), (-side, far * h), (0.0, up + far * h))


def _overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _legend(board: Board, chart: Chart, facts: Facts, point: str, width: float, top: float) -> tuple[list[str], float]:
    """What the marks mean, and which nets are on the map."""
    found = {look.finding for look in facts.looks if look.finding in MARKS}
    rows = ["solid outline: joined to a net; dashed: joined to nothing yet; with a foot: ground"]
    if point:
        rows.append(f"ring: {point}; filled: the copper it lies on")
    if found:
        rows.append("red marks: " + ", ".join(sorted(MARKS[one][1] for one in found)))
    if facts.readings:
        rows.append("dark tags: the last reading at that point, against ground where nothing else is said")
    names = net_names(board)
    on = {net.name: len(board.pins_on[net.name]) for net in board.nets}
    nets = sorted((net for net in on if on[net] > 1), key=lambda net: -on[net])
    if nets:
        rows.append("nets: " + ", ".join(f"{names[net]} ({on[net]} pads)" for net in nets[:14]))
    rows.append(f"scale: {chart.scale_from or 'guessed'}")
    out, y = [], top
    most = int((width - 2 * MARGIN_PX) / (SMALL_PX * CHAR))
    for row in (piece for whole in rows for piece in _wrapped(whole, most)):
        y += LINE_PX
        out.append(f'<text x="{MARGIN_PX}" y="{y:.1f}" font-size="{SMALL_PX:g}" fill="{DARK}">{escape(row)}</text>')
    return out, y - top + MARGIN_PX


def _wrapped(text: str, most: int) -> list[str]:
    lines, line = [], ""
    for word in text.split(" "):
        if line and len(line) + 1 + len(word) > most:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}".strip()
    return [*lines, line]
