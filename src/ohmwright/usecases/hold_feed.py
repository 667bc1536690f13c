"""Feed one step of a plan while a guard watches the supply; everything on record before and after."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from ohmwright.casebook.events import Entry, FeedOff, FeedSet, ReadingRecorded
from ohmwright.circuit import Feed
from ohmwright.errors import DataError, OutputUnknownError
from ohmwright.facts import Behaviour, Quantity
from ohmwright.planning.feeding import FeedPlan, limit_words
from ohmwright.quantities import format_quantity
from ohmwright.safety import Permit
from ohmwright.safety.stopping import FedSample, Stop, StopRules
from ohmwright.traces import Stage, trace_of
from ohmwright.traces.trace import FEWEST
from ohmwright.usecases.desk import Desk, book_of, record
from ohmwright.usecases.set_feed import permit_for, set_feed
from ohmwright.usecases.trace_supply import judged_trace, trace_entry

NEAR_LABEL = 0.8
"""Share of an entry's label volts from which a board can be expected to start. [1] estimate"""
ANYWHERE = (Stage.SHORT, Stage.LIMIT_HELD)
"""What a trace shows at whatever place and volts; the other stages are those of a board fed at its entry."""


class Watched(Protocol):
    """One look of the guard: a sample, or the end and why. [J]"""

    @property
    def sample(self) -> FedSample | None:
        """What the supply showed."""
        ...
    @property
    def stop(self) -> Stop | None:
        """Why it ended."""
        ...
    @property
    def energy(self) -> float:
        """[J]"""
        ...
    @property
    def off(self) -> bool:
        """Whether the output is known to be off."""
        ...


class Guard(Protocol):
    """Switches a supply on with a permit, and off by rule whatever becomes of the program."""

    def on(self, permit: Permit, rules: StopRules, sweep: Sequence[Permit] = ()) -> None:
        """Switch on and watch; or go through the settings of a sweep."""

    def watched(self) -> Iterator[Watched]:
        """Every look, and at the end why."""

    def ask_off(self) -> None:
        """Have it switched off; `watched` then ends."""

    def off(self) -> None:
        """Switch off."""


def hold_feed(
    desk: Desk, case: str, plan: FeedPlan, step: int, guard: Guard, seconds: float, say: Callable[[str], None]
) -> str:
    """Hold one step, and say why it ended. [1], [s]

    The supply's last steady volts and amps go on record as readings, so that the belief hears of them.
    """
    feed = step_feed(plan, step)
    rules = plan.rules(step - 1)
    _, permit = set_feed(desk, case, feed)
    seen: list[FedSample] = []
    ended, energy, off = "", 0.0, True
    try:
        guard.on(permit, rules)
        for look in guard.watched():
            energy = look.energy
            if look.sample is not None:
                seen.append(look.sample)
                last = look.sample
                shown = f"{format_quantity(last.volts, 'V')}  {format_quantity(last.amps, 'A')}"
                say(f"{last.at:5.1f} s  {shown}  {energy:.2g} J")
                if last.at >= seconds:
                    ended = f"held for {seconds:g} s"
                    break
            if look.stop is not None:
                ended, off = stop_words(look), look.off
                if not off:
                    say(ended)
    except OutputUnknownError:
        off = False
        raise
    finally:
        guard.off()
        entries = fed_entries(desk, case, feed, seen, off=off)
        if entries:
            record(desk, case, *entries)
    return came_of(feed, seen, ended, energy)


def step_feed(plan: FeedPlan, step: int) -> Feed:
    """The setting of one step of a plan. [1]"""
    if not 1 <= step <= len(plan.steps):
        raise DataError(f"The plan has no step {step}.", hint=f"it has {len(plan.steps)}")
    return plan.steps[step - 1].feed


def sweep_permits(desk: Desk, case: str, feed: Feed, steps: int) -> tuple[Permit, ...]:
    """Leave for each of so many even steps up to a setting. [1]

    Raises
    ------
    RefusedError
        If any of them is not permitted.
    """
    feeds = (Feed(feed.plus, feed.minus, round(feed.volts * k / steps, 4), feed.limit) for k in range(1, steps + 1))
    return tuple(permit_for(desk, case, one)[0] for one in feeds)


def begin_hold(desk: Desk, case: str, feed: Feed) -> Permit:
    """The permit for a feed that the guard is about to switch on; the feed is on record before the output is."""
    permit, _, seen = permit_for(desk, case, feed)
    record(desk, case, FeedSet(feed), expected=seen)
    return permit


def stop_words(look: Watched) -> str:
    """Why it ended; loud where the output may still be on."""
    words = "" if look.stop is None else f"{look.stop.rule}: {look.stop.words}"
    return words if look.off else words + ". THE SUPPLY DID NOT SAY THAT IT IS OFF: switch it off by hand"


def came_of(feed: Feed, seen: Sequence[FedSample], ended: str, energy: float) -> str:
    """One line on a feed that has ended. [J]"""
    words = limit_words(seen[-1].volts, seen[-1].amps, feed) if seen else "nothing was read"
    return f"{ended or 'the guard ended'}; {words}; {energy:.3g} J went in"


def fed_entries(
    desk: Desk, case: str, feed: Feed, seen: Sequence[FedSample], *, off: bool = True
) -> tuple[Entry, ...]:  # fmt: skip
    """What goes on record when a feed has ended: the last volts and amps, the trace, and that it is off if it is."""
    ending: tuple[Entry, ...] = (FeedOff(),) if off else ()
    if not seen:
        return ending
    last = seen[-1]
    return (
        ReadingRecorded(Quantity.SUPPLY_VOLTS, feed.plus, feed.minus, last.volts, desk.meter, "supply"),
        ReadingRecorded(Quantity.SUPPLY_AMPS, feed.plus, feed.minus, last.amps, desk.meter, "supply"),
        *_trace(desk, case, feed, seen), *ending,
    )  # fmt: skip


def _trace(desk: Desk, case: str, feed: Feed, seen: Sequence[FedSample]) -> tuple[Entry, ...]:
    """The trace of a feed. What stage a board reached is said only where it was fed at its entry with its volts."""
    if len(seen) < FEWEST:
        return ()
    columns = ([s.at for s in seen], [max(s.amps, 0.0) for s in seen], [s.volts for s in seen])
    trace = trace_of(*columns, feed.volts, feed.limit)
    read = judged_trace(desk, case, trace)
    if read.stage.stage in ANYWHERE or _at_entry(desk, case, feed):
        return (trace_entry(read),)
    words = f"fed with {format_quantity(feed.volts, 'V')} away from an entry: no stage to be told"
    return (trace_entry(read, Behaviour.OTHER, words),)


def _at_entry(desk: Desk, case: str, feed: Feed) -> bool:
    book = book_of(desk, case)
    net = book.board.net_at(feed.plus)
    return any(
        book.board.net_at(e.net) == net and e.label_volts and feed.volts >= NEAR_LABEL * e.label_volts
        for e in book.facts.entries
    )
