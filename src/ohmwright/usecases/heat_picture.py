"""Thermal pictures of the fed board: laid on the map, read for what the feed warmed, and taken into the case."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import Board
from ohmwright.errors import DataError
from ohmwright.evidence.heat_picture import Standing, part_shares, standing_of
from ohmwright.facts import Facts, HeatFinding, Quantity
from ohmwright.fields.plate import Plate
from ohmwright.fields.rise import Rise, difference, lock_in
from ohmwright.fields.spots import Spot, sources_of
from ohmwright.geometry import Homography, affine_from_pairs, homography_from_pairs
from ohmwright.quantities import format_quantity
from ohmwright.usecases.desk import CaseView, Desk, book_of, record, thought_through
from ohmwright.usecases.record_heat import ended_feed, fed_watts

Frames = NDArray[np.float32]
Pair = tuple[tuple[float, float], tuple[float, float]]
MARKED_PX = 0.7
"""How well a mark is set in a thermal picture, of either direction, one standard deviation. [px] estimate"""
SAME_PART = 0.5
"""Two spots that are each more likely than this the same part are one spot. [1]"""
PLAIN = 8.0
"""A rise that a warm hand, mirrored, does not make. [K] estimate"""
MIRRORED = {"series": 0.05, "three": 0.15, "two": 0.2, "plain": 0.03}
"""Share of strongest spots that are no heat of the board: mirrored while the supply was on, and not before or after.
[1] counted on the invented scenes of `benchmarks.heat`; a bench with no warm thing near has fewer"""
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
        That it is nothing on the map, or no heat of the board at all. [1]
    mirrored : float
        The latter alone. [1]
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
    mirrored: float = 0.0


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
    before: Frames,
    during: Frames,
    after: Frames | None = None,
    *,
    hertz: float = 0.0,
    rate: float = 0.0,
    times: Sequence[float] = (),
) -> Rise:
    """What the feed warmed, from pictures with the supply off, on and off again, or from a series with a switched feed.

    Parameters
    ----------
    before, during, after : ndarray, shape (n, h, w)
        Several frames of one are averaged; with `hertz` only `during` is used. [°C]
    rate : float
        Frames per second. [Hz]
    times : sequence of float, optional
        When each frame was taken, for a camera that does not keep its pace; then `rate` is not needed. [s]
    """
    given = [frames for frames in (before, during, after) if frames is not None]
    if not all(frames.size and np.isfinite(frames).all() for frames in given):
        raise DataError("Pixels without a temperature.", hint="cut the picture so that every pixel has a value")
    if hertz > 0.0:
        return lock_in(during.astype(float), _frame_times(len(during), rate, times), hertz)
    mean = [frames.mean(axis=0, dtype=float) for frames in (before, during)]
    return difference(mean[0], mean[1], None if after is None else after.mean(axis=0, dtype=float))


def _frame_times(count: int, rate: float, times: Sequence[float]) -> NDArray[np.float64]:
    """When each frame was taken, from the first one on. [s]"""
    if not len(times):
        if not rate > 0.0:
            raise DataError("How fast the frames come is not known.", hint="give frames per second, or their times")
        return np.arange(count) / rate
    told = np.array(times, dtype=float)
    if len(told) != count:
        raise DataError(f"{len(told)} times for {count} frames.", hint="one time for each frame, in seconds")
    if not (np.isfinite(told).all() and (np.diff(told) > 0.0).all()):
        raise DataError("The times of the frames do not go on and on.", hint="seconds, each later than the last")
    return np.asarray(told - told[0])


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
    rows, columns = rise.kelvin.shape
    _, mm_per_px = _placed_sd(pairs, columns / 2, rows / 2)
    spots, powers, mirrors = sources_of(rise, mm_per_px, Plate())
    fed = _fed(facts, watts)
    amps = _amps(facts)
    real = [1.0 - _mirrored(rise, spot) for spot in spots]
    each = (_spot(board, way, pairs, *one, amps, side) for one in zip(spots, powers, real, strict=True))
    shown = _by_part(each, board, amps)
    # A feed switched evenly swings about its mean by 2/pi of its height; the other half stays.
    seen = sum(powers) * (math.pi / 2.0 if rise.hertz is not None else 1.0)
    return HeatSeen(
        tuple(sorted(shown, key=lambda s: -s.watts)),
        side,
        off,
        seen,
        fed,
        _balance(seen, fed, bool(spots)),
        (*_turned_over(way, side), *_at_once(mirrors), *_notes(rise, off, mm_per_px)),
    )


def _at_once(count: int) -> tuple[str, ...]:
    """What was left out because it does not spread as heat does."""
    if not count:
        return ()
    places = "One place swings" if count == 1 else f"{count} places swing"
    return (f"{places} with the feed all at once, where heat lags the more the farther it goes: mirrored, left out.",)


def _fed(facts: Facts, watts: float | None) -> float:
    if watts is not None:
        if not 0.0 < watts < 1000.0:
            raise DataError(f"{watts} W fed.", hint="volts at the pads times amperes")
        return watts
    return fed_watts(facts)


def _amps(facts: Facts) -> float:
    state = facts.last_fed
    shown = [r.value for r in facts.readings if r.state == state and r.quantity is Quantity.SUPPLY_AMPS]
    feed = None if state is None else state.feed
    return abs(shown[-1]) if shown and shown[-1] is not None else feed.limit if feed is not None else 0.0


def _spot(
    board: Board, way: Homography, pairs: Sequence[Pair], spot: Spot, power: float, real: float, amps: float, side: str
) -> HotSpot:
    x, y = way.at(spot.x, spot.y)
    marked, step = _placed_sd(pairs, spot.x, spot.y)
    sd = math.hypot(marked, spot.sd * step)
    shares = [(name, real * share) for name, share in part_shares(board, x, y, sd, side)]
    parts = tuple(_hot_part(board, name, share, power, amps) for name, share in shares[:8])
    nothing = max(1.0 - sum(share for _, share in shares), 0.0)
    return HotSpot(spot.x, spot.y, x, y, sd, spot.kelvin, power, parts, nothing, spot.lag, 1.0 - real)


def _mirrored(rise: Rise, spot: Spot) -> float:
    """How likely a spot is no heat of the board at all. [1]"""
    if rise.hertz is not None:
        return MIRRORED["series"]
    if spot.kelvin > PLAIN:
        return MIRRORED["plain"]
    return MIRRORED["three" if rise.checked else "two"]


def _by_part(spots: Iterable[HotSpot], board: Board, amps: float) -> list[HotSpot]:
    """Spots that are plainly one part in one: a large body is warm all over, and is fitted by several sources."""
    out: list[HotSpot] = []
    for spot in spots:
        first = spot.parts[0].name if spot.parts and spot.parts[0].probability >= SAME_PART else ""
        for n, other in enumerate(out):
            if first and other.parts and other.parts[0].name == first and other.parts[0].probability >= SAME_PART:
                watts = other.watts + spot.watts
                parts = tuple(_hot_part(board, part.name, part.probability, watts, amps) for part in other.parts)
                out[n] = replace(other, watts=watts, parts=parts)
                break
        else:
            out.append(spot)
    return out


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
    if not fed > 0.0:
        return f"{format_quantity(seen, 'W')} seen, nothing fed: the supply's volts or amps on record are zero."
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


def _turned_over(way: Homography, side: str) -> tuple[str, ...]:
    """Whether the marks mirror the picture where they should not: the board is seen from the top in its millimetres."""
    turned = float(np.linalg.det(way.matrix[:2, :2])) < 0.0
    if turned == (side == "bottom"):
        return ()
    other = "top" if side == "bottom" else "bottom"
    return (
        f"The marks turn the picture over, which no camera does that looks at the {side}: two marks are "
        f"exchanged, the camera mirrors its picture, or this is the {other}.",
    )


def _notes(rise: Rise, off_mm: float, mm_per_px: float) -> tuple[str, ...]:
    notes = [EMISSIVITY]
    if not rise.checked:
        notes.append(
            "Reflections cannot be told from heat with one picture before and one during: add one with the supply "
            "off again, or a series with the supply switched."
        )
    elif rise.hertz is None:
        notes.append(
            "What was mirrored only while the supply was on looks like heat. A spot of few kelvin: take all three "
            "again, from a place where nobody stands; or switch the feed and record a series."
        )
    if rise.moved:
        notes.append(
            f"The camera moved by {rise.moved:.1f} pixels between the pictures: they were laid on each other before "
            "anything was compared. Better fix it."
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

    book = book_of(desk, case)
    board, feed = book.board, ended_feed(book.facts)
    if spot is None:
        entry = HeatRecorded(HeatFinding.NOTHING, (), seen.fed_watts, "camera", feed=feed)
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
        shares = _recorded(board, chosen)
        finding = HeatFinding.PART if sure else HeatFinding.AREA
        entry = HeatRecorded(finding, named, seen.fed_watts, "camera", shares, feed)
    return thought_through(desk, case, record(desk, case, entry, expected=expected))


def _recorded(board: Board, spot: HotSpot) -> tuple[tuple[str, float], ...]:
    """How likely a spot like this one is where each part is the warm one, up to a factor common to all. [1]

    A mirrored spot lies anywhere, whatever is warm, so its share goes to every part alike. Left out of all, it would
    count as heat of something that is not on the map; and what the belief keeps besides for pictures laid wrongly
    does not hold it. What is missing to one is then only what is not on the map.
    """
    named = {part.name: part.probability for part in spot.parts}
    alike = spot.mirrored / max(len(board.parts), 1)
    return tuple((part.name, named.get(part.name, 0.0) + alike) for part in board.parts)
