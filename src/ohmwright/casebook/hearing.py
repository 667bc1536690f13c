"""What the entries of a case say of its copper: which pads beep with which, and which parts conduct between."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ohmwright.boardmap.copper import Conductors, Copper, Heard, copper_of
from ohmwright.casebook import events as happened
from ohmwright.casebook.timeline import Counted
from ohmwright.circuit import Board, Part
from ohmwright.devices import METAL
from ohmwright.facts import Quantity

BLOCKS = frozenset(
    {"capacitor", "polymer", "resistor", "diode", "schottky", "led", "tvs", "tvs-two-way", "crystal"}
)
"""Kinds of two pads that stand between two nets."""
TRUSTED = frozenset({"sight", "name"})
"""Reasons of a join that rests on no tester: an eye followed the copper, or the datasheet names the pin so."""
SILENT_OHMS = 100.0
"""Resistance above which no continuity tester beeps. [Ω] common practice, no source: most stop at 30 to 70"""
SILENT_DROP = 0.25
"""Drop in diode mode above which two pads are not one copper. [V] one milliampere makes millivolts in copper"""


def copper_in(line: Iterable[Counted], opened: Board) -> Copper:
    """What all entries of a case say of its copper."""
    entries = tuple(line)
    return copper_of(heard_in(entries, opened.ground), *barriers_in(entries, opened))


def copper_after(copper: Copper, line: Sequence[Counted], opened: Board) -> Copper:
    """The copper after the last entry of the line, from that before it."""
    last = line[-1]
    if isinstance(last.what, _PLACES):
        copper = _with_place(copper, line, opened)
    off = _off(line[:-1]) if isinstance(last.what, happened.ReadingRecorded) else frozenset()
    for one in _heard(last, opened.ground, off):
        copper = copper.with_heard(one)
    return copper


def _with_place(copper: Copper, line: Sequence[Counted], opened: Board) -> Copper:
    """The copper once a part is on the map, or off it. A part of a new name needs no look at all the others."""
    what = line[-1].what
    known = {name for name, _, _ in (*copper.conductors, *copper.walls)}
    if not isinstance(what, happened.PartMapped) or what.part.name in known:
        return copper.with_barriers(*barriers_in(line, opened))
    more = [_ends(what.part)] if len(what.part.pins) == 2 else []
    return copper.with_barriers(
        tuple(sorted((*copper.conductors, *(more if conducts(what.part) else ())))),
        tuple(sorted((*copper.walls, *(more if blocks(what.part) else ())))),
    )


def heard_in(line: Iterable[Counted], ground: str) -> tuple[Heard, ...]:
    """All that was heard, one for each entry that says so."""
    off: frozenset[str] = frozenset()
    found: list[Heard] = []
    for entry in line:
        found += _heard(entry, ground, off)
        off = _off_after(off, entry)
    return tuple(found)


def barriers_in(line: Iterable[Counted], opened: Board) -> tuple[Conductors, Conductors]:
    """Parts of two pads as they were described last: those that conduct at DC, and those that block."""
    parts = {part.name: part for part in opened.parts}
    for entry in line:
        what = entry.what
        if isinstance(what, happened.PartMapped | happened.PartPlaced):
            parts[what.part.name] = what.part
        elif isinstance(what, happened.BoardLaid):
            parts |= {part.name: part for part in what.parts}
        elif isinstance(what, happened.PartErased):
            parts.pop(what.part, None)
    ends = [[_ends(part) for part in parts.values() if fits(part)] for fits in (conducts, blocks)]
    return tuple(sorted(ends[0])), tuple(sorted(ends[1]))


def _ends(part: Part) -> tuple[str, str, str]:
    return part.name, f"{part.name}.{part.pins[0].number}", f"{part.name}.{part.pins[1].number}"


def conducts(part: Part) -> bool:
    """Whether a beep may come through a part from one pad to the other."""
    return part.kind in METAL and len(part.pins) == 2


def blocks(part: Part) -> bool:
    """Whether a part would be without use if both its pads were one copper."""
    return part.kind in BLOCKS and len(part.pins) == 2


_PLACES = (happened.PartMapped, happened.PartPlaced, happened.PartErased, happened.BoardLaid)


def _heard(entry: Counted, ground: str, off: frozenset[str]) -> list[Heard]:
    what, sequence = entry.what, entry.event.sequence
    match what:
        case happened.PadsJoined() if what.a != what.b:
            return [Heard(what.a, what.b, True, sequence, what.reason in TRUSTED)]
        case happened.PadsApart() if what.a != what.b:
            return [Heard(what.a, what.b, False, sequence)]
        case happened.NetTold() if what.ground:
            return [Heard(what.pad, ground, True, sequence, True)]
        case happened.ReadingRecorded() if not off and _is_silent(what):
            ends = {what.red, what.black}
            if len(ends) == 2 and all("." in end or end == ground for end in ends):
                return [Heard(what.red, what.black, False, sequence)]
    return []


def _is_silent(what: happened.ReadingRecorded) -> bool:
    """Whether a reading shows two points to be no one copper: with a part off nothing is said here."""
    most = {Quantity.OHMS: SILENT_OHMS, Quantity.DIODE: SILENT_DROP}.get(what.quantity)
    return most is not None and (what.value is None or abs(what.value) > most)


def _off(line: Iterable[Counted]) -> frozenset[str]:
    off: frozenset[str] = frozenset()
    for entry in line:
        off = _off_after(off, entry)
    return off


def _off_after(off: frozenset[str], entry: Counted) -> frozenset[str]:
    match entry.what:
        case happened.PartTakenOff():
            return off | {entry.what.part}
        case happened.PartRefitted() | happened.PartReplaced():
            return off - {entry.what.part}
    return off
