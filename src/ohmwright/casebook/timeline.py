"""Which events of a case count, and in which order, once undos and amendments are worked in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ohmwright.casebook.events import Amended, CaseOpened, Entry, Event, Undone


@dataclass(frozen=True, slots=True)
class Counted:
    """An entry that counts.

    Parameters
    ----------
    event : Event
        The line it stands on; for an amended entry that of the amendment, so that reasons cite what was said last.
    what : Entry
    origins : tuple of int
        Sequence numbers it took the place of, oldest first, its own last. [1]
    """

    event: Event
    what: Entry
    origins: tuple[int, ...]


def undone_sequences(events: Sequence[Event]) -> frozenset[int]:
    """Sequence numbers of events that count no more.

    Read from the end: an undo that was itself undone later undoes nothing.
    """
    dead: set[int] = set()
    for event in reversed(events):
        if isinstance(event.what, Undone) and event.sequence not in dead:
            dead.add(event.what.sequence)
    return frozenset(dead)


def counted_entries(events: Sequence[Event]) -> tuple[Counted, ...]:
    """The entries that count, in the order in which they took effect at the bench."""
    dead = undone_sequences(events)
    line: list[Counted] = []
    for event in events:
        what = event.what
        if event.sequence in dead or isinstance(what, Undone | CaseOpened):
            continue
        if isinstance(what, Amended):
            _amend(line, event, what)
        else:
            line.append(Counted(event, what, (event.sequence,)))
    return tuple(line)


def _amend(line: list[Counted], event: Event, amendment: Amended) -> None:
    """Work one amendment into the line: in place, or just before the event it names."""
    old = next((n for n, entry in enumerate(line) if amendment.sequence in entry.origins), None)
    if amendment.sequence and old is None:
        return  # what it put right was undone: nothing is left to put right
    origins = (*line[old].origins, event.sequence) if old is not None else (event.sequence,)
    new = Counted(event, amendment.now, origins)
    if old is not None:
        line[old] = new
    if not amendment.position:
        if old is None:
            line.append(new)
        return
    if old is not None:
        del line[old]
    place = next((n for n, entry in enumerate(line) if amendment.position in entry.origins), len(line))
    line.insert(place, new)
