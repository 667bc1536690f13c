"""What size, look and continuity say about the kind of an unmarked part with two ends.

The figures are estimates: sizes after land patterns of chip and leaded parts, looks after common practice.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from ohmwright.circuit import Board, Part

KINDS = (
    "capacitor", "resistor", "ferrite", "coil", "diode", "schottky", "led", "polymer", "tvs", "tvs-two-way", "crystal",
    "fuse", "sense", "link",
)  # fmt: skip
"""What a part with two ends can be."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What was noticed at one part.

    Parameters
    ----------
    look : str
        A key of `LOOKS`; empty where nobody looked.
    joined : bool or None
        Whether its two ends read as joined, below about one ohm, in place.
    known : str
        Its kind where somebody is sure of it.
    """

    part: str
    look: str = ""
    joined: bool | None = None
    known: str = ""


LOOKS: Mapping[str, tuple[tuple[str, float], ...]] = {
    "plain-tan": (("capacitor", 0.90), ("ferrite", 0.03), ("coil", 0.03)),
    "black-printed": (("resistor", 0.75), ("diode", 0.25), ("schottky", 0.30), ("tvs", 0.3), ("sense", 0.6), ("fuse",
    0.1)),
    "black-plain": (("resistor", 0.20), ("ferrite", 0.25), ("coil", 0.15), ("diode", 0.2), ("link", 0.5), ("tvs", 0.1)),
    "grey-block": (("ferrite", 0.5), ("coil", 0.55), ("capacitor", 0.03), ("fuse", 0.05)),
    "wound": (("coil", 0.25), ("ferrite", 0.01)),
    "barred": (("diode", 0.5), ("schottky", 0.5), ("tvs", 0.5), ("polymer", 0.5), ("led", 0.1)),
    "can": (("polymer", 0.4), ("crystal", 0.8)),
    "clear": (("led", 0.85), ("diode", 0.03), ("fuse", 0.1)),
    "white": (("fuse", 0.5), ("resistor", 0.02), ("sense", 0.1), ("led", 0.05)),
    "ringed": (("resistor", 0.25), ("coil", 0.05), ("diode", 0.05)),
}  # fmt: skip
"""How often a part of a kind looks so. Estimates, common practice, no source."""
_LEAST_LOOK = 0.01
JOINED: Mapping[str, float] = {
    "coil": 0.97, "ferrite": 0.97, "link": 0.99, "fuse": 0.97, "sense": 0.99, "resistor": 0.04, "capacitor": 0.02,
    "polymer": 0.02, "diode": 0.02, "schottky": 0.03, "led": 0.01, "tvs": 0.02, "tvs-two-way": 0.01, "crystal": 0.003,
}  # fmt: skip
"""Share of parts of a kind that read below an ohm end to end, in place, on a board of unknown state. Estimates."""

_SIZES: Mapping[str, tuple[tuple[float, float, float, float, float], ...]] = {
    # weight, middle length [mm], its log sd, length over width, its log sd
    "capacitor": ((0.75, 2.4, 0.42, 2.4, 0.25), (0.25, 5.8, 0.35, 3.8, 0.30)),
    "resistor": ((0.80, 2.2, 0.40, 2.4, 0.22), (0.20, 11.6, 0.25, 7.0, 0.18)),
    "ferrite": ((1.0, 2.6, 0.45, 2.4, 0.30),),
    "coil": ((0.8, 5.0, 0.45, 1.7, 0.45), (0.2, 12.0, 0.4, 6.0, 0.4)),
    "diode": ((0.65, 4.0, 0.40, 3.3, 0.28), (0.35, 11.0, 0.28, 6.2, 0.25)),
    "schottky": ((0.75, 4.8, 0.40, 3.3, 0.28), (0.25, 11.5, 0.28, 6.0, 0.25)),
    "led": ((1.0, 3.1, 0.40, 2.3, 0.25),),
    "polymer": ((0.6, 6.5, 0.45, 2.6, 0.40), (0.4, 5.5, 0.5, 2.6, 0.40)),
    "tvs": ((1.0, 5.0, 0.45, 3.2, 0.30),),
    "tvs-two-way": ((1.0, 4.5, 0.5, 3.1, 0.35),),
    "crystal": ((1.0, 5.5, 0.45, 3.0, 0.50),),
    "fuse": ((1.0, 4.5, 0.55, 2.6, 0.40),),
    "sense": ((1.0, 4.8, 0.50, 2.3, 0.35),),
    "link": ((1.0, 2.4, 0.45, 2.3, 0.30),),
}
_FAR_OFF = 1e-3
"""A size that fits no kind still leaves every kind this density. [1]"""


def looks_on(board: Board) -> tuple[Seen, ...]:
    """What the board itself says of how its unmarked parts look; words that are no look here are passed over."""
    return tuple(
        Seen(part.name, look=part.look) for part in board if part.look in LOOKS and part.kind == "unknown-two-pads"
    )


def likelihood(part: Part, seen: Seen | None, kind: str) -> float:
    """How likely what was seen of a part is if it is of that kind, up to a factor common to all kinds. [1]"""
    if seen is not None and seen.known:
        return 1.0 if same_sort(kind, seen.known) else 0.01
    chance = _size(part, kind)
    if seen is not None and seen.look in LOOKS:
        chance *= max(dict(LOOKS[seen.look]).get(kind, 0.0), _LEAST_LOOK)
    if seen is not None and seen.joined is not None:
        joined = JOINED.get(kind, 0.05)
        chance *= joined if seen.joined else 1.0 - joined
    return chance


def same_sort(kind: str, other: str) -> bool:
    """Whether two kinds are near enough for one place: a polymer is a capacitor, a Schottky a diode."""
    return sort_of(kind) == sort_of(other)


def sort_of(kind: str) -> str:
    """The kind without its finer make."""
    return {
        "polymer": "capacitor", "schottky": "diode", "tvs": "diode", "tvs-two-way": "diode", "sense": "resistor",
        "fet-p": "fet-n",
    }.get(kind, kind)  # fmt: skip


def _size(part: Part, kind: str) -> float:
    if part.place is None or len(part.pins) != 2 or kind not in _SIZES:
        return 1.0
    long, short = sorted((part.place.width_mm, part.place.height_mm), reverse=True)
    if short <= 0.0:
        return 1.0
    return _FAR_OFF + sum(
        weight * _bell(math.log(long), math.log(middle), spread) * _bell(math.log(long / short), math.log(ratio), width)
        for weight, middle, spread, ratio, width in _SIZES[kind]
    )


def _bell(x: float, middle: float, spread: float) -> float:
    return math.exp(-0.5 * ((x - middle) / spread) ** 2) / spread
