"""What a case would know if a value were taken; nothing is written."""

from __future__ import annotations

from ohmwright.casebook import Event, casebook_after
from ohmwright.casebook.events import ReadingRecorded
from ohmwright.circuit import Board
from ohmwright.facts import Facts, Meter, Quantity
from ohmwright.planning.round import Stop
from ohmwright.usecases.desk import Desk, book_of

TAKEN = "taken by itself"
"""How a value came in that the program took. It stands in the record."""


def entry_of(quantity: str, red: str, black: str, value: float | None, meter: Meter) -> ReadingRecorded:
    """The entry for a value that was taken."""
    return ReadingRecorded(Quantity(quantity), red, black, value, meter, TAKEN)


def if_taken(desk: Desk, case: str, stop: Stop, value: float | None, meter: Meter) -> tuple[Board, Facts]:
    """The board and the facts after it."""
    now = book_of(desk, case)
    entry = entry_of(stop.quantity, stop.red, stop.black, value, meter)
    book = casebook_after(now, Event(now.sequence + 1, "", desk.author, entry))
    return book.board, book.facts
