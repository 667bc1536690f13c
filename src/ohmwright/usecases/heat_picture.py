"""Thermal pictures of the fed board: laid on the map, read for what the feed warmed, and taken into the case."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import Board
from ohmwright.errors import DataError
from ohmwright.evidence.heat_picture import Standing, part_shares, standing_of
from ohmwright.facts import Facts, HeatFinding, Quantity
from ohmwright.fields.plate import Plate
from ohmwright.fields.rise import Rise, difference, lock_in
from ohmwright.fields.spots import Spot, spots_of, watts_of
from ohmwright.geometry import Homography, affine_from_pairs, homography_from_pairs
from ohmwright.quantities import format_quantity
from ohmwright.usecases.desk import CaseView, Desk, book_of, record, thought_through
from ohmwright.usecases.record_heat import fed_watts

Frames = NDArray[np.float32]
Pair = tuple[tuple[float, float], tuple[float, float]]
MARKED_PX = 0.7
"""How well a mark is set in a thermal picture, of either direction, one standard deviation. [px] estimate"""
BALANCED = (0.4, 2.2)
"""Seen over fed between these is as good as equal: a board's conductance is not known better. [1] estimate"""
CAUTIONS = (
    "The parts you look for are hot: do not touch them, and let the board cool before you clean it.",
    "No solvent near a warm or fed board: alcohol burns. Clean first, let it dry, then feed; never both at once.",
    "Smoke, a smell or a bubble: supply off, air the room. Local rules for fumes and hot work come first.",
)
EMISSIVITY = (
    "Bare metal and solder shine: they show too cold, and mirror what is warm nearby. Tape or flux gives a true value."
)
"""Textbook: emissivity of bright tin about 0.05 to 0.1, of solder mask and plastic about 0.9; from memory."""


@dataclass(frozen=True, slots=True)
class HotPart:
    """A part that a spot may be. [1]"""

    name: str
    probability: float
    standing: Standing
    words: str


@dataclass(frozen=True, slots=True)
class HotSpot:
    """A spot on the board.

    Parameters
    ----------
    x_px, y_px : float
        In the thermal picture. [px]
    x_mm, y_mm, sd_mm : float
        On the board, and how well that is known. [mm]
    kelvin, watts : float
        Its rise [K] and, if the board spreads heat as most do, its power [W].
    elsewhere : float
        That it is nothing on the map. [1]
    """

    x_px: float
    y_px: float
    x_mm: float
    y_mm: float
    sd_mm: float
    kelvin: float
    watts: float
    parts: tuple[HotPart, ...]
    elsewhere: float
    lag_deg: float | None = None


@dataclass(frozen=True, slots=True)
class HeatSeen:
    """What thermal pictures say.

    Parameters
    ----------
    spots : tuple of HotSpot
        Strongest first.
    off_mm : float
        How far the marked pairs lie apart once the picture is laid. [mm]
    balance : str
        Whether the heat seen is the heat that was fed.
    """

    spots: tuple[HotSpot, ...]
    side: str
    off_mm: float
    seen_watts: float
    fed_watts: float
    balance: str
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS


def heat_rise(
    before: Frames, during: Frames, after: Frames | None = None, *, hertz: float = 0.0, rate: float = 0.0
) -> Rise:
    """What the feed warmed, from pictures with the supply off, on and off again, or from a series with a switched feed.

    Parameters
    ----------
    before, during, after : ndarray, shape (n, h, w)
        Several frames of one are averaged; with `hertz` only `during` is used. [°C]
    rate : float
        Frames per second. [Hz]
    """
    if hertz > 0.0:
        if not rate > 0.0:
            raise DataError("How fast the frames come is not known.", hint="give frames per second")
        return lock_in(during.astype(float), np.arange(len(during)) / rate, hertz)
    mean = [frames.mean(axis=0, dtype=float) for frames in (before, during)]
    return difference(mean[0], mean[1], None if after is None else after.mean(axis=0, dtype=float))


