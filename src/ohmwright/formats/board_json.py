"""A board as an open JSON description, whole or partial, to our value and back.

Described in ``docs/board-format.md`` and ``docs/board.schema.json``. Short ways of writing are taken in
(a pin list as net names, a value as ``"4k7"``, nets only named at pins); only the long way is written.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from ohmwright.circuit import Board, Net, Part, Pin, Place, Rating, Spread
from ohmwright.devices import KINDS
from ohmwright.errors import FileFormatError, UnknownNameError
from ohmwright.formats.json_field import Field
from ohmwright.formats.json_text import read_json_text
from ohmwright.formats.pin_roles import role_for

FORMAT = "ohmwright-board"
LARGEST = 8_000_000
"""Bytes in one file. [B]"""
DEEPEST = 12
"""Levels of brackets in one file. [1]"""
MOST_PARTS = 20_000
MOST_PINS = 5_000
"""Pins of one part. [1]"""
TWO_PINS = frozenset({"capacitor", "polymer", "unknown-two-pads"})
"""Kinds of exactly two pins."""
PAIRED = frozenset({"tvs-two-way", "crystal", "resistor", "sense", "coil", "ferrite", "fuse", "link"})
"""Kinds of two pins or more."""


def read_board_json(path: Path) -> Board:
    """The board in that file.

    Raises
    ------
    DataError
        Saying what is wrong, at which path inside the file, and what to write instead.
    """
    return _board(Field(read_json_text(path, largest=LARGEST, deepest=DEEPEST), str(path)))


def board_from_json(obj: object) -> Board:
    """The board written as plain data.

    Raises
    ------
    DataError
        As `read_board_json`.
    """
    return _board(Field(obj, "board"))


def board_to_json(board: Board) -> dict[str, Any]:
    """The plain data of a board, which `board_from_json` reads back as an equal value."""
    return {
        "format": FORMAT,
        "version": 1,
        "name": board.name,
        "ground": board.ground,
        "nets": [_net_to_json(net) for net in board.nets],
        "parts": [_part_to_json(part) for part in board.parts],
        "entries": list(board.entries),
        "unmapped_share": board.unmapped_share,
        "notes": list(board.notes),
    }


def _board(field: Field) -> Board:
    known = ("format", "version", "name", "ground", "nets", "parts", "entries", "unmapped_share", "notes")
    top = field.fields(known)
    if "format" in top and top["format"].data != FORMAT:
        raise FileFormatError(
            "This does not say that it is a board.", where=top["format"].where, hint=f'write "format": "{FORMAT}"'
        )
    if "version" in top and (top["version"].data != 1 or top["version"].data is True):
        raise FileFormatError(
            "This version of the board format is not known here.", where=top["version"].where, hint="write 1"
        )
    ground = top["ground"].text() if "ground" in top else "GND"
    nets = {net.name: net for net in _nets(top.get("nets"))}
    # Whether a net is a rail decides the role of a pin that tells none, so nets come before parts.
    parts = tuple(_part(item, ground, nets) for item in _items(top, "parts", MOST_PARTS))
    implied = {pin.net: Net(pin.net) for part in parts for pin in part.pins if pin.net is not None}
    every = {ground: Net(ground)} | implied | nets
    ordered = (*nets.values(), *(net for name, net in every.items() if name not in nets))
    return Board(
        top["name"].text() if "name" in top else "board",
        ground,
        ordered,
        parts,
        tuple(item.text() for item in _items(top, "entries", 100)),
        top["unmapped_share"].number(0.0, 1.0) if "unmapped_share" in top else 0.02,
        tuple(item.text() for item in _items(top, "notes", 100)),
    )


def _items(top: Mapping[str, Field], name: str, most: int) -> list[Field]:
    return top[name].items(most) if name in top else []


def _nets(field: Field | None) -> Iterator[Net]:
    seen: set[str] = set()
    for item in field.items(MOST_PARTS) if field else []:
        net = Net(item.text()) if isinstance(item.data, str) else _net(item)
        if net.name in seen:
            raise FileFormatError(f"Two nets are called {net.name!r}.", where=item.where, hint="list each net once")
        seen.add(net.name)
        yield net


def _net(field: Field) -> Net:
    f = field.fields(("name", "nominal", "rated", "rail", "unexplained_pads", "source"), needed=("name",))
    return Net(
        f["name"].text(),
        f["nominal"].optional_quantity() if "nominal" in f else None,
        f["rated"].optional_quantity() if "rated" in f else None,
        f["rail"].truth() if "rail" in f else False,
        f["unexplained_pads"].count(10_000) if "unexplained_pads" in f else 0,
        f["source"].text(empty=True) if "source" in f else "",
    )


_PART_FIELDS = (
    "name", "kind", "pins", "value", "package", "rating", "place", "marking", "could_be", "parameters", "weight",
    "source", "look",
)  # fmt: skip


def _part(field: Field, ground: str, nets: Mapping[str, Net]) -> Part:
    f = field.fields(_PART_FIELDS, needed=("name", "kind", "pins"))
    kind = f["kind"].text()
    if kind not in KINDS:
        raise UnknownNameError.among("kind of part", kind, KINDS, where=f["kind"].where)
    return Part(
        f["name"].text(),
        kind,
        _pins(f["pins"], kind, ground, nets),
        _spread(f["value"]) if "value" in f and f["value"].data is not None else None,
        f["package"].text(empty=True) if "package" in f else "",
        _rating(f["rating"]) if "rating" in f else Rating(),
        _place(f["place"]) if "place" in f and f["place"].data is not None else None,
        f["marking"].text(empty=True) if "marking" in f else "",
        tuple(_could_be(f["could_be"])) if "could_be" in f else (),
        tuple(_parameters(f["parameters"])) if "parameters" in f else (),
        f["weight"].number(0.0, 1e6) if "weight" in f else 1.0,
        f["source"].text(empty=True) if "source" in f else "",
        f["look"].text(empty=True) if "look" in f else "",
    )


def _pins(field: Field, kind: str, ground: str, nets: Mapping[str, Net]) -> tuple[Pin, ...]:
    if isinstance(field.data, dict):
        written = [(number, item) for number, item in field.named(MOST_PINS)]
    else:
        written = [(str(i + 1), item) for i, item in enumerate(field.items(MOST_PINS))]
    if (kind in TWO_PINS and len(written) != 2) or (kind in PAIRED and len(written) < 2):
        raise FileFormatError(
            f"A part of the kind {kind!r} needs {'exactly' if kind in TWO_PINS else 'at least'} two pins, "
            f"not {len(written)}.",
            where=field.where,
            hint="list both; a pin whose net is not known has the net null",
        )
    rails = {net.name for net in nets.values() if net.rail}
    pins = tuple(
        _pin(number, item, kind, ground, rails, first=index == 0, two=len(written) == 2)
        for index, (number, item) in enumerate(written)
    )
    seen: set[str] = set()
    for pin in pins:
        if pin.number in seen:
            raise FileFormatError(
                f"Two pins are numbered {pin.number!r}.", where=field.where, hint="number each pin once"
            )
        seen.add(pin.number)
    return pins


def _pin(number: str, field: Field, kind: str, ground: str, rails: set[str], *, first: bool, two: bool) -> Pin:
    """A pin: a net's name, null, or an object; without a role it gets the one that its place suggests."""
    if field.data is None or isinstance(field.data, str):
        f: Mapping[str, Field] = {"net": field}
    else:
        f = field.fields(("number", "net", "role", "name"))
    if "number" in f:
        number = f["number"].text()
    net = f["net"].text() if "net" in f and f["net"].data is not None else None
    name = f["name"].text(empty=True) if "name" in f else ""
    told = f["role"].text(empty=True) if "role" in f else None
    where = f["role"].where if "role" in f else field.where
    role, name = role_for(kind, number, told, name, net, ground, rails, where=where, first=first, two=two)
    return Pin(number, net, role, name)


