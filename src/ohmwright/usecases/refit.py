"""Record that the same part went back on."""

from __future__ import annotations

from ohmwright.casebook.events import PartRefitted
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through
from ohmwright.usecases.hand_work import may_work


def refit(desk: Desk, case: str, part: str, *, expected: int | None = None) -> CaseView:
    """Record that the same part went back on."""
    may_work(desk, case, "refit")
    return thought_through(desk, case, record(desk, case, PartRefitted(part), expected=expected))
