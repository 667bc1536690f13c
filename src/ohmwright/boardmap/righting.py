"""How a part that lies the wrong way round is brought to lie right, by a mirror and a turn.

The doubt says which pin belongs where another lies now (`ohmwright.boardmap.orientation.ways_round`). Which movement
does that depends on the package: a row of pins on two sides turns half round only, one on four a quarter too, and
`mirrored` is across another line on each. So every movement is tried on the pads as they lie.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from ohmwright.boardmap.seating import mirrored, shifted
from ohmwright.circuit import Place
from ohmwright.geometry import Pad

TURNS = (0.0, 90.0, 180.0, 270.0)
"""Counter-clockwise as seen from the top. [deg]"""
NEAR = 0.3
"""How far a pad may come to lie from where it belongs, over the least distance of two pads. [1]"""


def righting(place: Place, pads: Sequence[Pad], order: Sequence[int]) -> tuple[bool, float] | None:
    """Whether to mirror the part, and how far to turn it after that; None where no movement does it. [1], [deg]

    Parameters
    ----------
    pads : sequence of Pad
        In the order of the part's pins.
    order : sequence of int
        For each pad, from 0, the one whose place it belongs at.
    """
    if len(pads) < 2 or len(pads) != len(order):
        return None
    near = NEAR * min(math.dist(_at(a), _at(b)) for n, a in enumerate(pads) for b in pads[:n])
    for mirror in (False, True):
        there = tuple(pads)
        if mirror:
            there = mirrored(place, there).pads
        for turn in TURNS:
            moved = shifted(place, there, 0.0, 0.0, turn).pads
            if all(math.dist(_at(pad), _at(pads[k])) <= near for pad, k in zip(moved, order, strict=True)):
                return mirror, turn
    return None


def _at(pad: Pad) -> tuple[float, float]:
    return pad.x_mm, pad.y_mm
