"""Record what the eye saw at parts."""

from __future__ import annotations

from ohmwright.casebook.events import LookRecorded
from ohmwright.facts import LookFinding
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through


def record_look(
    desk: Desk, case: str, parts: tuple[str, ...], finding: LookFinding, *, expected: int | None = None
) -> CaseView:
    """Record what the eye saw at parts."""
    return thought_through(desk, case, record(desk, case, LookRecorded(parts, finding), expected=expected))
