"""Whether a measurement along copper can be what it says: edges that do not cross, and places that lie on it.

A place off the copper would be taken for the nearest spot of it without a word, and a wrong click order for another
copper: both make a confident answer to another question.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ohmwright.errors import DataError
from ohmwright.facts import Gradient
from ohmwright.facts.gradient import Point
from ohmwright.fields.layout import DrawnArea, layout_of
from ohmwright.fields.sheet import inside

OFF_MM = 3.0
"""So far off the copper a place may be drawn: a hand that clicks, and pads that reach out of it. [mm] estimate"""
APART_PITCHES = 1.5
"""A place inside the outline that is farther from all copper that carries: another piece of it. [1]"""


def check_copper(gradient: Gradient) -> None:
    """Raise what is wrong with the copper as drawn, or with a place on it; do nothing when it is sound.

    Raises
    ------
    DataError
        Naming the edge, or the place and how far off it lies.
    """
    shape = gradient.copper
    rings = (("The edge", shape.outline), *((f"Hole {n}", hole) for n, hole in enumerate(shape.holes, 1)))
    for name, ring in rings:
        crossing = _crossing(ring)
        if crossing is not None:
            raise DataError(
                f"{name} crosses itself: from corner {crossing[0] + 1} and from corner {crossing[1] + 1}.",
                hint="click the corners one after the other around it",
            )
    for name, at in _places(gradient):
        _check_place(gradient, name, at)


def _places(gradient: Gradient) -> Iterator[tuple[str, Point]]:
    yield "Plus", gradient.source
    if gradient.black is not None:
        yield "Black", gradient.black
    for n, point in enumerate(gradient.points, 1):
        yield f"Red {n}", point.where


def _check_place(gradient: Gradient, name: str, at: Point) -> None:
    layout, shape = layout_of(gradient.copper), gradient.copper
    spot = np.array([at], dtype=float)
    off = float(np.hypot(*(layout.nearest(spot)[0] - spot[0])))
    if isinstance(layout, DrawnArea) and inside(spot, shape.outline, shape.holes)[0]:
        if off > APART_PITCHES * layout.sheet.pitch:
            raise DataError(
                f"{name} lies on a piece of copper that a hole parts from the rest.",
                hint="draw only the piece that the current flows in, or the hole as far as it goes",
            )
        return
    allowed = OFF_MM + max((run.width_mm for run in shape.runs), default=0.0) / 2.0
    if off > allowed:
        in_hole = bool(shape.outline) and bool(inside(spot, shape.outline)[0])
        where = "in a hole of" if in_hole else "off"
        raise DataError(
            f"{name} lies {off:.0f} mm {where} the copper as drawn.",
            hint="draw the copper to where it stood, or drop that place",
        )


def _crossing(ring: Sequence[Point]) -> tuple[int, int] | None:
    """The first two edges of a ring that cross, by their first corners; touching is no crossing."""
    edges = [(a, b) for a, b in zip(ring, (*ring[1:], *ring[:1]), strict=True)]
    for i, (a, b) in enumerate(edges):
        for j in range(i + 2, len(edges)):
            c, d = edges[j]
            if _side(a, b, c) * _side(a, b, d) < 0.0 and _side(c, d, a) * _side(c, d, b) < 0.0:
                return i, j
    return None


def _side(a: Point, b: Point, p: Point) -> float:
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
