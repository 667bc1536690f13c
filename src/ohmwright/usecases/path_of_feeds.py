"""What the feeds of one rail say together: R from two currents with the leads taken out, and what finds the place."""

from __future__ import annotations

from dataclasses import dataclass

from ohmwright.circuit import BoardState, Feed
from ohmwright.errors import DataError
from ohmwright.facts import Facts, Quantity
from ohmwright.planning.feeding import STEPS, Finder, finder, limit_words
from ohmwright.quantities import format_quantity
from ohmwright.traces import Slope, slope_of
from ohmwright.usecases.desk import Desk, book_of

LEADS_SHARE = 0.2
"""How well the resistance of leads and clips is known. [1] estimate"""
LEAST_AMPS = 0.02
"""Below this the supply's own display tells no resistance. [A]"""


@dataclass(frozen=True, slots=True)
class PathSeen:
    """What the feeds of a rail came to.

    Parameters
    ----------
    points : tuple of (float, float)
        Amps and volts at each current, as the supply showed them. [A], [V]
    leads : float
        Taken out of the slope. [Ω]
    slope : Slope or None
        None while there is one current only, or two that are too close.
    finder : Finder or None
    words : str
        What they say, and what is wanting.
    """

    points: tuple[tuple[float, float], ...]
    leads: float
    slope: Slope | None
    finder: Finder | None
    words: str


def path_of_feeds(desk: Desk, case: str, net: str, leads: float | None = None) -> PathSeen | None:
    """The path from a rail to ground as its feeds tell it, the board as it is now; None before any feed. [Ω]

    Parameters
    ----------
    leads : float, optional
        Of leads and clips, where the supply's display includes them; by default what the feed says of them.
    """
    book = book_of(desk, case)
    name = book.board.net_at(net)
    shown = {feed: at for feed, at in _shown(book.facts).items() if book.board.net_at(feed.plus) == name}
    if not shown:
        return None
    last = list(shown)[-1]
    points = tuple(shown.values())
    out = last.leads if leads is None else leads
    if shown[last][0] < LEAST_AMPS:
        return PathSeen(points, out, None, None, f"{format_quantity(shown[last][0], 'A')}: no short that a feed finds")
    try:
        slope = slope_of(points, out, LEADS_SHARE * out)
    except DataError:
        return PathSeen(points, out, None, None, _wanting(last, *shown[last]))
    found = finder(slope, max(feed.volts for feed in shown), max(feed.limit for feed in shown))
    ohms = f"{format_quantity(slope.ohms.low, 'Ω')} to {format_quantity(slope.ohms.high, 'Ω')}"
    straight = "" if slope.fits else "; the points lie on no line: contact or path changed between them"
    words = (
        f"{format_quantity(slope.best, 'Ω')} from {len(points)} currents ({ohms}), "
        f"{format_quantity(out, 'Ω')} of leads taken out{straight}"
    )
    return PathSeen(points, out, slope, found, words)


def _wanting(feed: Feed, amps: float, volts: float) -> str:
    """What one current says, and which second one would tell more. [A], [V]"""
    came = limit_words(volts, amps, feed)
    if "collapsed" in came:
        more = next((limit for limit in STEPS if limit > 1.4 * amps and limit > feed.limit), None)
        return came + (f"; take {format_quantity(more, 'A')} too, for the slope" if more else "")
    if amps >= 0.97 * feed.limit:
        return came
    half = format_quantity(feed.volts / 2.0, "V", 2)
    ohms = format_quantity(volts / amps, "Ω")
    return f"{came}: {ohms} with leads and any junction; take {half} too, for the slope"


def _shown(facts: Facts) -> dict[Feed, tuple[float, float]]:
    """Amps and volts that the supply showed last at each setting, with the board as it is now; in the order taken."""
    now = facts.state.unfed
    out: dict[Feed, tuple[float, float]] = {}
    volts: dict[BoardState, float] = {}
    for reading in facts.readings:
        feed = reading.state.feed
        if feed is None or reading.value is None or reading.state.unfed != now:
            continue
        if reading.quantity is Quantity.SUPPLY_VOLTS:
            volts[reading.state] = reading.value
        elif reading.quantity is Quantity.SUPPLY_AMPS and reading.state in volts:
            out.pop(feed, None)
            out[feed] = (reading.value, volts[reading.state])
    return out