def _spread(field: Field) -> Spread:
    if not isinstance(field.data, dict):
        return Spread(field.quantity())
    f = field.fields(("median", "log_sd", "source"), needed=("median",))
    return Spread(
        f["median"].quantity(),
        f["log_sd"].number(0.0, 20.0) if "log_sd" in f else 0.01,
        f["source"].text(empty=True) if "source" in f else "",
    )


def _rating(field: Field) -> Rating:
    f = field.fields(("volts", "amps", "source"))
    return Rating(
        f["volts"].optional_quantity() if "volts" in f else None,
        f["amps"].optional_quantity() if "amps" in f else None,
        f["source"].text(empty=True) if "source" in f else "",
    )


def _place(field: Field) -> Place:
    f = field.fields(("x_mm", "y_mm", "side", "width_mm", "height_mm", "angle_deg"), needed=("x_mm", "y_mm"))
    side = f["side"].text() if "side" in f else "top"
    if side not in ("top", "bottom"):
        raise UnknownNameError.among("side", side, ("top", "bottom"), where=f["side"].where)
    return Place(
        f["x_mm"].number(-2000.0, 2000.0),
        f["y_mm"].number(-2000.0, 2000.0),
        side,
        f["width_mm"].number(0.0, 500.0) if "width_mm" in f else 1.0,
        f["height_mm"].number(0.0, 500.0) if "height_mm" in f else 0.5,
        f["angle_deg"].number(-360.0, 360.0) if "angle_deg" in f else 0.0,
    )


