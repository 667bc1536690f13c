"""Put on record what a part turned out to be: its number, where that is from, its pins; or how it looks."""

from __future__ import annotations

from collections.abc import Sequence

from ohmwright.casebook.events import Entry, PartIdentified
from ohmwright.errors import UnknownNameError
from ohmwright.partbook.pin_table import PinRow
from ohmwright.partbook.seen import LOOKS
from ohmwright.usecases.desk import CaseView, Desk, book_of, record, thought_through
from ohmwright.usecases.map_board import pins_named


def know_part(
    desk: Desk, case: str, part: str, rows: Sequence[PinRow], number: str, source: str, *, expected: int | None = None
) -> CaseView:
    """Take a part's number and pin names, once somebody has looked them over.

    Parameters
    ----------
    source : str
        Where they are from: a library, or a datasheet with its page.
    """
    board = book_of(desk, case).board
    entries: tuple[Entry, ...] = (
        PartIdentified(part, number.strip()[:80], source.strip()[:200]),
        *pins_named(board, part, rows),
    )
    return thought_through(desk, case, record(desk, case, *entries, expected=expected))


def tell_look(desk: Desk, case: str, part: str, look: str, *, expected: int | None = None) -> CaseView:
    """Take down how an unmarked part looks, in the words of `ohmwright.partbook.seen.LOOKS`."""
    if look not in LOOKS:
        raise UnknownNameError.among("look", look, LOOKS)
    book_of(desk, case).board.part(part)
    return thought_through(desk, case, record(desk, case, PartIdentified(part, look=look), expected=expected))
