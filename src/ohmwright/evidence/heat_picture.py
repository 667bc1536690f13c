"""Which part a spot in a thermal picture is, and whether it only carries the current or takes it.

The place of a spot is known as well as the picture is registered. A part is likely where its body lies under
that place; something that is not on the map may be anywhere.
"""

from __future__ import annotations

import math
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import Board, Part

Array = NDArray[np.float64]
PARALLAX_MM = 0.4
"""What a camera that does not look straight down adds. [mm] estimate"""
OTHER_SIDE = 0.1
"""How often what shows on one side sits on the other, against the same place on this side. [1] estimate"""
OWN_OHMS = {
    "coil": 0.1, "ferrite": 0.2, "fuse": 0.1, "sense": 0.05, "link": 0.02, "connector": 0.05,
    "fet-n": 0.05, "fet-p": 0.05, "load-switch": 0.1, "buck": 0.1,
}  # fmt: skip
"""Most resistance of a sound part that only lets the current through. [Ω] estimates, no source"""


class Standing(StrEnum):
    """What a warm part has to do with the current."""

    CARRIER = "carries"
    TAKER = "takes"
    OPEN = "open"


def part_shares(board: Board, x_mm: float, y_mm: float, sd_mm: float, side: str) -> tuple[tuple[str, float], ...]:
    """How likely a spot at that place is each part; what is missing to one is something that is not on the map. [mm]"""
    variance = sd_mm**2 + PARALLAX_MM**2
    found: list[tuple[str, float]] = []
    for part in board.parts:
        if part.place is None:
            continue
        wide = variance if part.place.side == side else variance + 1.5**2
        u, v, _ = _body(part)
        c, s = math.cos(math.radians(part.place.angle_deg)), math.sin(math.radians(part.place.angle_deg))
        dx, dy = x_mm - part.place.x_mm, y_mm - part.place.y_mm
        along, across = c * dx - s * dy, s * dx + c * dy
        # Heat shows anywhere over the body, a little more in its middle than at its edge.
        density = _over(along, u, wide) * _over(across, v, wide)
        found.append((part.name, density * (1.0 if part.place.side == side else OTHER_SIDE)))
    placed = [p.place for p in board.parts if p.place is not None and p.place.side == side]
    hidden = board.unmapped_share * max(len(placed), 1) / max(_area(board), 1.0)
    total = sum(density for _, density in found) + hidden
    shares = [(name, density / total) for name, density in found if density / total >= 0.005]
    return tuple(sorted(shares, key=lambda item: -item[1])[:20])


def _body(part: Part) -> tuple[float, float, float]:
    assert part.place is not None
    return max(part.place.width_mm, 0.3), max(part.place.height_mm, 0.3), part.place.angle_deg


def _over(at: float, width: float, variance: float) -> float:
    """Density at a place for heat spread evenly over a width, blurred. [1/mm]"""
    scale = math.sqrt(2.0 * variance)
    return 0.5 * (math.erf((at + width / 2) / scale) - math.erf((at - width / 2) / scale)) / width


def _area(board: Board) -> float:
    places = [p.place for p in board.parts if p.place is not None]
    if len(places) < 2:
        return 100.0
    xs, ys = [p.x_mm for p in places], [p.y_mm for p in places]
    return (max(xs) - min(xs) + 5.0) * (max(ys) - min(ys) + 5.0)


def standing_of(board: Board, name: str, watts: float, amps: float) -> Standing:
    """Whether a part as warm as that can be a sound part that the current passes through. [W], [A]"""
    part = board.part(name)
    most = OWN_OHMS.get(part.kind)
    ground = board.ground in part.nets
    if most is None or (ground and part.kind not in ("buck", "load-switch")):
        return Standing.TAKER if ground else Standing.OPEN
    return Standing.CARRIER if watts <= 1.5 * most * amps**2 else Standing.OPEN
