"""Record that a new part was fitted."""

from __future__ import annotations

from ohmwright.casebook.events import PartReplaced
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through
from ohmwright.usecases.hand_work import may_work


def replace_part(desk: Desk, case: str, part: str, *, expected: int | None = None) -> CaseView:
    """Record that a new part was fitted."""
    may_work(desk, case, "replace")
    return thought_through(desk, case, record(desk, case, PartReplaced(part), expected=expected))
