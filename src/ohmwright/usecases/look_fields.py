"""Which fields of a side have been looked at under a lens, and which comes next."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ohmwright.boardmap import Chart, Layer
from ohmwright.boardmap.lookover import Box, LensField, Looked, has_board, lens_fields
from ohmwright.errors import DataError
from ohmwright.geometry import Pad, Pair
from ohmwright.usecases.desk import CaseView
from ohmwright.usecases.map_nets import inspected
from ohmwright.usecases.picture_ports import Eyes

RIM_MM = 0.5
"""How far inside a board's edge its line may be seen. [mm] of rendered photos at the most 0.4"""
AROUND_MM = 2.0
"""Of the board around its outermost pads, where no picture says how far it goes. [mm]"""


@dataclass(frozen=True, slots=True)
class SideFields:
    """The fields of one side at one magnification.

    Parameters
    ----------
    fields : tuple of LensField
        In the order in which they are looked at.
    counts : tuple of (float, int)
        For each magnification that any of them was looked at, how many were at it or closer. [1]
    """

    side: str
    magnification: float
    fields: tuple[LensField, ...]
    counts: tuple[tuple[float, int], ...]


def side_fields(view: CaseView, side: str, magnification: float, eyes: Eyes | None = None) -> SideFields:
    """The fields of a side as a lens of that magnification shows them, and how closely each was looked at. [1]

    Parameters
    ----------
    eyes : Eyes or None
        See how far the board goes on its pictures; without them all that a picture shows is looked at.
    """
    if not 0.1 <= magnification <= 1000.0:
        raise DataError(f"A magnification of {magnification:g}.", hint="1 is the bare eye, 10 to 40 a microscope")
    looked = [
        Looked((field.x_mm, field.y_mm, field.width_mm, field.height_mm), field.magnification)
        for field in inspected(view) if field.side == side
    ]  # fmt: skip
    chart = view.book.chart
    box = side_box(chart, side)
    line = () if box is None or eyes is None else board_line(chart, side, eyes)
    if line:
        box = _about(line, RIM_MM)
    fields = () if box is None else lens_fields(box, magnification, looked, line)
    seen = sorted({one.seen for one in fields if one.seen > 0.0})
    counts = tuple((at, sum(one.seen >= at for one in fields)) for at in seen)
    return SideFields(side, magnification, fields, counts)


def board_line(chart: Chart, side: str, eyes: Eyes) -> tuple[Pair, ...]:
    """The line round the board. [mm]

    It is that of a board file that was laid; without one, as a picture shows it, one of this side first, for both
    sides have one edge. Empty where no picture shows all of the board standing out from what it lies on, or where
    pads lie beyond the line: then it is not the board's.
    """
    if chart.outline:
        return chart.outline
    first = chart.layers[0] if chart.layers else None
    placed = [layer for layer in chart.layers if layer.how or layer is first or _alone(chart, layer)]
    for layer in sorted(placed, key=lambda one: one.side != side):
        if layer.side != side and not layer.how and layer is not first:
            continue  # nobody knows yet where this one lies on the other
        line = eyes.board_line(layer)
        if line and all(has_board(_box_at(pad), line) for pad in chart.pads):
            return tuple(line)
    return ()


def _box_at(pad: Pad) -> Box:
    return pad.x_mm - RIM_MM, pad.y_mm - RIM_MM, 2 * RIM_MM, 2 * RIM_MM


def _alone(chart: Chart, layer: Layer) -> bool:
    """Whether a picture is the only one of its side: it is looked at where it lies, registered or not."""
    return [one for one in chart.layers if one.side == layer.side] == [layer]


def _about(line: Sequence[Pair], more: float) -> Box:
    """The upright box about a line, so much larger on each side. [mm]"""
    left, top = min(x for x, _ in line) - more, min(y for _, y in line) - more
    return left, top, max(x for x, _ in line) + more - left, max(y for _, y in line) + more - top


def side_box(chart: Chart, side: str) -> Box | None:
    """What of a side its first picture shows; without one, what its pads take up. [mm]"""
    layer = next((one for one in chart.layers if one.side == side), None)
    if layer is not None:
        return _shown(layer)
    pads = [pad for pad in chart.pads if pad.side == side]
    if not pads:
        return None
    reach = [math.hypot(pad.width_mm, pad.height_mm) / 2 + AROUND_MM for pad in pads]
    left = min(pad.x_mm - r for pad, r in zip(pads, reach, strict=True))
    top = min(pad.y_mm - r for pad, r in zip(pads, reach, strict=True))
    right = max(pad.x_mm + r for pad, r in zip(pads, reach, strict=True))
    low = max(pad.y_mm + r for pad, r in zip(pads, reach, strict=True))
    return left, top, right - left, low - top


def _shown(layer: Layer) -> Box:
    across, down = (-0.5, layer.width_px - 0.5), (-0.5, layer.height_px - 0.5)
    at = [layer.to_board.at(u, v) for u in across for v in down]
    left, top = min(x for x, _ in at), min(y for _, y in at)
    return left, top, max(x for x, _ in at) - left, max(y for _, y in at) - top
