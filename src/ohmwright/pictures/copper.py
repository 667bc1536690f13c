"""The bare board: copper under mask, drawn coarsely and then lit, with the glass weave showing through."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from ohmwright.geometry.camera import View
from ohmwright.geometry.frames import Outline
from ohmwright.geometry.packages import Pad
from ohmwright.geometry.transforms import similarity
from ohmwright.pictures.canvas import Canvas, Field, Pixels, grain
from ohmwright.pictures.look import Look
from ohmwright.pictures.routing import Routing

COARSE_PX_PER_MM = 20.0
"""Resolution copper is drawn at; it is seen through the mask, so its edges are soft anyway."""
_SHIFT = 4
_STRIP = 256


def copper_map(
    outline: Outline, side: str, pads: Sequence[tuple[Pad, int]], routing: Routing, ground: int, rails: Sequence[int]
) -> Pixels:
    """Where there is copper on one side, 0 or 255 per coarse pixel, in the orientation of that side's scan."""
    view = _coarse_view(outline, side)
    shape = (round(outline.height_mm * COARSE_PX_PER_MM), round(outline.width_mm * COARSE_PX_PER_MM))
    nets: NDArray[np.uint16] = np.zeros(shape, dtype=np.uint16)
    for track in routing.tracks[side]:
        line = view.pixels(np.array(track.points))
        width = 0.15 if track.net not in rails else 0.35
        _polyline(nets, line, track.net + 1, width)
    for via in routing.vias:
        x, y = view.pixels(np.array([[via.x_mm, via.y_mm]]))[0] * 2**_SHIFT
        cv2.circle(nets, (round(x), round(y)), round(0.26 * COARSE_PX_PER_MM * 2**_SHIFT), via.net + 1, -1, 8, _SHIFT)
    for pad, net in pads:
        if pad.side == side or pad.drill_mm:
            corners = np.round(view.pixels(pad_corners(pad, 0.03)) * 2**_SHIFT).astype(np.int32)
            cv2.fillConvexPoly(nets, corners, net + 1 if net >= 0 else 60000, cv2.LINE_8, _SHIFT)
    return _poured(nets, ground + 1, [r + 1 for r in rails])


def _poured(nets: NDArray[np.uint16], ground: int, rails: Sequence[int]) -> Pixels:
    """Tracks and pads, zones about the rails, and the ground pour in what is left."""
    zones = np.zeros(nets.shape, dtype=np.uint8)
    gap, wide = _ellipse(0.2), _ellipse(1.1)
    for rail in rails:
        own = (nets == rail).astype(np.uint8)
        if int(own.sum()) < 40:
            continue
        others = np.asarray(cv2.dilate(((nets != 0) & (nets != rail)).astype(np.uint8), gap), dtype=np.uint8)
        taken = np.asarray(cv2.dilate(zones, gap), dtype=np.uint8)
        grown = np.asarray(cv2.dilate(own, wide), dtype=np.uint8)
        zone = cv2.morphologyEx(grown & (1 - others) & (1 - taken), cv2.MORPH_OPEN, _ellipse(0.25))
        zones |= np.asarray(zone | (own & (1 - taken)), dtype=np.uint8)
    signals = ((nets != 0) & (nets != ground)).astype(np.uint8) | zones
    pour = 1 - cv2.dilate(signals, gap)
    edge = round(0.4 * COARSE_PX_PER_MM)
    pour[:edge] = pour[-edge:] = 0
    pour[:, :edge] = pour[:, -edge:] = 0
    pour = cv2.morphologyEx(pour, cv2.MORPH_OPEN, _ellipse(0.25))
    return np.asarray((pour | signals | (nets == ground)) * 255, dtype=np.uint8)


