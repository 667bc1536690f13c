"""Carry out an advised test at a bench that answers by itself, entering each step as it is done."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from ohmwright.casebook import Entry
from ohmwright.casebook import events as happened
from ohmwright.circuit import Board
from ohmwright.errors import DataError, InstrumentError
from ohmwright.facts import HeatFinding, LookFinding, Meter
from ohmwright.planning.advice import Step, Test
from ohmwright.safety import Permit
from ohmwright.usecases.desk import CaseView, Desk, book_of, record, view_of
from ohmwright.usecases.hand_work import may_enter, may_work
from ohmwright.usecases.map_nets import BEEP_OHMS, heard_entry
from ohmwright.usecases.record_heat import fed_watts
from ohmwright.usecases.record_reading import parse_quantity_name
from ohmwright.usecases.set_feed import permit_for

__all__ = ["Bench", "PracticeBench", "Step", "Test", "run_step", "run_test"]


class Bench(Protocol):
    """A board on a bench, with a meter, a supply and hands that do what they are asked.

    Attributes
    ----------
    heat_method : str
        What heat is found with here, in the words of `ohmwright.facts.Heat`.
    """

    meter: Meter
    heat_method: str

    def read(self, quantity: str, red: str, black: str) -> float | None:
        """What the meter or the supply's display shows, in SI units; None for OL."""

    def feed(self, permit: Permit) -> None:
        """Switch the supply on at exactly what the permit allows."""

    def feed_off(self) -> None:
        """Switch it off."""

    def discharge(self) -> None:
        """Discharge the board."""

    def look(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], LookFinding]:
        """Inspect parts; which of them show what."""

    def heat(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], HeatFinding]:
        """Feel for heat; where it is, and how sharply."""

    def take_off(self, part: str) -> None:
        """Take a part off."""

    def refit(self, part: str) -> None:
        """Put the same part back."""

    def replace(self, part: str) -> None:
        """Fit a new part."""

    def clean(self, part: str) -> None:
        """Clean a part or the copper of a net."""

    def reflow(self, part: str) -> None:
        """Melt the joints of a part again."""

    def entry(self, net: str) -> tuple[float | None, bool, bool]:
        """Label volts [V], polarity measured, battery off."""

    def tried(self) -> bool:
        """Whether the board works."""


class PracticeBench(Bench, Protocol):
    """A bench whose board is known and whose fault can be asked for once the case is over."""

    seed: int
    board: Board

    def truth(self) -> tuple[str, ...]:
        """Names of the parts that are truly faulty."""

    def close(self) -> None:
        """End the process that plays the bench."""


def _unheard(texts: tuple[str, ...]) -> None:
    """Nobody listens."""


def run_test(
    desk: Desk, case: str, test: Test, bench: Bench, mind: Callable[[tuple[str, ...]], None] = _unheard
) -> CaseView:
    """Do all steps of a test, each on record before the next, and think again.

    Raises
    ------
    RefusedError
        Where a feed among the steps is not permitted; what was done before it stays on record.
    """
    for step in test.steps:
        run_step(desk, case, step, bench, mind)
    return view_of(desk, case)


def run_step(
    desk: Desk, case: str, step: Step, bench: Bench, mind: Callable[[tuple[str, ...]], None] = _unheard
) -> tuple[Entry, ...]:
    """Do one step, put it on record, and return what was entered.

    Parameters
    ----------
    mind : callable
        Told the cautions of a permit before the supply goes on.
    """
    if step.act == "feed":
        return _fed(desk, case, step, bench, mind)
    entries = _done(desk, case, step, bench)
    record(desk, case, *entries)
    return entries


def _fed(desk: Desk, case: str, step: Step, bench: Bench, mind: Callable[[tuple[str, ...]], None]) -> tuple[Entry, ...]:
    """Feed the board.

    It goes on record before the supply goes on: should the program die in between, the case then holds a
    board that may be live for live, never the other way round.
    """
    if step.feed is None:
        raise DataError(f"A step feeds {step.red or 'the board'} without saying how much.")
    permit, overruled, seen = permit_for(desk, case, step.feed)
    entries: tuple[Entry, ...] = (*overruled, happened.FeedSet(step.feed))
    record(desk, case, *entries, expected=seen)
    mind(tuple(notice.text for notice in permit.notices))
    try:
        bench.feed(permit)
    except InstrumentError:
        bench.feed_off()
        record(desk, case, happened.FeedOff())
        raise
    return entries


def _done(desk: Desk, case: str, step: Step, bench: Bench) -> tuple[Entry, ...]:
    """Do a step other than feeding."""
    if step.act == "read":
        value = bench.read(step.quantity, step.red, step.black)
        quantity = parse_quantity_name(step.quantity)
        return (happened.ReadingRecorded(quantity, step.red, step.black, value, bench.meter, "meter"),)
    if step.act == "buzz":
        ohms = bench.read("ohms", step.red, step.black)
        board = book_of(desk, case).board
        return (heard_entry(board, step.red, step.black, ohms is not None and ohms <= BEEP_OHMS),)
    if step.act == "look":
        parts, look = bench.look(step.parts)
        return (happened.LookRecorded(parts, look),)
    if step.act == "heat":
        warm, heat = bench.heat(step.parts)
        return (happened.HeatRecorded(heat, warm, fed_watts(book_of(desk, case).facts), bench.heat_method),)
    if step.act == "feed off":
        bench.feed_off()
        return (happened.FeedOff(),)
    if step.act == "discharge":
        bench.discharge()
        return (happened.Discharged(),)
    if step.act == "try":
        return (happened.BoardTried(bench.tried()),)
    if step.act == "describe":
        described = happened.EntryDescribed(step.red, *bench.entry(step.red))
        may_enter(described.label_volts)
        tried = book_of(desk, case).facts.last_trial is not None
        return (described,) if tried else (described, happened.BoardTried(bench.tried()))
    may_work(desk, case, step.act)
    return tuple(_at_part(step.act, part, bench) for part in step.parts)


def _at_part(act: str, part: str, bench: Bench) -> Entry:
    """Do something to one part."""
    match act:
        case "take off":
            bench.take_off(part)
            return happened.PartTakenOff(part)
        case "refit":
            bench.refit(part)
            return happened.PartRefitted(part)
        case "replace":
            bench.replace(part)
            return happened.PartReplaced(part)
        case "clean":
            bench.clean(part)
            return happened.PartCleaned(part)
        case "reflow":
            bench.reflow(part)
            return happened.PartReflowed(part)
    raise DataError(f"A step of the kind {act!r} cannot be carried out here.", hint="do it by hand and enter it")
