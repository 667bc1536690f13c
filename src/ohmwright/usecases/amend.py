"""Put an entry right, or put in what was forgotten, at its place in the order of the bench."""

from __future__ import annotations

from ohmwright.casebook import Amended, Entry, Event, casebook_after
from ohmwright.errors import DataError, UnknownNameError
from ohmwright.usecases.desk import CaseView, Desk, book_of, thought_through


def amend(desk: Desk, case: str, sequence: int, now: Entry, *, position: int = 0) -> CaseView:
    """Let `now` stand in place of an event, or, with 0, put it in just before event `position`. [1]"""
    book = book_of(desk, case)
    known = {n for entry in book.counted for n in entry.origins} | {o.sequence for o in book.orphans}
    for number in (sequence, position):
        if number and number not in known:
            raise UnknownNameError.among("entry that counts", f"e{number}", [f"e{n}" for n in known])
    event = Event(book.sequence + 1, desk.now(), desk.author, Amended(sequence, now, position))
    after = casebook_after(book, event)
    own = next((o for o in after.orphans if o.sequence == event.sequence), None)
    if own is not None:
        raise DataError(f"That cannot be put in there: {own.why}", hint="check the place and the points")
    desk.store.append(case, book.sequence, [event])
    return thought_through(desk, case, after)
