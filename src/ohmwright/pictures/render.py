"""A board as a flatbed scanner would see it, rendered from what the board file says.

The picture is beautiful by choice and exact by need: it is test data of known geometry. What it shows is
a pure function of the board, the request and the seed. It never shows a net's name, and shows
references only where asked, because real boards seldom help.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ohmwright.circuit import Board, Part
from ohmwright.errors import DataError, UnknownNameError
from ohmwright.geometry.camera import View, px_per_mm, scan_view
from ohmwright.geometry.frames import BoardPoint, Outline
from ohmwright.geometry.packages import LandPattern, Pad, pad_centres, part_pattern
from ohmwright.pictures.bodies import Sitter
from ohmwright.pictures.canvas import Canvas, Colour, Pixels, Spot
from ohmwright.pictures.chips import painter_for
from ohmwright.pictures.copper import copper_map, paint_bare_board
from ohmwright.pictures.findings import FINDING_PAINTERS, FINDINGS
from ohmwright.pictures.legend import Box, overlaps, paint_board_name, paint_part_legend, reach
from ohmwright.pictures.light import cast_shadows, finish_scan
from ohmwright.pictures.look import Look, look_for, random_for
from ohmwright.pictures.routing import Routing, routed
from ohmwright.pictures.solder import paint_pad, paint_screw_hole, paint_via

LARGEST_PICTURE = 400_000_000
"""Most pixels a picture may have. [px] 400 megapixels is an A4 page at 1800 dpi."""
LID: Colour = (203, 199, 190)
"""The inside of the scanner's lid, seen around the board."""


@dataclass(frozen=True, slots=True)
class ScanRequest:
    """What to render.

    Parameters
    ----------
    dots_per_inch : float
        Resolution. [px/inch]
    margin_mm : float
        Lid shown around the board. [mm]
    references : bool
        Whether the legend carries the parts' names.
    findings : mapping of str to str
        For a part's name, what an eye finds on it: ``crack``, ``burn``, ``corrosion`` or ``missing``.
    look : str
        Name of a look; empty picks one by the board's name.
    dust : float
        How much dust lies on the glass; 1 is usual. [1]
    """

    side: str = "top"
    dots_per_inch: float = 600.0
    margin_mm: float = 3.0
    references: bool = False
    findings: Mapping[str, str] = field(default_factory=dict)
    look: str = ""
    seed: int = 1
    dust: float = 1.0


@dataclass(frozen=True, eq=False)
class BoardPicture:
    """A picture of one side with its ground truth.

    Parameters
    ----------
    pixels : ndarray, shape (height, width, 3)
        sRGB.
    view : View
        The exact way from board mm to pixels and back.
    pads : tuple of Pad
        Every pad of that side, in board mm, also of parts that are missing.
    """

    pixels: Pixels
    view: View
    outline: Outline
    pads: tuple[Pad, ...]


def board_outline(board: Board, around_mm: float = 4.0) -> Outline:
    """The smallest upright rectangle that leaves `around_mm` about every part, on whole millimetres."""
    boxes = [part_box(part) for part in board if part.place is not None]
    if not boxes:
        raise DataError(
            f"The board {board.name!r} cannot be drawn.",
            why="none of its parts says where it sits",
            hint="give the parts places, or work from a photograph",
        )
    left, top = math.floor(min(b[0] for b in boxes) - around_mm), math.floor(min(b[1] for b in boxes) - around_mm)
    right, bottom = math.ceil(max(b[2] for b in boxes) + around_mm), math.ceil(max(b[3] for b in boxes) + around_mm)
    return Outline(left, top, right - left, bottom - top)


def part_box(part: Part) -> Box:
    """The upright box about a placed part with its pads, in board mm."""
    if part.place is None:
        raise ValueError(f"part {part.name} has no place")
    place = part.place
    u, v = reach(part_pattern(part))
    c, s = abs(math.cos(math.radians(place.angle_deg))), abs(math.sin(math.radians(place.angle_deg)))
    x, y = u * c + v * s, u * s + v * c
    return place.x_mm - x, place.y_mm - y, place.x_mm + x, place.y_mm + y