def _could_be(field: Field) -> Iterator[tuple[str, float]]:
    total = 0.0
    for kind, item in field.named(100):
        if kind not in KINDS or kind == "unknown-two-pads":
            raise UnknownNameError.among("kind of part", kind, set(KINDS) - {"unknown-two-pads"}, where=item.where)
        weight = item.number(0.0, 1e6)
        total += weight
        yield kind, weight
    if not total > 0.0:
        raise FileFormatError("The weights sum to nothing.", where=field.where, hint='as in {"capacitor": 3}')


def _parameters(field: Field) -> Iterator[tuple[str, Spread]]:
    for name, item in field.named(200):
        yield name, _spread(item)


def _net_to_json(net: Net) -> dict[str, Any]:
    out: dict[str, Any] = {"name": net.name}
    if net.nominal is not None:
        out["nominal"] = net.nominal
    if net.rated is not None:
        out["rated"] = net.rated
    if net.rail:
        out["rail"] = True
    if net.unexplained_pads:
        out["unexplained_pads"] = net.unexplained_pads
    return out | ({"source": net.source} if net.source else {})


def _part_to_json(part: Part) -> dict[str, Any]:
    out: dict[str, Any] = {"name": part.name, "kind": part.kind}
    # A role is written even where it is empty: one left out would be guessed on the way back.
    out["pins"] = [
        {"number": p.number, "net": p.net, "role": p.role} | ({"name": p.name} if p.name else {}) for p in part.pins
    ]
    if part.value is not None:
        out["value"] = _spread_to_json(part.value)
    out |= {"package": part.package} if part.package else {}
    if part.rating != Rating():
        rating = {"volts": part.rating.volts, "amps": part.rating.amps, "source": part.rating.source}
        out["rating"] = {key: item for key, item in rating.items() if item not in (None, "")}
    if part.place is not None:
        place = part.place
        out["place"] = {
            "x_mm": place.x_mm, "y_mm": place.y_mm, "side": place.side, "width_mm": place.width_mm,
            "height_mm": place.height_mm, "angle_deg": place.angle_deg,
        }  # fmt: skip
    out |= {"marking": part.marking} if part.marking else {}
    out |= {"could_be": dict(part.could_be)} if part.could_be else {}
    if part.parameters:
        out["parameters"] = {name: _spread_to_json(spread) for name, spread in part.parameters}
    out |= {"weight": part.weight} if part.weight != 1.0 else {}
    out |= {"look": part.look} if part.look else {}
    return out | ({"source": part.source} if part.source else {})


def _spread_to_json(spread: Spread) -> float | dict[str, Any]:
    if spread == Spread(spread.median):
        return spread.median
    out: dict[str, Any] = {"median": spread.median, "log_sd": spread.log_sd}
    return out | ({"source": spread.source} if spread.source else {})
