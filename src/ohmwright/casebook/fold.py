"""From the events of a case to its board, its facts and how the board stands now. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from ohmwright.boardmap import Chart
from ohmwright.boardmap.copper import Copper, Verdict
from ohmwright.casebook import events as happened
from ohmwright.casebook.board_edits import edited_board
from ohmwright.casebook.events import Amended, CaseOpened, Entry, Event, Undone
from ohmwright.casebook.field_edits import fed_state, with_gradient
from ohmwright.casebook.hearing import copper_after, copper_in
from ohmwright.casebook.map_edits import MapEdit, drawn, on_map, points_of, with_footing
from ohmwright.casebook.timeline import Counted, counted_entries, undone_sequences
from ohmwright.casebook.trace_events import with_trace
from ohmwright.circuit import Board, BoardState
from ohmwright.errors import DataError, OhmwrightError
from ohmwright.facts import CURES, LOOSE, Act, Deed, EntryFact, Facts, Heat, Look, Override, Reading


@dataclass(frozen=True, slots=True)
class Orphan:
    """An entry that can no longer be true, because what it rested on was undone or changed."""

    sequence: int
    why: str


@dataclass(frozen=True, slots=True)
class Mark:
    """How things stood before one entry of the line, kept so that the line can be taken up again there.

    Parameters
    ----------
    at, kept, lost : int
        Entries of the line before it; how many of them counted, and how many hung in the air. [1]
    copper : Copper or None
        What was heard until then; None where it was not kept.
    """

    at: int
    kept: int
    lost: int
    board: Board
    facts: Facts
    chart: Chart
    copper: Copper | None = None


@dataclass(frozen=True, slots=True)
class Casebook:
    """A case at one moment.

    Parameters
    ----------
    board : Board
        The map, with all edits.
    counted : tuple of Counted
        Entries that count, in the order of the bench.
    states : tuple of BoardState
        How the board stood after each of them, one per entry of `counted`.
    sequence : int
        Number of the last event. [1]
    chart : Chart
        Pictures of the board, and the pads laid on them.
    copper : Copper
        What was heard of which pads are one copper, and what became of it.
    """

    board: Board
    facts: Facts
    counted: tuple[Counted, ...]
    states: tuple[BoardState, ...]
    undone: frozenset[int]
    orphans: tuple[Orphan, ...]
    events: tuple[Event, ...]
    sequence: int
    chart: Chart = field(default_factory=Chart)
    copper: Copper = field(default_factory=Copper)
    line: tuple[Counted, ...] = field(default=(), compare=False, repr=False)
    marks: tuple[Mark, ...] = field(default=(), compare=False, repr=False)


NEAR, EVERY = 16, 64
"""Marks are kept of the last entries, and of one in so many before; each holds a board. [1]"""


def casebook_of(events: Sequence[Event]) -> Casebook:
    """The case after those events.

    Raises
    ------
    DataError
        If they do not begin with the opening of a case.
    """
    if not events or not isinstance(events[0].what, CaseOpened):
        raise DataError(
            "These events do not begin with the opening of a case.",
            hint="open the case anew, or hand over the whole file",
        )
    opened, line = events[0].what.board, counted_entries(events)
    start = Mark(0, 0, 0, opened, Facts(), Chart())
    blank = Casebook(opened, Facts(), (), (), undone_sequences(events), (), tuple(events), events[-1].sequence)
    return _from(blank, start, line, copper_in(line, opened), ())


def casebook_after(book: Casebook, event: Event) -> Casebook:
    """The case after one more event: the same as `casebook_of` gives, without beginning anew.

    An entry at the end costs that entry alone. Taking one back, or putting one right, costs what came after it.
    """
    opened = book.events[0].what
    if not isinstance(opened, CaseOpened) or isinstance(event.what, CaseOpened):
        return casebook_of((*book.events, event))
    events = (*book.events, event)
    if isinstance(event.what, Undone | Amended):
        line, undone = counted_entries(events), undone_sequences(events)
        same = next((n for n, (a, b) in enumerate(zip(book.line, line, strict=False)) if a is not b and a != b), None)
        back = min(len(book.line), len(line)) if same is None else same
        kept = next((mark.copper for mark in book.marks if mark.at == back == len(line)), None)
        copper = kept or copper_in(line, opened.board)
    else:
        line, undone, back = (*book.line, Counted(event, event.what, (event.sequence,))), book.undone, len(book.line)
        copper = copper_after(book.copper, line, opened.board)
    back = min(back, _first_changed(book.copper, copper, book.line))
    now = Mark(len(book.line), len(book.counted), len(book.orphans), book.board, book.facts, book.chart, book.copper)
    start = max((mark for mark in (*book.marks, now) if mark.at <= back), key=lambda mark: mark.at)
    earlier = tuple(mark for mark in book.marks if mark.at < start.at)
    bare = replace(book, undone=undone, events=events, sequence=event.sequence)
    return _from(bare, start, line, copper, earlier)


def _first_changed(old: Copper, new: Copper, line: Sequence[Counted]) -> int:
    """Place in the line of the first beep that is judged otherwise than before; its length where none is. [1]"""
    changed = {key for key, verdict in old.verdicts.items() if new.verdicts.get(key, verdict) is not verdict}
    if not changed:
        return len(line)
    return next((n for n, entry in enumerate(line) if entry.event.sequence in changed), len(line))


def _from(
    book: Casebook, start: Mark, line: tuple[Counted, ...], copper: Copper, earlier: tuple[Mark, ...]
) -> Casebook:
    """The book with its line told again from a mark on."""
    board, facts, chart = start.board, start.facts, start.chart
    kept, states = list(book.counted[: start.kept]), list(book.states[: start.kept])
    orphans, marks = list(book.orphans[: start.lost]), list(earlier)
    for at in range(start.at, len(line)):
        if at % EVERY == 0 or at >= len(line) - NEAR:
            heard = start.copper if at == start.at else None
            marks.append(Mark(at, len(kept), len(orphans), board, facts, chart, heard))
        entry = line[at]
        try:
            board, facts, chart = _after(board, facts, chart, entry, len(kept), copper)
        except OhmwrightError as error:
            orphans.append(Orphan(entry.event.sequence, error.what))
            continue
        kept.append(entry)
        states.append(facts.state)
    few = tuple(mark for mark in marks if mark.at % EVERY == 0 or mark.at >= len(line) - NEAR)
    return replace(
        book, board=board, facts=facts, counted=tuple(kept), states=tuple(states), orphans=tuple(orphans),
        chart=chart, copper=copper, line=line, marks=few,
    )  # fmt: skip


def facts_of(events: Sequence[Event]) -> Facts:
    """The facts that those events amount to."""
    return casebook_of(events).facts


def check_entry(book: Casebook, entry: Entry) -> None:
    """Raise what is wrong with an entry if it were made now; do nothing when it is sound."""
    event = Event(book.sequence + 1, "", "", entry)
    counted = Counted(event, entry, (event.sequence,))
    opened = book.events[0].what
    copper = book.copper
    if isinstance(opened, CaseOpened):
        copper = copper_after(copper, (*book.line, counted), opened.board)
    _after(book.board, book.facts, book.chart, counted, len(book.counted), copper)


def _after(
    board: Board, facts: Facts, chart: Chart, entry: Counted, position: int, copper: Copper
) -> tuple[Board, Facts, Chart]:
    """Board, facts and chart after one entry."""
    what, sequence = entry.what, entry.event.sequence
    if isinstance(what, MapEdit) and not (
        isinstance(what, happened.PadsJoined) and not (on_map(chart, what.a) or on_map(chart, what.b))
    ):
        return drawn(board, facts, chart, what, sequence, copper.verdicts.get(sequence, Verdict.COPPER))
    if isinstance(what, happened.PadsApart | happened.Inspected):
        _check_look_over(board, what)
        return board, facts, chart
    board = with_footing(board, chart, tuple(points_of(what)), sequence)
    return (*_noted(board, facts, entry, position), chart)


def _noted(board: Board, facts: Facts, entry: Counted, position: int) -> tuple[Board, Facts]:
    """Board and facts after an entry that draws nothing."""
    what, key = entry.what, entry.event.key
    match what:
        case happened.PartPlaced() | happened.PinNamed() | happened.PartIdentified() | happened.PadsJoined():
            return edited_board(board, what, entry.event.sequence), facts
        case happened.ReadingRecorded() | happened.LookRecorded() | happened.HeatRecorded():
            return board, _with_finding(board, facts, what, key)
        case happened.GradientRecorded():
            return board, with_gradient(board, facts, what, key)
        case happened.TraceRecorded():
            return board, with_trace(facts, what, key)
        case happened.FeedSet() | happened.FeedOff() | happened.Discharged():
            return board, _with_supply(board, facts, what)
        case happened.SymptomTold() | happened.EntryDescribed() | happened.TestSkipped() | happened.GateOverruled():
            return board, _with_word(board, facts, what, key)
        case _:
            return board, _with_deed(board, facts, what, key, position)


def _with_finding(
    board: Board,
    facts: Facts,
    what: happened.ReadingRecorded | happened.LookRecorded | happened.HeatRecorded,
    key: str,
) -> Facts:
    """The facts with one more reading, look or feel."""
    if isinstance(what, happened.ReadingRecorded):
        _check_points(board, facts, what)
        reading = Reading(what.quantity, what.red, what.black, what.value, facts.state, what.meter, key)
        return replace(facts, readings=(*facts.readings, reading))
    for part in what.parts:
        board.part(part)
    if isinstance(what, happened.LookRecorded):
        return replace(facts, looks=(*facts.looks, Look(what.parts, what.finding, facts.state, key)))
    state = fed_state(facts, what.feed)
    if state is None:
        raise DataError("Nothing gets warm while the supply is off.", hint="record the feed first, then what you felt")
    _check_sizes("Heat", watts=what.watts)
    for part, _ in what.shares:
        board.part(part)
    heat = Heat(what.finding, what.parts, what.watts, state, what.method, key, what.shares)
    return replace(facts, heats=(*facts.heats, heat))


def _check_points(board: Board, facts: Facts, what: happened.ReadingRecorded) -> None:
    red, black = board.net_at(what.red), board.net_at(what.black)
    if what.quantity in LOOSE:
        part = what.red.rpartition(".")[0]
        if part != what.black.rpartition(".")[0] or part not in facts.state.off:
            raise DataError(
                f"{what.quantity.value} from {what.red} to {what.black} needs both pins of one part that is off.",
                hint="record that the part came off first, and name its two pins, such as C12.1 and C12.2",
            )
    elif red == black and what.red == what.black:
        raise DataError(f"Both probes are on {what.red}.", hint="name two different points")


def _with_supply(board: Board, facts: Facts, what: happened.FeedSet | happened.FeedOff | happened.Discharged) -> Facts:
    """The facts after the supply went on or off, or the board was discharged.

    Feeding charges the capacitors; they stay charged until somebody discharges them.
    """
    if isinstance(what, happened.FeedSet):
        _check_sizes("A feed", volts=what.feed.volts, limit=what.feed.limit, leads=what.feed.leads)
        board.net_at(what.feed.plus), board.net_at(what.feed.minus)
        return _moved(facts, facts.state.with_feed(what.feed), discharged=False)
    if isinstance(what, happened.FeedOff):
        return _moved(facts, facts.state.unfed)
    if facts.state.feed is not None:
        raise DataError("The board is still fed.", hint="switch the supply off first, then discharge")
    return replace(facts, discharged=True)


def _with_word(
    board: Board,
    facts: Facts,
    what: happened.SymptomTold | happened.EntryDescribed | happened.TestSkipped | happened.GateOverruled,
    key: str,
) -> Facts:
    """The facts with something told or decided."""
    if isinstance(what, happened.SymptomTold):
        return replace(facts, symptom=what.symptom)
    if isinstance(what, happened.TestSkipped):
        return replace(facts, skipped=(*facts.skipped, what.title))
    if isinstance(what, happened.GateOverruled):
        return replace(facts, overrides=(*facts.overrides, Override(what.gate, what.reason, key)))
    board.net(what.net)
    _check_sizes("An entry", label_volts=what.label_volts or 0.0)
    known = EntryFact(what.net, what.label_volts, what.polarity_measured, what.battery_off, key)
    return replace(facts, entries=(*(e for e in facts.entries if e.net != what.net), known))


def _with_deed(board: Board, facts: Facts, what: Entry, key: str, position: int) -> Facts:
    """The facts after something was done to the board."""
    state = facts.state
    match what:
        case happened.Bridged():
            board.net_at(what.a), board.net_at(what.b)
            return _moved(facts, replace(state, bridges=state.bridges | {(what.a, what.b)}))
        case happened.BoardTried():
            repaired = [a.part for a in facts.acts if a.deed in CURES]
            deed = Deed.WORKS if what.works else Deed.STILL_DEAD
            return _acted(facts, state, Act(deed, repaired[-1] if repaired else "", key, position))
        case happened.PartTakenOff():
            board.part(what.part)
            if what.part in state.off:
                raise DataError(f"{what.part} is already off.", hint="refit it first, or undo the entry")
            return _acted(facts, state.with_off(what.part), Act(Deed.TOOK_OFF, what.part, key, position))
        case happened.PartRefitted():
            if what.part not in state.off:
                raise DataError(f"{what.part} is not off the board.", hint="record that it came off first")
            fitted = replace(state, off=state.off - {what.part}, refitted=state.refitted | {what.part})
            return _acted(facts, fitted, Act(Deed.REFITTED, what.part, key, position))
        case happened.PartReplaced():
            board.part(what.part)
            fitted = replace(state, off=state.off - {what.part}, replaced=state.replaced | {what.part})
            return _acted(facts, fitted, Act(Deed.REPLACED, what.part, key, position))
        case happened.PartCleaned() | happened.PartReflowed():
            if what.part not in board.net_by_name:
                board.part(what.part)
            deed = Deed.CLEANED if isinstance(what, happened.PartCleaned) else Deed.REFLOWED
            done = replace(state, cleaned=state.cleaned | {what.part})
            return _acted(facts, done, Act(deed, what.part, key, position))
    raise DataError(f"{type(what).__name__} cannot stand alone in a case.")


def _check_look_over(board: Board, what: happened.PadsApart | happened.Inspected) -> None:
    """What is only noted, and changes neither board nor facts."""
    if isinstance(what, happened.PadsApart):
        for point in (what.a, what.b):
            name, _, number = point.rpartition(".")
            if point != board.ground:
                board.part(name).pin(number)
        if what.a == what.b:
            raise DataError(f"Both probes are on {what.a}.", hint="name two different pads")
        return
    _check_sizes("An inspected field", width=what.width_mm, height=what.height_mm, magnification=what.magnification)
    if not (math.isfinite(what.x_mm) and math.isfinite(what.y_mm) and what.side in ("top", "bottom")):
        raise DataError("This field lies nowhere on the board.", hint="look at a part of the picture, then mark it")


def _check_sizes(whose: str, **sizes: float) -> None:
    """Refuse what is negative or no number: such a figure would slip through every comparison of a safety rule."""
    for name, size in sizes.items():
        if not (math.isfinite(size) and size >= 0.0):
            raise DataError(
                f"{whose} of {size} {name.replace('_', ' ')} cannot be.", hint="give a figure of zero or more"
            )


def _acted(facts: Facts, state: BoardState, act: Act) -> Facts:
    return replace(_moved(facts, state), acts=(*facts.acts, replace(act, state=state)))


def _moved(facts: Facts, state: BoardState, *, discharged: bool | None = None) -> Facts:
    """The facts with the board in another state: tests passed over in the old one may be offered again."""
    skipped = facts.skipped if state == facts.state else ()
    known = facts.discharged if discharged is None else discharged
    return replace(facts, state=state, skipped=skipped, discharged=known)
