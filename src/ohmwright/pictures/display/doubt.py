"""Why a display is not read; and where the camera saw only white."""

from __future__ import annotations

from ohmwright.pictures.display.row import Row

BLIND = 0.12
"""Share of white from which a place cannot be called empty. [1]"""


class DoubtError(Exception):
    """Why the display is not read; caught where the reading is put together."""


def white(row: Row, left: int, right: int, top: int, bottom: int) -> float:
    """Share of a place that is white with nothing lit. [px], [1]"""
    part = row.clipped[max(top, 0) : bottom, max(left, 0) : max(right, 0)]
    return float(part.mean()) if part.size else 0.0
