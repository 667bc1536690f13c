"""Record that the supply was switched off."""

from __future__ import annotations

from ohmwright.casebook.events import FeedOff
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through


def feed_off(desk: Desk, case: str, *, expected: int | None = None) -> CaseView:
    """Record that the supply was switched off."""
    return thought_through(desk, case, record(desk, case, FeedOff(), expected=expected))
