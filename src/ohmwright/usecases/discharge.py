"""Record that the board's capacitors were discharged."""

from __future__ import annotations

from ohmwright.casebook.events import Discharged
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through


def discharge(desk: Desk, case: str, *, expected: int | None = None) -> CaseView:
    """Record that the board's capacitors were discharged."""
    return thought_through(desk, case, record(desk, case, Discharged(), expected=expected))
