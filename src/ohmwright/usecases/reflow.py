"""Record that the joints of a part were melted again."""

from __future__ import annotations

from ohmwright.casebook.events import PartReflowed
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through
from ohmwright.usecases.hand_work import may_work


def reflow(desk: Desk, case: str, part: str, *, expected: int | None = None) -> CaseView:
    """Record that the joints of a part were melted again."""
    may_work(desk, case, "reflow")
    return thought_through(desk, case, record(desk, case, PartReflowed(part), expected=expected))
