"""Record that a new part was fitted."""

from __future__ import annotations

from ohmwright.casebook.events import PartReplaced
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through


def replace_part(desk: Desk, case: str, part: str, *, expected: int | None = None) -> CaseView:
    """Record that a new part was fitted."""
    return thought_through(desk, case, record(desk, case, PartReplaced(part), expected=expected))
