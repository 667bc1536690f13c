"""Record that the board was tried, and whether it works."""

from __future__ import annotations

from ohmwright.casebook.events import BoardTried
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through


def tried(desk: Desk, case: str, works: bool, *, expected: int | None = None) -> CaseView:
    """Record that the board was tried, and whether it works."""
    return thought_through(desk, case, record(desk, case, BoardTried(works), expected=expected))
