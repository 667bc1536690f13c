"""From two clicks on a picture to the pads of a part on the board.

The pattern is turned, scaled and moved so that the first pin and the one farthest from it lie where they
were clicked, whatever the scale of the picture is taken to be: the pads lie on what the picture shows.
Two points fix a similarity exactly; that a photo held askew wants more is left to registration.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from ohmwright.boardmap.chart import Layer
from ohmwright.circuit import Place
from ohmwright.errors import DataError
from ohmwright.geometry import Homography, Land, LandPattern, Pad, PicturePoint, similarity_from_pairs

LEAST_PX = 3.0
"""Two clicks nearer than this are one spot. [px]"""
PAIR_LENGTH = 0.5
PAIR_WIDTH = 0.62
"""Pad of a two-terminal part along and across its axis, over the distance of the pads: between a 0402 (0.58,
0.65) and a 1206 (0.39, 0.61) of the KiCad 6.0.11 footprints. [1]"""


PAIR = LandPattern(
    "chip",
    (1.0 + PAIR_LENGTH, PAIR_WIDTH),
    (Land("1", -0.5, 0.0, PAIR_LENGTH, PAIR_WIDTH), Land("2", 0.5, 0.0, PAIR_LENGTH, PAIR_WIDTH)),
    sourced=False,
)
"""A two-terminal part of any size: its pads are a millimetre apart until it is laid."""


@dataclass(frozen=True, slots=True)
class Seating:
    """A part laid on the board.

    Parameters
    ----------
    mm_per_px : float
        Millimetres per pixel if the package is true to its land pattern; 0 where that is not known. [mm/px]
    """

    place: Place
    pads: tuple[Pad, ...]
    mm_per_px: float = 0.0


def far_land(pattern: LandPattern) -> tuple[Land, Land]:
    """Pin 1 and the pin farthest from it: the two that are clicked."""
    if len(pattern.lands) < 2:
        raise DataError("This package has fewer than two pads.", hint="choose another package")
    first = pattern.lands[0]
    # Of two equally far the later one, so that a row ends at its last pin.
    far = max(pattern.lands, key=lambda land: round(math.hypot(land.x_mm - first.x_mm, land.y_mm - first.y_mm), 6))
    return first, far


def seated(
    part: str, pattern: LandPattern, layer: Layer, first_at: PicturePoint, far_at: PicturePoint
) -> Seating:
    """A part with this pattern whose pin 1 and far pin are at two points of a picture."""
    _refuse_one_spot(first_at, far_at)
    first, far = far_land(pattern)
    on_picture = similarity_from_pairs(
        [(first.x_mm, first.y_mm), (far.x_mm, far.y_mm)],
        [(first_at.x_px, first_at.y_px), (far_at.x_px, far_at.y_px)],
    )
    seating = seated_on(part, pattern, layer, on_picture)
    px = math.hypot(first_at.x_px - far_at.x_px, first_at.y_px - far_at.y_px)
    mm = math.hypot(first.x_mm - far.x_mm, first.y_mm - far.y_mm)
    return replace(seating, mm_per_px=mm / px if pattern.sourced else 0.0)


def seated_on(part: str, pattern: LandPattern, layer: Layer, on_picture: Homography) -> Seating:
    """A part whose pattern, millimetres about its centre, lies on a picture where that map puts it."""
    to_board = layer.to_board.after(on_picture)
    origin, along = to_board.at(0.0, 0.0), to_board.at(1.0, 0.0)
    dx, dy = along[0] - origin[0], along[1] - origin[1]
    grown = math.hypot(dx, dy)
    angle = math.degrees(math.atan2(dy, -dx) if layer.side == "bottom" else math.atan2(-dy, dx))
    pads = tuple(
        Pad(
            part, land.number, *to_board.at(land.x_mm, land.y_mm), land.width_mm * grown, land.height_mm * grown,
            angle, layer.side, land.drill_mm * grown,
        )
        for land in pattern.lands
    )  # fmt: skip
    body = pattern.body_mm
    place = Place(origin[0], origin[1], layer.side, body[0] * grown, body[1] * grown, angle)
    return Seating(place, pads)


def seated_pair(part: str, layer: Layer, first_at: PicturePoint, second_at: PicturePoint) -> Seating:
    """A two-terminal part whose pads are at two points of a picture."""
    _refuse_one_spot(first_at, second_at)
    return seated(part, PAIR, layer, first_at, second_at)


def shifted(place: Place, pads: tuple[Pad, ...], dx_mm: float, dy_mm: float, turn_deg: float) -> Seating:
    """A part moved by so many board millimetres and turned about its middle, counter-clockwise from the top."""
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))

    def moved(pad: Pad) -> Pad:
        x, y = pad.x_mm - place.x_mm, pad.y_mm - place.y_mm
        return replace(
            pad,
            x_mm=place.x_mm + c * x + s * y + dx_mm,
            y_mm=place.y_mm - s * x + c * y + dy_mm,
            angle_deg=pad.angle_deg + turn_deg,
        )

    there = replace(
        place, x_mm=place.x_mm + dx_mm, y_mm=place.y_mm + dy_mm, angle_deg=place.angle_deg + turn_deg
    )
    return Seating(there, tuple(moved(pad) for pad in pads))


def mirrored(place: Place, pads: tuple[Pad, ...]) -> Seating:
    """A part whose pins run the other way round, as those of a socket do on the side it is soldered from.

    Across the part's own middle line: what was left of it is right of it, as the part lies.
    """
    turn = math.radians(place.angle_deg)
    c, s = math.cos(turn), math.sin(turn)

    def moved(pad: Pad) -> Pad:
        along = c * (pad.x_mm - place.x_mm) - s * (pad.y_mm - place.y_mm)
        return replace(
            pad, x_mm=pad.x_mm - 2 * along * c, y_mm=pad.y_mm + 2 * along * s,
            angle_deg=2 * place.angle_deg - pad.angle_deg,
        )  # fmt: skip

    return Seating(place, tuple(moved(pad) for pad in pads))


def _refuse_one_spot(a: PicturePoint, b: PicturePoint) -> None:
    if math.hypot(a.x_px - b.x_px, a.y_px - b.y_px) < LEAST_PX:
        raise DataError("Both clicks are on one spot.", hint="click pin 1, then the pin farthest from it")
