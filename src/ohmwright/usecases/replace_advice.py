"""What may take the place of a part of the board: what the board knows of it goes into the margins by itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ohmwright.circuit import Board, Part
from ohmwright.devices import KINDS
from ohmwright.partbook.equations import Design
from ohmwright.partbook.neighbours import Taken, neighbours
from ohmwright.quantities import format_quantity
from ohmwright.usecases.part_book import compare_pins, replace_by

Plain = dict[str, Any]
SURE = 0.5
"""From this probability on a part is taken for its likeliest place. [1]"""
_UNITS = {
    "capacitor": "F", "polymer": "F", "resistor": "Ω", "sense": "Ω", "coil": "H", "fuse": "A", "tvs": "V",
    "tvs-two-way": "V",
}  # fmt: skip


def replacement_for(
    board: Board, name: str, told: Mapping[str, str], stock: Sequence[Mapping[str, Any]] = ()
) -> Plain:
    """What a replacement of a part must be, with what the board says of its place filled in.

    Parameters
    ----------
    told : mapping
        ``kind``, ``rail``, ``value``, ``amps``, ``rated`` as somebody wrote them; what is left empty is taken from
        the board.
    stock : sequence of mapping
        Parts at hand as `ohmwright.usecases.part_book.replace_by` takes them; ``pins`` where they are known.

    Returns
    -------
    dict
        As `replace_by`, with ``given``: each figure used and where it is from.
    """
    part = board.part(name)
    taken = next((entry for entry in neighbours(board) if entry.part == name), None)
    kind = told.get("kind", "") or _kind(part, taken)
    given = _given(board, part, taken, kind, told)
    texts = {key: value for key, (value, _) in given.items()}
    advice = replace_by(
        kind, role=texts["role"], rail=texts["rail"], value=texts["value"], amps=texts["amps"], rated=texts["rated"],
        stock=stock,
    )  # fmt: skip
    own = {pin.number: pin.name or pin.role for pin in part.pins if pin.name or pin.role}
    pins = {(s["name"], s.get("where", "")): s.get("pins") or {} for s in stock}
    for found in advice["at_hand"]:
        other = pins[found["candidate"]["name"], found["candidate"]["where"]]
        found["pins"] = compare_pins(own, other) if own and other else []
        found["pins_compared"] = bool(own and other)
    return {
        **advice, "part": name, "kind": kind, "kind_words": KINDS[kind].words if kind in KINDS else kind,
        "given": [{"name": key, "value": value, "source": source} for key, (value, source) in given.items()],
    }  # fmt: skip


def _kind(part: Part, taken: Taken | None) -> str:
    return taken.kinds[0][0] if part.kind == "unknown-two-pads" and taken and taken.kinds else part.kind


def _given(
    board: Board, part: Part, taken: Taken | None, kind: str, told: Mapping[str, str]
) -> dict[str, tuple[str, str]]:
    role = taken.places[0][0].role.name if taken and taken.places and taken.places[0][1] >= SURE else ""
    known = {
        "role": (role, f"its place beside {taken.places[0][0].chip}" if role and taken else ""),
        "rail": _across(board, part),
        "value": _worth(part, taken, kind),
        "amps": ("", ""),
        "rated": (_written(part.rating.volts, "V"), part.rating.source or "the board"),
    }
    return {
        key: (told.get(key, "").strip(), "you said so") if told.get(key, "").strip() else _sourced(entry)
        for key, entry in known.items()
    }


def _sourced(entry: tuple[str, str]) -> tuple[str, str]:
    return entry if entry[0] else ("", "")


def _across(board: Board, part: Part) -> tuple[str, str]:
    """Most volts across it when all is well, as far as the nominals of its nets tell."""
    volts = [0.0 if net == board.ground else board.net(net).nominal for net in part.nets]
    known = [v for v in volts if v is not None]
    if not known or max(known) <= 0.0:
        return "", ""
    most = max(known) - (min(known) if len(known) == len(volts) and len(volts) == 2 else 0.0)
    if most <= 0.0:
        most = max(known)
    return format_quantity(most, "V"), "the volts of its nets when all is well"


def _worth(part: Part, taken: Taken | None, kind: str) -> tuple[str, str]:
    if part.value is not None:
        return _written(part.value.median, _UNITS.get(kind, "")), part.value.source or "the board"
    place = taken.places[0] if taken and taken.places and taken.places[0][1] >= SURE else None
    worth = place[0].role.worth if place else None
    if place is None or worth is None or place[0].role.usual != kind:
        return "", ""
    spread = worth(Design())
    if spread is None:
        return "", ""
    usual = _written(float(f"{spread.median:.2g}"), _UNITS.get(kind, ""))
    return usual, f"usual for a {place[0].role.name}: measure it"


def _written(value: float | None, unit: str) -> str:
    return "" if value is None else format_quantity(value, unit)
