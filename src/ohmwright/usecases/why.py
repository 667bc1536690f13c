"""What speaks for and against one suspect."""

from __future__ import annotations

from ohmwright.diagnosis.answer import Suspect
from ohmwright.errors import UnknownNameError
from ohmwright.usecases.desk import CaseView


def why(view: CaseView, name: str) -> tuple[Suspect, ...]:
    """The suspects of that key or that part, most probable first, with their reasons."""
    found = tuple(s for s in view.diagnosis.suspects if name in (s.key, s.part))
    if not found:
        known = [s.part or s.key for s in view.diagnosis.suspects]
        raise UnknownNameError.among("suspect", name, known)
    return found
