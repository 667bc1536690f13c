"""Record what the board does."""

from __future__ import annotations

from ohmwright.casebook.events import SymptomTold
from ohmwright.facts import Symptom
from ohmwright.usecases.desk import CaseView, Desk, record, thought_through


def tell_symptom(desk: Desk, case: str, symptom: Symptom, *, expected: int | None = None) -> CaseView:
    """Record what the board does."""
    return thought_through(desk, case, record(desk, case, SymptomTold(symptom), expected=expected))
