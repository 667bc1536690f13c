"""Cases that live as long as the program, for a script that wants an answer and no file."""

from __future__ import annotations

from collections.abc import Sequence

from ohmwright.casebook import Event, Happening
from ohmwright.errors import CaseConflictError, UnknownNameError


class MemoryCases:
    """The same promises as `CaseFile`, but for durability."""

    def __init__(self) -> None:
        self._events: dict[str, list[Event]] = {}

    def open_case(self, name: str, at: str, author: str, what: Happening) -> None:
        """Begin a case with its first event."""
        if name in self._events:
            raise CaseConflictError(f"There is a case called {name!r} already.", hint="choose another name")
        self._events[name] = [Event(1, at, author, what)]

    def append(self, name: str, expected: int, new: Sequence[Event]) -> None:
        """Add events after the one numbered `expected`. [1]"""
        held = self._held(name)
        if held[-1].sequence != expected:
            raise CaseConflictError(f"Somebody else wrote to the case {name!r} first.", hint="look at it again")
        held.extend(new)

    def events(self, name: str, after: int = 0) -> tuple[Event, ...]:
        """All events of a case, in order; or those after the one numbered `after`. [1]"""
        held = self._held(name)
        return tuple(held[after:])  # numbered from 1, without a gap

    def cases(self) -> tuple[tuple[str, str, int], ...]:
        """Name, time of opening and number of events of each case, newest first."""
        return tuple((name, held[0].at, held[-1].sequence) for name, held in reversed(self._events.items()))

    def _held(self, name: str) -> list[Event]:
        if name not in self._events:
            raise UnknownNameError.among("case", name, self._events)
        return self._events[name]
