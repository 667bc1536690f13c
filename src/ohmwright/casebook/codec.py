"""Events, and any other of our frozen values, to plain JSON data and back.

Reading is strict: a missing or unknown field, a wrong type or too deep a nesting is a named error, because
case files come from elsewhere. Old versions are brought up step by step and load for ever.
"""

from __future__ import annotations

import dataclasses
import math
import types
import typing
from enum import StrEnum
from functools import cache
from typing import Any

from ohmwright.casebook.events import KINDS, Event, Happening
from ohmwright.errors import FileFormatError, UnknownNameError

DEEPEST = 24
"""Levels of nesting that any of our values needs, with room to spare. [1]"""
LONGEST_TEXT = 20_000
"""Characters in one text. [1]"""
LONGEST_LIST = 100_000
"""Entries in one list. [1]"""


def json_of(value: object) -> Any:
    """Plain data (dicts, lists, texts, numbers) of one of our values. An event's content carries its kind."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        kind = type(value)
        head = {"kind": _word(kind), "version": _version(kind)} if kind in _EVENT_TYPES else {}
        return head | {f.name: json_of(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, StrEnum):
        return value.value
    if isinstance(value, frozenset | set):
        return sorted(json_of(item) for item in value)
    if isinstance(value, tuple | list):
        return [json_of(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def happening_from_json(data: Any, *, where: str = "", depth: int = 0) -> Happening:
    """What happened, from plain data with its ``kind`` and ``version``.

    Raises
    ------
    FileFormatError
        Saying which field is wrong, and how.
    """
    if not isinstance(data, dict) or not isinstance(data.get("kind"), str):
        raise FileFormatError("An event without a kind.", where=where, hint='give {"kind": ..., "version": 1, ...}')
    kind, version = data["kind"], data.get("version", 1)
    if kind not in KINDS:
        raise UnknownNameError.among("kind of event", kind, KINDS, where=where)
    current = _version(KINDS[kind])
    if type(version) is not int or not 1 <= version <= current:
        raise FileFormatError(
            f"Version {version!r} of the event {kind!r} is not known here.",
            where=where, why=f"this program knows versions 1 to {current}", hint="use a newer ohmwright",
        )  # fmt: skip
    body = {key: item for key, item in data.items() if key not in ("kind", "version")}
    for step in range(version, current):
        body = _UPWARD[kind, step](body)
    made: Happening = value_from_json(KINDS[kind], body, where=where or kind, depth=depth)
    return made


def event_from_json(data: Any, *, where: str = "") -> Event:
    """One whole line of a case from plain data."""
    if not isinstance(data, dict):
        raise FileFormatError("An event must be an object.", where=where)
    head = {key: item for key, item in data.items() if key != "what"}
    what = happening_from_json(data.get("what"), where=where)
    if set(head) != {"sequence", "at", "author"} or type(head["sequence"]) is not int:
        raise FileFormatError("An event needs sequence, at, author and what.", where=where)
    return Event(head["sequence"], str(head["at"])[:64], str(head["author"])[:200], what)


def value_from_json(kind: Any, data: Any, *, where: str = "", depth: int = 0) -> Any:
    """The value of the type `kind` written as `data`; the reverse of `json_of`."""
    if depth > DEEPEST:
        raise FileFormatError("Nested too deeply.", where=where)
    if dataclasses.is_dataclass(kind):
        return _record(kind, data, where, depth)
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        return _one_of(inner, data, where, depth)
    if origin in (tuple, frozenset):
        return _several(origin, inner, data, where, depth)
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        known = [member.value for member in kind]
        if data not in known:
            raise UnknownNameError.among("choice", str(data)[:80], known, where=where)
        return kind(data)
    return _scalar(kind, data, where)


def _record(kind: Any, data: Any, where: str, depth: int) -> Any:
    if not isinstance(data, dict):
        raise FileFormatError(f"Expected an object for {kind.__name__}.", where=where)
    hints = _hints(kind)
    fields = {f.name: f for f in dataclasses.fields(kind)}
    for name in data:
        if name not in fields:
            raise UnknownNameError.among("field", str(name)[:80], fields, where=where)
    for name, f in fields.items():
        if name not in data and f.default is dataclasses.MISSING and f.default_factory is dataclasses.MISSING:
            raise FileFormatError(f"The field {name!r} is missing.", where=where, hint=f"add {name!r}")
    return kind(**{n: value_from_json(hints[n], v, where=f"{where}.{n}", depth=depth + 1) for n, v in data.items()})


def _one_of(inner: tuple[Any, ...], data: Any, where: str, depth: int) -> Any:
    if any(choice in _EVENT_TYPES for choice in inner):
        made = happening_from_json(data, where=where, depth=depth + 1)
        if type(made) not in inner:
            raise FileFormatError(f"An event of the kind {_word(type(made))!r} has no place here.", where=where)
        return made
    if data is None and type(None) in inner:
        return None
    rest = [choice for choice in inner if choice is not type(None)]
    return value_from_json(rest[0], data, where=where, depth=depth + 1)


def _several(origin: Any, inner: tuple[Any, ...], data: Any, where: str, depth: int) -> Any:
    if not isinstance(data, list) or len(data) > LONGEST_LIST:
        raise FileFormatError("Expected a list.", where=where)
    if origin is tuple and inner[-1] is not Ellipsis:
        if len(data) != len(inner):
            raise FileFormatError(f"Expected {len(inner)} entries, found {len(data)}.", where=where)
        kinds: list[Any] = list(inner)
    else:
        kinds = [inner[0]] * len(data)
    return origin(
        value_from_json(kind, item, where=f"{where}[{n}]", depth=depth + 1)
        for n, (kind, item) in enumerate(zip(kinds, data, strict=True))
    )


def _scalar(kind: Any, data: Any, where: str) -> Any:
    if kind is float and type(data) in (int, float) and math.isfinite(data):
        return float(data)
    if kind is not float and type(data) is kind:
        if kind is str and len(data) > LONGEST_TEXT:
            raise FileFormatError("This text is too long.", where=where, hint=f"at most {LONGEST_TEXT} characters")
        return data
    words = {float: "a number", int: "a whole number", bool: "true or false", str: "a text"}
    raise FileFormatError(f"Expected {words.get(kind, kind)}, found {str(data)[:40]!r}.", where=where)


def _word(kind: Any) -> str:
    return str(kind.kind)


def _version(kind: Any) -> int:
    return int(kind.version)


@cache
def _hints(kind: Any) -> dict[str, Any]:
    return typing.get_type_hints(kind)


def _reading_2(body: dict[str, Any]) -> dict[str, Any]:
    """Version 1 did not say how a reading came in."""
    return {**body, "entered": ""}


def _heat_2(body: dict[str, Any]) -> dict[str, Any]:
    """Version 1 knew fingers and no pictures."""
    return {"shares": [], **body}  # a file written by hand says no version


def _with_feed(body: dict[str, Any]) -> dict[str, Any]:
    """Before, heat and millivolts could go on record only while the feed was on."""
    return {"feed": None, **body}


def _laid_2(body: dict[str, Any]) -> dict[str, Any]:
    """Version 1 did not hold the board's edge."""
    return {**body, "outline": []}


_UPWARD: dict[tuple[str, int], Any] = {
    ("reading-recorded", 1): _reading_2, ("heat-recorded", 1): _heat_2, ("heat-recorded", 2): _with_feed,
    ("gradient-recorded", 1): _with_feed, ("board-laid", 1): _laid_2,
}  # fmt: skip
_EVENT_TYPES = frozenset(KINDS.values())
