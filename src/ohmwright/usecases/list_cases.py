"""The cases in the store."""

from __future__ import annotations

from dataclasses import dataclass

from ohmwright.usecases.desk import Desk


@dataclass(frozen=True, slots=True)
class CaseLine:
    """One case in the list. `entries` counts its events. [1]"""

    name: str
    opened_at: str
    entries: int


def list_cases(desk: Desk) -> tuple[CaseLine, ...]:
    """All cases, the newest first."""
    return tuple(CaseLine(*row) for row in desk.store.cases())
