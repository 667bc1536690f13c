"""Record what is known of a power entry before its first feed."""

from __future__ import annotations

from ohmwright.casebook.events import EntryDescribed
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through
from ohmwright.usecases.hand_work import may_enter


def describe_entry(desk: Desk, case: str, entry: EntryDescribed, *, expected: int | None = None) -> CaseView:
    """Record what is known of a power entry before its first feed."""
    may_enter(entry.label_volts)
    return thought_through(desk, case, record(desk, case, entry, expected=expected))
