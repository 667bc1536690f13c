"""A case of the small board on a desk of its own, as several tests begin with."""

from __future__ import annotations

from pathlib import Path

from ohmwright.bootstrap import desk_at
from ohmwright.casebook.events import EntryDescribed
from ohmwright.usecases import open_case
from ohmwright.usecases.desk import Desk, record
from tests.small_board import small_board


def desk_with_case(folder: Path) -> Desk:
    """A desk with the case "c" of the board, its battery out and its entry known."""
    desk = desk_at(folder / "cases.sqlite")
    open_case(desk, "c", small_board())
    record(desk, "c", EntryDescribed("VIN", 12.0, True, True))
    return desk
