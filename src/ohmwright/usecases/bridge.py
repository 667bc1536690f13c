"""Record that two points were joined by a wire."""

from __future__ import annotations

from ohmwright.casebook.events import Bridged
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through


def bridge(desk: Desk, case: str, a: str, b: str, *, expected: int | None = None) -> CaseView:
    """Record that two points were joined by a wire."""
    return thought_through(desk, case, record(desk, case, Bridged(a, b), expected=expected))
