"""Which fields of a side have been looked at under a lens, and which comes next."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ohmwright.boardmap import Chart, Layer
from ohmwright.boardmap.lookover import Box, LensField, Looked, lens_fields
from ohmwright.errors import DataError
from ohmwright.usecases.desk import CaseView
from ohmwright.usecases.map_nets import inspected

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


def side_fields(view: CaseView, side: str, magnification: float) -> SideFields:
    """The fields of a side as a lens of that magnification shows them, and how closely each was looked at. [1]"""
    if not 0.1 <= magnification <= 1000.0:
        raise DataError(f"A magnification of {magnification:g}.", hint="1 is the bare eye, 10 to 40 a microscope")
    looked = [
        Looked((field.x_mm, field.y_mm, field.width_mm, field.height_mm), field.magnification)
        for field in inspected(view) if field.side == side
    ]  # fmt: skip
    box = side_box(view.book.chart, side)
    fields = () if box is None else lens_fields(box, magnification, looked)
    seen = sorted({one.seen for one in fields if one.seen > 0.0})
    counts = tuple((at, sum(one.seen >= at for one in fields)) for at in seen)
    return SideFields(side, magnification, fields, counts)


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
