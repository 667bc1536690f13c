"""What every use case works at: the store, the engine, the clock; and the view each of them returns."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol
from weakref import WeakKeyDictionary

from ohmwright.casebook import Casebook, Entry, Event, Happening, casebook_after, casebook_of, check_entry
from ohmwright.circuit import Board, Feed
from ohmwright.diagnosis.answer import Diagnosis
from ohmwright.errors import CaseConflictError
from ohmwright.facts import HANDHELD, Facts, Meter
from ohmwright.planning.advice import Advice
from ohmwright.planning.mapping import with_mapping
from ohmwright.safety import Notice, Permit, Refusal, in_force


class CaseStore(Protocol):
    """Where cases are kept."""

    def open_case(self, name: str, at: str, author: str, what: Happening) -> None:
        """Begin a case."""

    def append(self, name: str, expected: int, new: Sequence[Event]) -> None:
        """Add events after the one numbered `expected`, or raise `CaseConflictError`. [1]"""

    def events(self, name: str, after: int = 0) -> tuple[Event, ...]:
        """All events of a case, or those after the one numbered `after`. [1]"""

    def cases(self) -> tuple[tuple[str, str, int], ...]:
        """Name, opening time and last sequence number of each case, newest first."""


@dataclass(frozen=True, slots=True)
class Thought:
    """What the engine makes of the facts."""

    diagnosis: Diagnosis
    advice: Advice


@dataclass(frozen=True, slots=True)
class Engine:
    """The thinking, as two functions: what it means and what to do next; and what is permitted."""

    think: Callable[[Board, Facts], Thought]
    permit: Callable[[Board, Facts, Feed], Permit | Refusal]


@dataclass(frozen=True, slots=True)
class Desk:
    """Everything a use case needs from outside.

    Parameters
    ----------
    now : callable
        The time, UTC in ISO 8601.
    author : str
        Who makes the entries.
    meter : Meter
        What readings are taken with unless told otherwise.
    """

    store: CaseStore
    engine: Engine
    now: Callable[[], str]
    author: str = "bench"
    meter: Meter = HANDHELD


@dataclass(frozen=True)
class CaseView:
    """A case at one moment; the engine is asked when somebody wants to know what it thinks, and once."""

    name: str
    book: Casebook
    engine: Engine

    @cached_property
    def thought(self) -> Thought:
        """What the engine makes of the case; on a map that is drawn, with what to buzz next."""
        thought = self.engine.think(self.board, self.facts)
        if not self.book.chart.pads:
            return thought
        skipped = self.facts.skipped
        advice = with_mapping(thought.advice, self.board, self.book.copper, thought.diagnosis, skipped)
        return Thought(thought.diagnosis, advice)

    @property
    def board(self) -> Board:
        """The board as far as it is known."""
        return self.book.board

    @property
    def facts(self) -> Facts:
        """All that was seen, measured and done."""
        return self.book.facts

    @property
    def cautions(self) -> tuple[Notice, ...]:
        """What to mind as the board stands now, whatever is done next."""
        return in_force(self.board, self.facts)

    @property
    def diagnosis(self) -> Diagnosis:
        """Suspects, groups, claims."""
        return self.thought.diagnosis

    @property
    def advice(self) -> Advice:
        """What to do next."""
        return self.thought.advice

    @property
    def sequence(self) -> int:
        """Number of the last event. [1]"""
        return self.book.sequence


_OPEN_BOOKS: WeakKeyDictionary[CaseStore, dict[str, Casebook]] = WeakKeyDictionary()
"""Cases as they were last read from each store: events are only ever added, so only new ones have to be read."""
MOST_OPEN = 8
"""Cases kept open for one store. [1]"""


def book_of(desk: Desk, case: str) -> Casebook:
    """The case as it stands, without asking the engine."""
    held = _OPEN_BOOKS.setdefault(desk.store, {}).get(case)
    if held is None:
        return _kept(desk, case, casebook_of(desk.store.events(case)))
    for event in desk.store.events(case, held.sequence):
        held = casebook_after(held, event)
    return _kept(desk, case, held)


def _kept(desk: Desk, case: str, book: Casebook) -> Casebook:
    books = _OPEN_BOOKS.setdefault(desk.store, {})
    books.pop(case, None)
    while len(books) >= MOST_OPEN:
        books.pop(next(iter(books)), None)
    books[case] = book
    return book


def view_of(desk: Desk, case: str) -> CaseView:
    """The case as it stands, with what the engine makes of it."""
    return thought_through(desk, case, book_of(desk, case))


def thought_through(desk: Desk, case: str, book: Casebook) -> CaseView:
    """A casebook with the engine's diagnosis and advice."""
    return CaseView(case, book, desk.engine)


def record(desk: Desk, case: str, *entries: Entry, expected: int | None = None) -> Casebook:
    """Check entries one after the other, write them together, and return the case after them.

    Parameters
    ----------
    expected : int or None
        Sequence number the caller had seen; None takes the case as it stands. [1]
    """
    book = book_of(desk, case)
    if expected is not None and expected != book.sequence:
        raise CaseConflictError(
            f"The case {case!r} went on to event {book.sequence} since you looked at it (event {expected}).",
            hint="look at it again, then enter it again if it still holds",
        )
    start, new = book.sequence, []
    for entry in entries:
        check_entry(book, entry)
        new.append(Event(book.sequence + 1, desk.now(), desk.author, entry))
        book = casebook_after(book, new[-1])
    desk.store.append(case, start, new)
    return _kept(desk, case, book)
