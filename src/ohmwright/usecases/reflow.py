"""Record that the joints of a part were melted again."""

from __future__ import annotations

from ohmwright.casebook.events import PartReflowed
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through


def reflow(desk: Desk, case: str, part: str, *, expected: int | None = None) -> CaseView:
    """Record that the joints of a part were melted again."""
    return thought_through(desk, case, record(desk, case, PartReflowed(part), expected=expected))