def laid(pairs: Sequence[Pair]) -> tuple[Homography, float]:
    """The way from the thermal picture to the board, and how far the pairs are apart after it. [px] to [mm]"""
    if not 3 <= len(pairs) <= 40:
        raise DataError(f"{len(pairs)} pairs of points.", hint="mark three or four, far apart: corners, holes")
    source, target = [p for p, _ in pairs], [q for _, q in pairs]
    make = affine_from_pairs if len(pairs) == 3 else homography_from_pairs
    way = make(source, target)
    off = way.applied(np.array(source, dtype=float)) - np.array(target, dtype=float)
    area = abs(float(np.linalg.det(way.matrix[:2, :2])))
    if not (math.isfinite(area) and area > 1e-9):
        raise DataError("These pairs lie on one line.", hint="mark points that span the picture")
    return way, float(np.sqrt((off**2).sum(axis=1).mean()))


def _placed_sd(pairs: Sequence[Pair], x: float, y: float) -> tuple[float, float]:
    """How well a pixel's place is known for marks set as well as they are, and millimetres per pixel there. [mm]"""
    way, off = laid(pairs)
    here = np.array(way.at(x, y))
    step = np.hypot(*(np.array(way.at(x + 0.5, y)) - here)) + np.hypot(*(np.array(way.at(x, y + 0.5)) - here))
    total = 0.0
    for n in range(len(pairs)):
        for d in range(2):
            (u, v), board = pairs[n]
            moved = ((u + 0.3 * (d == 0), v + 0.3 * (d == 1)), board)
            there = laid([*pairs[:n], moved, *pairs[n + 1 :]])[0].at(x, y)
            total += float(((np.array(there) - here) ** 2).sum()) / 0.3**2
    # More pairs than needed tell how well they were marked, and how flat and how far the camera was.
    marked = max(MARKED_PX * math.sqrt(total / 2.0), off)
    return marked, float(step)


def heat_seen(
    board: Board, facts: Facts, rise: Rise, pairs: Sequence[Pair], side: str, watts: float | None = None
) -> HeatSeen:
    """What a rise says of the parts of the board.

    Parameters
    ----------
    pairs : sequence of ((float, float), (float, float))
        Points of the thermal picture [px] and where they are on the board [mm].
    side : str
        ``top`` or ``bottom``: the side the camera saw.
    watts : float, optional
        Fed; by default the supply's last volts times amps. [W]
    """
    if side not in ("top", "bottom"):
        raise DataError(f"There is no side {side!r}.", hint="top or bottom")
    way, off = laid(pairs)
    spots = spots_of(rise)
    rows, columns = rise.kelvin.shape
    _, mm_per_px = _placed_sd(pairs, columns / 2, rows / 2)
    plate = Plate()
    powers = watts_of(rise, spots, mm_per_px, plate)
    fed = _fed(facts, watts)
    amps = _amps(facts)
    shown = [_spot(board, way, pairs, spot, power, amps, side) for spot, power in zip(spots, powers, strict=True)]
    # A feed switched evenly swings about its mean by 2/pi of its height; the other half stays.
    seen = sum(powers) * (math.pi / 2.0 if rise.hertz is not None else 1.0)
    return HeatSeen(
        tuple(sorted(shown, key=lambda s: -s.watts)),
        side,
        off,
        seen,
        fed,
        _balance(seen, fed, bool(spots)),
        _notes(rise, off, mm_per_px),
    )


def _fed(facts: Facts, watts: float | None) -> float:
    if watts is not None:
        if not 0.0 < watts < 1000.0:
            raise DataError(f"{watts} W fed.", hint="volts at the pads times amperes")
        return watts
    return fed_watts(facts)


def _amps(facts: Facts) -> float:
    shown = [r.value for r in facts.readings if r.state == facts.state and r.quantity is Quantity.SUPPLY_AMPS]
    feed = facts.state.feed
    return abs(shown[-1]) if shown and shown[-1] is not None else feed.limit if feed is not None else 0.0


