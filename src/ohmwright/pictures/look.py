"""The look of a bare board: colours of mask, finish and legend. Values only; colours are sRGB 0 to 255."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np

from ohmwright.pictures.canvas import Colour


@dataclass(frozen=True, slots=True)
class Look:
    """How a bare board looks in a scan.

    Parameters
    ----------
    over_laminate, over_copper : Colour
        The solder mask where there is no copper under it, and where there is.
    finish : Colour
        Bare pads: gold over nickel, or tin.
    legend : Colour
        The printed legend.
    laminate : Colour
        The cut edge of the board.
    gloss : float
        How strongly the mask shines at the edge of copper. [1]
    """

    name: str
    over_laminate: Colour
    over_copper: Colour
    finish: Colour = (206, 174, 108)
    legend: Colour = (224, 226, 218)
    laminate: Colour = (150, 140, 96)
    gloss: float = 1.0


LOOKS: dict[str, Look] = {
    look.name: look
    for look in (
        Look("green", (20, 66, 44), (34, 96, 60)),
        Look("blue", (18, 44, 84), (30, 70, 118)),
        Look("petrol", (12, 54, 62), (22, 82, 90)),
        Look("black", (23, 25, 27), (39, 41, 43), gloss=1.3),
        Look("red", (104, 22, 22), (142, 38, 32)),
    )
}
"""The looks that can be asked for by name."""


def look_for(name: str) -> Look:
    """The look of that name, else one picked by the board's name so that a board always looks the same."""
    if name in LOOKS:
        return LOOKS[name]
    usual = ("green", "blue", "petrol", "black")
    return LOOKS[usual[zlib.crc32(name.encode()) % len(usual)]]


def random_for(seed: int, *names: str) -> np.random.Generator:
    """A generator that depends on the seed and the thing's name only, so that one part more moves nothing else."""
    return np.random.default_rng([seed, *(zlib.crc32(name.encode()) for name in names)])