def board_picture(board: Board, request: ScanRequest, outline: Outline | None = None) -> BoardPicture:
    """One side of a board as a scan.

    Parameters
    ----------
    outline : Outline or None
        The board's edge; by default a rectangle about all parts.

    Raises
    ------
    DataError
        If no part has a place, the picture would be too large, or a finding is none we can draw.
    """
    outline = outline or board_outline(board)
    _refuse_findings(board, request.findings)
    canvas = _blank(outline, request)
    look = look_for(request.look or board.name)
    pads = [(pad, board_net) for part in board for pad, board_net in _pads_with_nets(board, part)]
    holes = _screw_holes(board, outline)
    routing = _routing(board, outline, pads)
    _paint_board(canvas, board, outline, request, look, pads, routing)
    _paint_holes_and_legend(canvas, board, outline, request, look, holes)
    _paint_parts(canvas, board, request, look)
    finish_scan(canvas, random_for(request.seed, request.side, "glass"), dust=request.dust)
    shown = tuple(pad for pad, _ in pads if pad.side == request.side or pad.drill_mm)
    return BoardPicture(canvas.pixels, canvas.view, outline, shown)


def _blank(outline: Outline, request: ScanRequest) -> Canvas:
    scale = px_per_mm(request.dots_per_inch)
    width = round((outline.width_mm + 2 * request.margin_mm) * scale)
    height = round((outline.height_mm + 2 * request.margin_mm) * scale)
    if width * height > LARGEST_PICTURE:
        raise DataError(
            f"A picture of {width} by {height} pixels is too large.",
            hint=f"ask for fewer than {request.dots_per_inch:g} dots per inch",
        )
    pixels = np.empty((height, width, 3), dtype=np.uint8)
    pixels[...] = np.array(LID, dtype=np.uint8)
    return Canvas(pixels, scan_view(outline, request.side, scale, request.margin_mm), scale)


def _pads_with_nets(board: Board, part: Part) -> list[tuple[Pad, int]]:
    numbers = {net.name: i for i, net in enumerate(board.nets)}
    of_pin = {pin.number: numbers[pin.net] if pin.net is not None else -1 for pin in part.pins}
    return [(pad, of_pin[pad.pin]) for pad in pad_centres(part)]


def _routing(board: Board, outline: Outline, pads: Sequence[tuple[Pad, int]]) -> Routing:
    return routed(outline, pads, _ground(board))


def _ground(board: Board) -> int:
    return next(i for i, net in enumerate(board.nets) if net.name == board.ground)


def _paint_board(
    canvas: Canvas,
    board: Board,
    outline: Outline,
    request: ScanRequest,
    look: Look,
    pads: Sequence[tuple[Pad, int]],
    routing: Routing,
) -> None:
    """Shadow on the lid, the bare board, its cut edge, and the vias."""
    corners = canvas.view.pixels(np.array([[p.x_mm, p.y_mm] for p in outline.corners]))
    cast_shadows(canvas, [(corners, 2.2)])
    rails = [i for i, net in enumerate(board.nets) if net.rail and net.name != board.ground]
    copper = copper_map(outline, request.side, pads, routing, _ground(board), rails)
    paint_bare_board(canvas, copper, outline, look, random_for(request.seed, request.side, "laminate"))
    _paint_edge(canvas, outline, look)
    for via in routing.vias:
        tented = random_for(0, board.name, f"via {via.x_mm:.1f} {via.y_mm:.1f}").random() < 0.8
        paint_via(canvas, via.x_mm, via.y_mm, look, side=request.side, tented=tented)


def _paint_edge(canvas: Canvas, outline: Outline, look: Look) -> None:
    from ohmwright.pictures.canvas import box

    centre, a, b = outline.centre, outline.width_mm / 2, outline.height_mm / 2
    for spot, u, v in (
        (Spot(centre.x_mm, centre.y_mm - b), a, 0.3), (Spot(centre.x_mm, centre.y_mm + b), a, 0.3),
        (Spot(centre.x_mm - a, centre.y_mm), 0.3, b), (Spot(centre.x_mm + a, centre.y_mm), 0.3, b),
    ):  # fmt: skip
        window = canvas.window(spot, u, v)
        if window is not None:
            offset_u, offset_v = spot.x_mm - centre.x_mm, spot.y_mm - centre.y_mm
            rim = np.abs(box(window.u + offset_u, window.v + offset_v, a, b) + 0.06) - 0.06
            canvas.paint(window, 0.8 * window.cover(rim.astype(np.float32)), look.laminate)


