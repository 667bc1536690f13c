"""Take an entry back. Nothing is erased: the undo is an event of its own."""

from __future__ import annotations

from ohmwright.casebook import CaseOpened, Event, Undone, casebook_after
from ohmwright.errors import DataError, UnknownNameError
from ohmwright.usecases.desk import CaseView, Desk, book_of, thought_through


def undo(desk: Desk, case: str, sequence: int | None = None) -> CaseView:
    """Undo the event of that number, by default the last one that still counts. [1]"""
    book = book_of(desk, case)
    target = sequence if sequence is not None else _last(book.events, book.undone)
    found = next((e for e in book.events if e.sequence == target), None)
    if found is None:
        raise UnknownNameError.among("event", f"e{target}", [e.key for e in book.events])
    if isinstance(found.what, CaseOpened):
        raise DataError("The opening of a case cannot be undone.", hint="open another case")
    if target in book.undone:
        raise DataError(f"e{target} is undone already.", hint="undo the undo to bring it back")
    event = Event(book.sequence + 1, desk.now(), desk.author, Undone(found.sequence))
    after = casebook_after(book, event)
    desk.store.append(case, book.sequence, [event])
    return thought_through(desk, case, after)


def _last(events: tuple[Event, ...], undone: frozenset[int]) -> int:
    for event in reversed(events):
        if event.sequence not in undone and not isinstance(event.what, CaseOpened | Undone):
            return event.sequence
    raise DataError("There is nothing to undo.", hint="the case holds no entry that still counts")
