"""Record that the same part went back on."""

from __future__ import annotations

from ohmwright.casebook.events import PartRefitted
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through


def refit(desk: Desk, case: str, part: str, *, expected: int | None = None) -> CaseView:
    """Record that the same part went back on."""
    return thought_through(desk, case, record(desk, case, PartRefitted(part), expected=expected))
