"""Log the supply while it feeds the board, judge the trace, put it on record, lay it beside earlier ones."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from ohmwright.casebook import casebook_of
from ohmwright.casebook.events import CaseOpened, TraceRecorded
from ohmwright.casebook.trace_events import MOST_SAMPLES
from ohmwright.circuit import BoardState, Feed
from ohmwright.errors import DataError, FileFormatError, InstrumentError, OhmwrightError
from ohmwright.facts import Behaviour
from ohmwright.traces import (
    Likeness,
    Signature,
    Stage,
    StageRead,
    SupplyTrace,
    likeness,
    signature_of,
    stage_of,
    trace_of,
)
from ohmwright.traces.trace import FEWEST
from ohmwright.usecases.desk import CaseView, Desk, book_of, record, thought_through
from ohmwright.usecases.ports import SupplyPort

LONGEST = 600.0
"""Longest log at one go. [s]"""
BEHAVIOURS = {
    Stage.OPEN: Behaviour.NOTHING, Stage.SHORT: Behaviour.SHORT, Stage.LIMIT_HELD: Behaviour.HELD,
    Stage.RETRYING: Behaviour.RETRIES, Stage.ABORTED: Behaviour.ABORTED, Stage.PLATEAU: Behaviour.PLATEAU,
    Stage.TRAINING: Behaviour.RUNS, Stage.RUNNING: Behaviour.RUNS,
}  # fmt: skip
"""What the belief is told of a stage; the rest says too little."""
HEADING, BEYOND = 40, 1000.0
"""Lines of words before the first numbers [1]; amperes and volts beyond this are none of a bench supply. [A], [V]"""
SEARCHED, ELSEWHERE = 40, 3
"""Other cases that are looked through for good traces of such a board, and traces that are taken from them. [1]"""
LEAST_SURE = 0.6
"""Probability of a stage below which the belief is told nothing certain. [1]"""


@dataclass(frozen=True, slots=True)
class TraceRead:
    """A trace, what it shows, and the earlier traces of this board it was laid beside."""

    trace: SupplyTrace
    signature: Signature
    stage: StageRead
    beside: tuple[tuple[str, Likeness], ...] = ()

    @property
    def behaviour(self) -> Behaviour:
        """What the belief is told."""
        if self.stage.probability < LEAST_SURE:
            return Behaviour.OTHER
        return BEHAVIOURS.get(self.stage.stage, Behaviour.OTHER)

    @property
    def words(self) -> str:
        """One line for the record."""
        sure = "" if self.stage.probability >= LEAST_SURE else "perhaps "
        return f"{sure}{self.stage.stage.value}" + (f"; {self.stage.words[-1]}" if self.stage.words else "")


def log_supply(
    supply: SupplyPort, feed: Feed, seconds: float, clock: Callable[[], float], step: float = 1e-3
) -> SupplyTrace:
    """Read a supply that is on as fast as it answers. [s], [A]

    Where it falls silent on the way, what it showed until then is the trace, and shorter than was asked for.
    """
    if not 0.0 < seconds <= LONGEST:
        raise DataError(f"A log of {seconds:g} s.", hint=f"at most {LONGEST:g} s at one go")
    times: list[float] = []
    amps: list[float] = []
    volts: list[float] = []
    began = clock()
    while (now := clock() - began) <= seconds and len(times) < 200_000:
        try:
            shown = supply.measure()
        except InstrumentError:
            if len(times) < FEWEST:
                raise
            break
        if not times or now > times[-1]:
            times.append(now)
            amps.append(shown.amps)
            volts.append(shown.volts)
    return trace_of(times, amps, volts, feed.volts, feed.limit, step)


def trace_from_csv(text: str, feed: Feed, step: float = 1e-3) -> SupplyTrace:
    """A trace from lines of seconds, amps and, if there, volts; words in the first line are a heading. [A]

    Raises
    ------
    FileFormatError
        Saying which line.
    """
    if len(text) > 8_000_000:
        raise FileFormatError("The log is too long.", hint="at most 200000 lines")
    columns: list[list[float]] = [[], [], []]
    for number, row in _rows(text):
        try:
            found = [float(cell) for cell in row[:3]]
        except ValueError:
            if not columns[0] and number <= HEADING:
                continue
            raise FileFormatError(
                "A line that is not numbers.", where=f"line {number}", why=f"it reads {','.join(row)[:60]!r}",
                hint="seconds,amps,volts; where semicolons stand between them commas are decimals",
            ) from None  # fmt: skip
        if len(found) < 2:
            where = f"line {number}"
            raise FileFormatError("A line with fewer than two numbers.", where=where, hint="seconds,amps[,volts]")
        if max(abs(value) for value in found[1:]) > BEYOND:
            raise FileFormatError(
                "A line with more than a bench supply gives.", where=f"line {number}",
                why=f"it reads {','.join(row)[:60]!r}", hint="amperes and volts, in this order after the seconds",
            )  # fmt: skip
        for column, value in zip(columns, [*found, feed.volts][:3], strict=True):
            column.append(value)
    return trace_of(columns[0], columns[1], columns[2], feed.volts, feed.limit, step)


def _rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """Lines that hold something, with their number; where semicolons or tabs stand between, commas are decimals."""
    for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), 1):
        apart = line.replace("\t", ";")
        words = apart.replace(",", ".").split(";") if ";" in apart else line.split(",")
        cells = [word.strip().strip('"') for word in words]
        while cells and not cells[-1]:
            cells.pop()
        if cells:
            yield number, cells


def judged_trace(desk: Desk, case: str, trace: SupplyTrace) -> TraceRead:
    """What a trace shows, beside the earlier ones of this board on record: its own and those of it working."""
    signature = signature_of(trace)
    return TraceRead(trace, signature, stage_of(signature, trace.step), _beside(desk, case, trace))


def record_trace(
    desk: Desk, case: str, trace: SupplyTrace, *, good: bool = False, expected: int | None = None
) -> tuple[CaseView, TraceRead]:
    """Judge a trace and put it on record for the present feed."""
    read = judged_trace(desk, case, trace)
    entry = trace_entry(read, good=good)
    return thought_through(desk, case, record(desk, case, entry, expected=expected)), read


def trace_entry(
    read: TraceRead, behaviour: Behaviour | None = None, words: str = "", *, good: bool = False
) -> TraceRecorded:
    """A judged trace as it goes on record; another behaviour where the place of the feed allows no stage."""
    trace = read.trace
    kept = range(0, len(trace.times), -(-len(trace.times) // MOST_SAMPLES))
    return TraceRecorded(
        behaviour or read.behaviour, max(read.signature.last_watts, 0.0), read.signature.period.seconds,
        words or read.words, _thinned(trace.times, kept), _thinned(trace.amps, kept), _thinned(trace.volts, kept),
        trace.step, good,
    )  # fmt: skip


def _thinned(values: tuple[float, ...], kept: range) -> tuple[float, ...]:
    return tuple(round(values[k], 6) for k in kept)


def _beside(desk: Desk, case: str, trace: SupplyTrace) -> tuple[tuple[str, Likeness], ...]:
    out = []
    for entry in book_of(desk, case).counted:
        what = entry.what
        if isinstance(what, TraceRecorded) and len(what.times) >= FEWEST:
            name = f"{entry.event.key}, {'the board working' if what.good else what.words}"
            out.append((name, likeness(trace, as_logged(what))))
    good = [(f"a working board, case {one.case}", likeness(trace, one.trace)) for one in good_elsewhere(desk, case)]
    return (*out[-6:], *good)


@dataclass(frozen=True, slots=True)
class GoodTrace:
    """A trace of a working board of the same name, from another case."""

    case: str
    trace: SupplyTrace


def good_elsewhere(desk: Desk, case: str) -> tuple[GoodTrace, ...]:
    """Traces of working boards of this name in other cases, newest first."""
    wanted, out = book_of(desk, case).board.name, []
    for name, *_ in desk.store.cases()[: SEARCHED + 1]:
        if name == case:
            continue
        try:
            events = desk.store.events(name)
            if not events or not isinstance(events[0].what, CaseOpened) or events[0].what.board.name != wanted:
                continue
            book = casebook_of(events)
        except OhmwrightError:
            continue  # another case that cannot be read is no reason to lose this trace
        feeds = {seen.key: seen.state.feed for seen in book.facts.traces}
        for entry in reversed(book.counted):
            what = entry.what
            if isinstance(what, TraceRecorded) and what.good and len(what.times) >= FEWEST:
                out.append(GoodTrace(name, as_logged(what, feeds.get(entry.event.key))))
        if len(out) >= ELSEWHERE:
            break
    return tuple(out[:ELSEWHERE])


def as_logged(what: TraceRecorded, feed: Feed | None = None) -> SupplyTrace:
    """A trace on record as it was logged; where nobody knows any more how the supply stood, far from its limit."""
    volts = max(max(what.volts), 1e-3) if feed is None else feed.volts
    limit = 10.0 * max(max(what.amps), what.step) if feed is None else feed.limit
    return trace_of(what.times, what.amps, what.volts, volts, limit, what.step)


def present_feed(facts_state: BoardState) -> Feed:
    """The feed that is on.

    Raises
    ------
    DataError
        If none is.
    """
    if facts_state.feed is None:
        raise DataError("No supply is on that could be traced.", hint="feed the board first")
    return facts_state.feed


def trace_lines(read: TraceRead) -> Sequence[str]:
    """What a trace shows, a line each."""
    levels = ", ".join(f"{1e3 * v.amps:.3g} mA from {v.start:.2f} s" for v in read.signature.levels[:8])
    lines = [f"{stage.value}: {100 * share:.0f} %" for stage, share in read.stage.shares[:3]]
    lines.append(f"levels: {levels}{' …' if len(read.signature.levels) > 8 else ''}")
    lines += list(read.stage.words)
    for name, like in read.beside:
        apart = "alike all along"
        if like.parts_at is not None:
            apart = f"parts at {like.parts_at:.2f} s, then {like.ratio:.2g} times the watts"
        lines.append(f"beside {name}: {apart}")
    return lines