def paint_bare_board(canvas: Canvas, copper: Pixels, outline: Outline, look: Look, random: np.random.Generator) -> None:
    """The board's surface before anything is soldered on, painted strip by strip to spare memory."""
    corners = canvas.view.pixels(np.array([[p.x_mm, p.y_mm] for p in outline.corners]))
    left, top = corners.min(axis=0) + 0.5
    right, bottom = corners.max(axis=0) + 0.5
    rows = range(max(0, round(top)), min(canvas.pixels.shape[0], round(bottom)))
    columns = slice(max(0, round(left)), min(canvas.pixels.shape[1], round(right)))
    scale = COARSE_PX_PER_MM / canvas.px_per_mm
    mottle = grain(random, (len(rows) // 8 + 2, (columns.stop - columns.start) // 8 + 2), (26, 30), 1.0)
    phase = random.uniform(0, 6.28, 4)
    smooth = cv2.GaussianBlur(copper, (0, 0), 0.9)
    relief = _relief(smooth)
    x = np.arange(columns.start, columns.stop, dtype=np.float32)
    for start in range(rows.start, rows.stop, _STRIP):
        y = np.arange(start, min(start + _STRIP, rows.stop), dtype=np.float32)
        map_x = np.broadcast_to((x[None, :] - left + 0.5) * scale - 0.5, (len(y), len(x))).astype(np.float32)
        map_y = np.broadcast_to((y[:, None] - top + 0.5) * scale - 0.5, (len(y), len(x))).astype(np.float32)
        here = _sample(smooth, map_x, map_y) / 255.0
        lit = _sample(relief, map_x, map_y)
        blotch = _sample(mottle, (map_x / scale / 8), (map_y / scale / 8))
        weave = _weave(x[None, :] / canvas.px_per_mm, y[:, None] / canvas.px_per_mm, phase)
        canvas.pixels[start : start + len(y), columns] = _mask_colour(look, here, lit, blotch, weave)


def _mask_colour(look: Look, copper: Field, lit: Field, blotch: Field, weave: Field) -> Pixels:
    here = np.clip((copper - 0.25) * 2.0, 0.0, 1.0)[..., None]
    base = np.array(look.over_laminate, np.float32) * (1 - here) + np.array(look.over_copper, np.float32) * here
    level = 1.0 + 0.035 * blotch + 0.075 * weave * (1.0 - 0.7 * here[..., 0])
    shaded = base * level[..., None] + (lit * 22.0 * look.gloss)[..., None]
    return np.clip(shaded + 0.5, 0, 255).astype(np.uint8)


def _relief(smooth: Pixels) -> Field:
    """Light and shade at the edges of copper, where the mask steps down; light from the upper left."""
    across = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3)
    down = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3)
    return np.asarray((0.55 * across + 0.83 * down) / 800.0, dtype=np.float32)


def _weave(x_mm: Field, y_mm: Field, phase: NDArray[np.float64]) -> Field:
    """Glass cloth seen through the mask: yarns about 0.5 mm apart with slow drift, near style 7628; estimate."""
    warp = np.sin(x_mm * 12.1 + 0.6 * np.sin(y_mm * 0.21 + phase[0]) + phase[1])
    weft = np.sin(y_mm * 14.3 + 0.5 * np.sin(x_mm * 0.17 + phase[2]) + phase[3])
    return np.asarray(0.5 * (warp + weft) + 0.35 * warp * weft, dtype=np.float32)


def pad_corners(pad: Pad, grow_mm: float = 0.0) -> NDArray[np.float64]:
    """The corners of a pad in board mm, shape (4, 2), each side moved out by `grow_mm`."""
    a, b = pad.width_mm / 2 + grow_mm, pad.height_mm / 2 + grow_mm
    turn = similarity(1.0, pad.angle_deg, pad.x_mm, pad.y_mm, mirrored=pad.side == "bottom")
    return turn.applied(np.array([[-a, -b], [a, -b], [a, b], [-a, b]]))


def _coarse_view(outline: Outline, side: str) -> View:
    from ohmwright.geometry.camera import scan_view

    return scan_view(outline, side, COARSE_PX_PER_MM)


def _polyline(nets: NDArray[np.uint16], line: NDArray[np.float64], label: int, width_mm: float) -> None:
    points = np.round(line * 2**_SHIFT).astype(np.int32).reshape(-1, 1, 2)
    cv2.polylines(nets, [points], False, label, max(1, round(width_mm * COARSE_PX_PER_MM)), cv2.LINE_8, _SHIFT)


def _ellipse(radius_mm: float) -> NDArray[np.uint8]:
    size = 2 * round(radius_mm * COARSE_PX_PER_MM) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), dtype=np.uint8)


def _sample(source: NDArray[np.uint8] | Field, map_x: Field, map_y: Field) -> Field:
    sampled = cv2.remap(source, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(sampled, dtype=np.float32)
