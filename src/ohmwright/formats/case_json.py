"""A case as one JSON file, so that another program can start one, hand in readings, and take it on.

Described in ``docs/case-format.md`` and ``docs/case.schema.json``. A file comes from elsewhere: its size,
its nesting and every field are checked before anything is made of it.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ohmwright.casebook import Amended, CaseOpened, Entry, Undone, happening_from_json, json_of
from ohmwright.casebook.events import EntryDescribed, SymptomTold
from ohmwright.circuit import Board
from ohmwright.errors import FileFormatError, ReadingError, UnknownNameError
from ohmwright.facts import Symptom
from ohmwright.formats.board_json import board_from_json, board_to_json
from ohmwright.formats.json_text import check_depth, refuse_constant
from ohmwright.quantities import is_overload, parse_quantity

FORMAT = "ohmwright-case"
LARGEST = 16_000_000
"""Bytes in one file. [B]"""
DEEPEST = 40
"""Levels of brackets in one file. [1]"""
MOST_ENTRIES = 20_000
"""Entries in one case. [1]"""
SHORT = {
    "reading": "reading-recorded", "look": "look-recorded", "heat": "heat-recorded", "took off": "part-taken-off",
    "refitted": "part-refitted", "replaced": "part-replaced", "cleaned": "part-cleaned",
    "reflowed": "part-reflowed", "fed": "feed-set", "feed off": "feed-off", "discharged": "discharged",
    "tried": "board-tried", "entry": "entry-described", "symptom": "symptom-told",
}  # fmt: skip
"""Short names of kinds, for files written by hand."""


@dataclass(frozen=True, slots=True)
class CaseStart:
    """What a case file says: a board, and what happened since, in order."""

    name: str
    board: Board
    entries: tuple[Entry, ...] = ()


def read_case_json(path: Path) -> CaseStart:
    """The case in that file."""
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST + 1)
    except OSError as error:
        raise FileFormatError(
            "The case file cannot be read.", where=str(path), why=str(error.strerror), hint="check the name"
        ) from error
    return case_from_text(raw, where=str(path))


def case_from_text(raw: bytes, *, where: str = "case file") -> CaseStart:
    """The case written in that JSON text."""
    if len(raw) > LARGEST:
        raise FileFormatError(f"More than {LARGEST} bytes.", where=where, hint="hand over one case per file")
    check_depth(raw, DEEPEST, where)
    try:
        data = json.loads(raw.decode("utf-8"), parse_constant=refuse_constant)
    except (ValueError, RecursionError) as error:
        raise FileFormatError(
            "This is not JSON.", where=where, why=str(error), hint="compare it with the example in docs/case-format.md"
        ) from error
    return case_from_json(data, where=where)


def case_from_json(data: Any, *, where: str = "case file") -> CaseStart:
    """The case written as that plain data."""
    if not isinstance(data, dict):
        raise FileFormatError("A case file must hold one object.", where=where)
    known = ("format", "version", "name", "board", "symptom", "entries", "happened")
    for name in data:
        if name not in known:
            raise UnknownNameError.among("field", str(name)[:80], known, where=where)
    if data.get("format") != FORMAT or data.get("version") != 1:
        raise FileFormatError(
            "This does not say that it is a case file of version 1.",
            where=where, hint=f'begin with {{"format": "{FORMAT}", "version": 1, ...}}',
        )  # fmt: skip
    if "board" not in data:
        raise FileFormatError("There is no board.", where=where, hint="describe its parts, pins and nets")
    board = board_from_json(data["board"])
    name = data.get("name", board.name)
    if not isinstance(name, str):
        raise FileFormatError("The name must be a text.", where=f"{where}: name")
    return CaseStart(name, board, tuple(_entries(data, where)))


def case_to_json(name: str, board: Board, entries: Sequence[Entry]) -> dict[str, Any]:
    """The plain data of a case, which `case_from_json` reads back."""
    return {
        "format": FORMAT, "version": 1, "name": name, "board": board_to_json(board),
        "happened": [json_of(entry) for entry in entries],
    }  # fmt: skip


def _entries(data: dict[str, Any], where: str) -> list[Entry]:
    found: list[Entry] = []
    if "symptom" in data:
        known = [s.value for s in Symptom]
        if data["symptom"] not in known:
            raise UnknownNameError.among("symptom", str(data["symptom"])[:80], known, where=f"{where}: symptom")
        found.append(SymptomTold(Symptom(data["symptom"])))
    for n, item in enumerate(_list(data, "entries", where)):
        found.append(_entry({**_object(item, f"{where}: entries[{n}]"), "kind": "entry"}, f"{where}: entries[{n}]"))
    for n, item in enumerate(_list(data, "happened", where)):
        place = f"{where}: happened[{n}]"
        found.append(_entry(_object(item, place), place))
    return found


def entry_from_json(item: Any, *, where: str = "entry") -> Entry:
    """One thing that happened, with a short or a full name of its kind."""
    return _entry(_object(item, where), where)


def _entry(item: dict[str, Any], where: str) -> Entry:
    kind = item.get("kind")
    full = SHORT.get(kind, kind) if isinstance(kind, str) else kind
    shaped = {**item, "kind": full}
    if full == "reading-recorded":
        shaped |= {"value": _number(item.get("value"), where), "version": 2}
    happening = happening_from_json(shaped, where=where)
    if isinstance(happening, CaseOpened | Undone | Amended):
        raise FileFormatError(f"{kind!r} has no place in a case file.", where=where, hint="list what counts, in order")
    if isinstance(happening, EntryDescribed) and happening.label_volts is not None and happening.label_volts < 0:
        raise FileFormatError("The label's volts are negative.", where=where)
    return happening


def _number(value: Any, where: str) -> float | None:
    """A reading's figures: a number, a text such as ``4k7``, or ``OL``."""
    if value is None:
        return None
    if isinstance(value, str):
        try:
            return None if is_overload(value) else parse_quantity(value[:80])
        except ReadingError as error:
            raise ReadingError(error.what, where=f"{where}.value", why=error.why, hint=error.hint) from error
    if type(value) in (int, float):
        return float(value)
    raise FileFormatError("A reading's value must be a number, a text or null.", where=f"{where}.value")


def _list(data: dict[str, Any], name: str, where: str) -> list[Any]:
    found = data.get(name, [])
    if not isinstance(found, list) or len(found) > MOST_ENTRIES:
        raise FileFormatError(f"{name!r} must be a list of at most {MOST_ENTRIES}.", where=where)
    return found


def _object(item: Any, where: str) -> dict[str, Any]:
    if not isinstance(item, dict):
        raise FileFormatError("Expected an object.", where=where)
    return item