def _screw_holes(board: Board, outline: Outline) -> list[BoardPoint]:
    """A hole near each corner that has room for a screw's head."""
    boxes = [part_box(part) for part in board if part.place is not None]
    inset, head = 3.6, 3.2
    found = []
    for corner in outline.corners:
        x = corner.x_mm + math.copysign(inset, outline.centre.x_mm - corner.x_mm)
        y = corner.y_mm + math.copysign(inset, outline.centre.y_mm - corner.y_mm)
        if not any(overlaps((x - head, y - head, x + head, y + head), b) for b in boxes):
            found.append(BoardPoint(x, y))
    return found


def _paint_holes_and_legend(
    canvas: Canvas, board: Board, outline: Outline, request: ScanRequest, look: Look, holes: list[BoardPoint]
) -> None:
    taken = [part_box(part) for part in board if part.place is not None and part.place.side == request.side]
    taken += [(h.x_mm - 3, h.y_mm - 3, h.x_mm + 3, h.y_mm + 3) for h in holes]
    for hole in holes:
        paint_screw_hole(canvas, hole.x_mm, hole.y_mm, 3.2, look, LID)
    for part in _on_side(board, request.side):
        paint_part_legend(canvas, _spot(part), part, part_pattern(part), look, reference=request.references)
    paint_board_name(canvas, board, outline, request.side, taken, look)


def _paint_parts(canvas: Canvas, board: Board, request: ScanRequest, look: Look) -> None:
    """Pads, then shadows, then bodies and what an eye would find on them."""
    present = [p for p in _on_side(board, request.side) if request.findings.get(p.name) != "missing"]
    here = {part.name for part in present}
    for part in board:
        for pad in pad_centres(part):
            if pad.side == request.side or pad.drill_mm:
                soldered = part_pattern(part).family != "bare" and (part.name in here or bool(pad.drill_mm))
                random = random_for(request.seed, part.name, pad.pin)
                paint_pad(canvas, pad, look, random, soldered=soldered or request.findings.get(part.name) == "missing")
    sitters = [_sitter(canvas, part, request.seed) for part in present]
    cast_shadows(canvas, [_shadow(s) for s in sitters if s.pattern.family != "bare"])
    for sitter in sitters:
        painter_for(sitter.part.kind, sitter.pattern.family)(sitter)
    for sitter in sitters:
        finding = request.findings.get(sitter.part.name)
        if finding:
            FINDING_PAINTERS[finding](sitter)


def _on_side(board: Board, side: str) -> list[Part]:
    return [part for part in board if part.place is not None and part.place.side == side]


def _spot(part: Part) -> Spot:
    if part.place is None:
        raise ValueError(f"part {part.name} has no place")
    return Spot(part.place.x_mm, part.place.y_mm, part.place.angle_deg, part.place.side)


def _sitter(canvas: Canvas, part: Part, seed: int) -> Sitter:
    """The part with the small shift and turn that every machine leaves; its pads stay exactly where they are."""
    random = random_for(seed, part.name, "body")
    spot, pattern = _spot(part), part_pattern(part)
    slack = 0.03 * min(1.0, min(pattern.body_mm))
    moved = Spot(
        spot.x_mm + float(random.normal(0, slack)),
        spot.y_mm + float(random.normal(0, slack)),
        spot.angle_deg + float(random.normal(0, 1.2 if pattern.family == "chip" else 0.25)),
        spot.side,
    )
    return Sitter(canvas, moved, part, pattern, random)


def _shadow(sitter: Sitter) -> tuple[np.ndarray[tuple[int, ...], np.dtype[np.float64]], float]:
    a, b = sitter.half
    corners = sitter.spot.to_board.applied(np.array([[-a, -b], [a, -b], [a, b], [-a, b]]))
    return sitter.canvas.view.pixels(corners), _height_mm(sitter.pattern)


def _height_mm(pattern: LandPattern) -> float:
    """About how high a body stands; typical heights, from memory."""
    low = {"chip": 0.55 * min(1.5, pattern.body_mm[1]), "no-lead": 0.85, "coil": 0.45 * pattern.body_mm[0]}
    return low.get(
        pattern.family, {"line": 3.2, "gull": 1.1, "quad-gull": 1.4, "moulded": 1.3}.get(pattern.family, 1.0)
    )


def _refuse_findings(board: Board, findings: Mapping[str, str]) -> None:
    for name, finding in findings.items():
        board.part(name)
        if finding not in FINDINGS:
            raise UnknownNameError.among("finding", finding, FINDINGS, where=f"the picture of {name}")
