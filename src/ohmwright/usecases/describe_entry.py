"""Record what is known of a power entry before its first feed."""

from __future__ import annotations

from ohmwright.casebook.events import EntryDescribed
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through


def describe_entry(desk: Desk, case: str, entry: EntryDescribed, *, expected: int | None = None) -> CaseView:
    """Record what is known of a power entry before its first feed."""
    return thought_through(desk, case, record(desk, case, entry, expected=expected))
