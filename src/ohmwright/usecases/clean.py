"""Record that a part, or the copper of a net, was cleaned."""

from __future__ import annotations

from ohmwright.casebook.events import PartCleaned
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through
from ohmwright.usecases.hand_work import may_work


def clean(desk: Desk, case: str, part: str, *, expected: int | None = None) -> CaseView:
    """Record that a part, or the copper of a net, was cleaned."""
    may_work(desk, case, "clean")
    return thought_through(desk, case, record(desk, case, PartCleaned(part), expected=expected))