def _spot(
    board: Board, way: Homography, pairs: Sequence[Pair], spot: Spot, power: float, amps: float, side: str
) -> HotSpot:
    x, y = way.at(spot.x, spot.y)
    marked, step = _placed_sd(pairs, spot.x, spot.y)
    sd = math.hypot(marked, spot.sd * step)
    shares = part_shares(board, x, y, sd, side)
    parts = tuple(_hot_part(board, name, share, power, amps) for name, share in shares[:8])
    nothing = max(1.0 - sum(share for _, share in shares), 0.0)
    return HotSpot(spot.x, spot.y, x, y, sd, spot.kelvin, power, parts, nothing, spot.lag)


def _hot_part(board: Board, name: str, share: float, power: float, amps: float) -> HotPart:
    standing = standing_of(board, name, power, amps)
    words = {
        Standing.CARRIER: "the current passes through it, and its own resistance alone makes as much heat",
        Standing.TAKER: "it lies between the rail and ground: the current may end here",
        Standing.OPEN: "warmer than a sound one that only carries the current, or nothing is known of its way",
    }[standing]
    return HotPart(name, share, standing, words)


def _balance(seen: float, fed: float, any_spot: bool) -> str:
    if not any_spot:
        return (
            f"Nothing got warm that stands out, of {format_quantity(fed, 'W')} fed: more current where the limits "
            "allow, or millivolts along the copper."
        )
    ratio = seen / fed
    both = f"{format_quantity(seen, 'W')} seen of {format_quantity(fed, 'W')} fed"
    if ratio < BALANCED[0]:
        return (
            f"{both}: there is more heat that this picture does not show. Look under shields, at the other side, "
            "at clips and leads, and at bare metal."
        )
    if ratio > BALANCED[1]:
        return f"{both}: more than there can be. Check the temperature scale, or something from outside is mirrored."
    return f"{both}: as good as all of it, as far as a board's spreading of heat is known (a factor of two)."


def _notes(rise: Rise, off_mm: float, mm_per_px: float) -> tuple[str, ...]:
    notes = [EMISSIVITY]
    if not rise.checked:
        notes.append(
            "Reflections cannot be told from heat with one picture before and one during: add one with the supply "
            "off again, or a series with the supply switched."
        )
    share = float(rise.doubtful.mean())
    if share > 0.002:
        notes.append(f"{share:.0%} of the picture changed without following the feed: reflections or drift, left out.")
    if off_mm > max(2.0 * mm_per_px, 1.0):
        notes.append(f"The marked pairs do not agree: {off_mm:.1f} mm apart. Mark them again.")
    return tuple(notes)


def take_heat(desk: Desk, case: str, seen: HeatSeen, spot: int | None, *, expected: int | None = None) -> CaseView:
    """Put a spot on record, with how likely each part is the one; None: nothing got warm. [1]"""
    from ohmwright.casebook.events import HeatRecorded

    book_of(desk, case)
    if spot is None:
        entry = HeatRecorded(HeatFinding.NOTHING, (), seen.fed_watts, "camera")
    else:
        if not 0 <= spot < len(seen.spots):
            raise DataError(f"There is no spot {spot + 1}.", hint=f"there are {len(seen.spots)}")
        chosen = seen.spots[spot]
        named = tuple(part.name for part in chosen.parts if part.probability >= 0.1)
        if not named:
            raise DataError(
                "No part of the map lies at this spot.",
                hint="map what lies there first, then look at the pictures again",
            )
        sure = chosen.parts[0].probability >= 0.6
        shares = tuple((part.name, part.probability) for part in chosen.parts)
        entry = HeatRecorded(HeatFinding.PART if sure else HeatFinding.AREA, named, seen.fed_watts, "camera", shares)
    return thought_through(desk, case, record(desk, case, entry, expected=expected))
