"""Bring a part that lies the wrong way round to lie right, and what was entered at its pads along with it.

Whoever held a probe on a pad held it on a place of the board. Once the part lies right another pin is at that place,
so entries are put right to name that one; what rests on a pin's name instead of a place stays as it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any

from ohmwright.boardmap import mirrored, shifted
from ohmwright.boardmap.orientation import pins_around, ways_round
from ohmwright.boardmap.righting import righting
from ohmwright.casebook import Amended, Casebook, Entry, Event, Happening, casebook_after
from ohmwright.casebook.events import PartMapped, PartPlaced, PinNamed
from ohmwright.circuit import Part, Pin
from ohmwright.errors import CaseConflictError, DataError
from ohmwright.usecases.check_turns import turns_checked
from ohmwright.usecases.desk import CaseView, Desk, book_of, thought_through

BY_NUMBER = (PinNamed, PartMapped, PartPlaced)
"""Entries that tell of a pin whatever place it is at."""


def right_part(desk: Desk, case: str, name: str, *, expected: int | None = None) -> CaseView:
    """Turn and mirror a part as the doubt about it says; entries at its pads follow the places they were made at."""
    book = book_of(desk, case)
    if expected is not None and expected != book.sequence:
        raise CaseConflictError(f"The case {case!r} went on since you looked at it.", hint="look at it again")
    doubt = next((one for one in turns_checked(desk, case) if one.part == name and one.moves), None)
    if doubt is None:
        raise DataError(f"Nothing says how {name} would lie right.", hint="turn or mirror it by hand")
    part, pads = book.board.part(name), book.chart.pads_of(name)
    assert part.place is not None
    around, order = pins_around(part), ways_round(len(part.pins))[doubt.turn]
    at = {pad.pin: pad for pad in pads}
    move = righting(part.place, [at[pin.number] for pin in around], order)
    assert move is not None
    there = mirrored(part.place, pads).pads if move[0] else pads
    seating = shifted(part.place, there, 0.0, 0.0, move[1])
    pins = tuple(Pin(pin.number, None, pin.role) for pin in part.pins)
    moved = Part(part.name, part.kind, pins, part.value, part.package, place=seating.place, marking=part.marking)
    # The pin that now has the place of pad k is the one that belonged there.
    renamed = {f"{name}.{around[k].number}": f"{name}.{around[i].number}" for i, k in enumerate(order)}
    changes: list[Happening] = [PartMapped(moved, seating.pads)]
    changes += [
        Amended(entry.event.sequence, now)
        for entry in book.counted if (now := at_places(entry.what, renamed)) != entry.what
    ]  # fmt: skip
    return thought_through(desk, case, _written(desk, case, book, changes))


def at_places(entry: Entry, renamed: Mapping[str, str]) -> Entry:
    """An entry with the pads it names called by what they are called now; one by name or number stays."""
    if isinstance(entry, BY_NUMBER) or getattr(entry, "reason", "") == "name":
        return entry
    told = {field.name: getattr(entry, field.name) for field in fields(entry)}
    pads = {key: value for key, value in told.items() if isinstance(value, str) and value in renamed}
    new: dict[str, Any] = {key: renamed[value] for key, value in pads.items()}
    return replace(entry, **new) if new else entry


def _written(desk: Desk, case: str, book: Casebook, changes: list[Happening]) -> Casebook:
    """All of it together or nothing."""
    start, lost, events = book.sequence, {one.sequence for one in book.orphans}, []
    for change in changes:
        events.append(Event(book.sequence + 1, desk.now(), desk.author, change))
        book = casebook_after(book, events[-1])
    fresh = [one for one in book.orphans if one.sequence not in lost]
    if fresh:
        raise DataError(
            f"What was entered at its pads does not go with that: {fresh[0].why}",
            hint="take that back first, or turn the part by hand and read its pins anew",
        )
    desk.store.append(case, start, events)
    return book
