"""The case as plain data for the page."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from enum import Enum
from math import isfinite
from typing import Any

from ohmwright.api import Case
from ohmwright.quantities import format_quantity
from ohmwright.usecases.desk import CaseView
from ohmwright.usecases.entry_words import entry_words
from ohmwright.usecases.map_board import is_unnamed

CHANGES_STATE = {
    "part-taken-off", "part-refitted", "part-replaced", "part-cleaned", "part-reflowed", "bridged", "feed-set",
    "feed-off", "discharged",
}  # fmt: skip
"""Events after which the board stands otherwise than before."""
NOT_SHOWN = {"case-opened", "undone"}


def plain(value: object) -> Any:
    """A value as JSON data; what JSON has no figures for becomes null."""
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, float):
        return value if isfinite(value) else None
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, frozenset):
        return sorted((plain(item) for item in value), key=str)
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    return value


def board_plain(view: CaseView) -> dict[str, Any]:
    """Parts with their places and pins, and the nets."""
    board = view.board
    return {
        "name": board.name,
        "ground": board.ground,
        "entries": list(board.entries),
        "nets": [
            {"name": net.name, "rail": net.rail, "nominal": net.nominal, "named": not is_unnamed(net.name)}
            for net in board.nets
        ],
        "parts": [
            {
                "name": part.name, "kind": part.kind, "package": part.package, "marking": part.marking,
                "place": plain(part.place),
                "pins": [
                    {"number": pin.number, "net": pin.net, "role": pin.role or pin.name, "name": pin.name}
                    for pin in part.pins
                ],
            }
            for part in board.parts
        ],
    }  # fmt: skip


def known_plain(view: CaseView, case: Case) -> list[dict[str, Any]]:
    """What was entered, in order: words, points, and where the board's state changed."""
    shown = []
    for event, line in zip(view.book.events, case.book(), strict=True):
        kind = getattr(type(event.what), "kind", "")
        if kind in NOT_SHOWN:
            continue
        what = getattr(event.what, "now", event.what)
        named = (getattr(what, name, "") for name in ("red", "black", "part", "a", "b", "pad"))
        names = [getattr(name, "name", name) for name in named]  # a part laid on the map is there whole
        shown.append({
            "sequence": event.sequence, "key": event.key, "kind": kind, "text": entry_words(event.what),
            "at": event.at, "undone": line["undone"], "lost": line["no_longer_holds"],
            "points": [name for name in (*names, *_parts_of(what)) if name],
            "reading": kind == "reading-recorded", "breaks": kind in CHANGES_STATE,
        })  # fmt: skip
    return shown


def _parts_of(what: object) -> tuple[str, ...]:
    """Names of the parts an entry tells of; a whole board that was laid lights none of them."""
    return tuple(part for part in getattr(what, "parts", ()) if isinstance(part, str))


def bench_plain(view: CaseView) -> dict[str, Any]:
    """How the board stands on the bench."""
    facts = view.facts
    state = facts.state
    battery = any(entry.battery_off for entry in facts.entries)
    feed = state.feed
    return {
        "feed": plain(feed),
        "last_feed": plain(None if facts.last_fed is None else facts.last_fed.feed),
        "feed_words": "" if feed is None else (
            f"{format_quantity(feed.volts, 'V')} at {feed.plus}, limit {format_quantity(feed.limit, 'A')}"
        ),
        "off": sorted(state.off),
        "replaced": sorted(state.replaced),
        "cleaned": sorted(state.cleaned),
        "bridges": [list(pair) for pair in sorted(state.bridges)],
        "discharged": facts.discharged,
        "cautions": [plain(notice) for notice in view.cautions],
        "battery": "battery out" if battery else "battery not known to be out",
        "entries": [
            {"net": e.net, "volts": e.label_volts, "polarity": e.polarity_measured, "battery_off": e.battery_off}
            for e in facts.entries
        ],
        "amps": next((
            format_quantity(r.value, "A") for r in reversed(facts.readings)
            if r.quantity.value == "supply amps" and r.state == state and r.value is not None
        ), ""),
    }  # fmt: skip
