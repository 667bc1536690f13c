"""Record that a part came off the board."""

from __future__ import annotations

from ohmwright.casebook.events import PartTakenOff
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through
from ohmwright.usecases.hand_work import may_work


def take_off(desk: Desk, case: str, part: str, *, expected: int | None = None) -> CaseView:
    """Record that a part came off the board."""
    may_work(desk, case, "take off")
    return thought_through(desk, case, record(desk, case, PartTakenOff(part), expected=expected))
