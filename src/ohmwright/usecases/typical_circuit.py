"""The typical circuit of a chip laid beside the board: its points, what belongs between them, which parts hold it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from ohmwright.circuit import Board, Part
from ohmwright.facts import Facts, Quantity
from ohmwright.partbook.chip_readings import Reading, read_chips
from ohmwright.partbook.circuits.role import Role
from ohmwright.partbook.duties import duty_of, without_number
from ohmwright.partbook.equations import Design
from ohmwright.partbook.inside import inner_paths
from ohmwright.partbook.neighbours import Taken, neighbours
from ohmwright.partbook.seen import Seen, looks_on
from ohmwright.partbook.transfer import contradictions, expectations, point_words
from ohmwright.quantities import format_quantity

Plain = dict[str, Any]
JOINED_BELOW, APART_ABOVE = 1.0, 3.0
"""Ohms between a part's ends that count as joined, and as not joined; between the two it says nothing. [Ω]"""
LEAST_SHARE = 0.02
"""A part is named for a place from this probability on. [1]"""
USUAL = 0.25
"""Places that at least so many circuits have are drawn even where nothing on the board fits them. [1]"""


def seen_so_far(board: Board, facts: Facts) -> tuple[Seen, ...]:
    """What the case knows of unmarked parts: looks, and ohms from one end to the other.

    Readings to ground are left out: a shorted rail makes every part on it read as joined.
    """
    found = {entry.part: entry for entry in looks_on(board)}
    for reading in facts.readings:
        if reading.quantity is not Quantity.OHMS:
            continue
        nets = {board.net_at(reading.red), board.net_at(reading.black)}
        joined = _is_joined(reading.value)
        if len(nets) < 2 or board.ground in nets or joined is None:
            continue
        for part in board:
            if part.kind == "unknown-two-pads" and set(part.nets) == nets and part.name not in reading.state.off:
                found[part.name] = Seen(part.name, found.get(part.name, Seen(part.name)).look, joined)
    return tuple(found.values())


def _is_joined(ohms: float | None) -> bool | None:
    if ohms is None or ohms > APART_ABOVE:
        return False
    return True if ohms < JOINED_BELOW else None


def typical_circuit(board: Board, chip: str, facts: Facts | None = None) -> Plain:
    """Everything to be told of one chip and the parts around it, as plain data.

    Returns
    -------
    dict
        ``families``: what it is taken for; ``points``: with pins and nets; ``places``: what belongs between which
        points and which parts may hold it; ``parts``: each neighbour in sentences; ``contradictions``; ``inside``.
    """
    part = board.part(chip)
    seen = seen_so_far(board, facts) if facts is not None else looks_on(board)
    around, readings = read_chips(board, None, seen)
    own = sorted((r for r in readings if r.chip == chip), key=lambda r: -r.probability)
    taken = neighbours(board, None, seen)
    near = _near(board, chip, taken)
    names = {entry.part for entry in near} | {chip}
    told = {e.part: e for e in expectations(board, near)}
    by_name = {entry.part: entry for entry in seen}
    return {
        "chip": chip,
        "known": any(pin.name or pin.role not in ("", "IO") for pin in part.pins),
        "families": _families(own),
        "points": list(_points(part, own[0])) if own else [],
        "places": list(_places(board, own[0], near)) if own else [],
        "parts": [_neighbour(board, told[entry.part], entry, by_name.get(entry.part)) for entry in near],
        "contradictions": [
            {"part": c.part, "text": c.text, "look": c.look}
            for c in contradictions(around, readings, taken, seen)
            if c.part in names
        ],
        "inside": list(_inside(part, own)),
    }


def _families(own: Sequence[Reading]) -> list[Plain]:
    chances: dict[str, Plain] = {}
    for reading in own:
        entry = chances.setdefault(
            reading.family.name, {"name": reading.family.name, "words": reading.family.words, "probability": 0.0}
        )
        entry["probability"] = min(1.0, entry["probability"] + reading.probability)
    return sorted(chances.values(), key=lambda entry: -entry["probability"])


def _near(board: Board, chip: str, taken: Sequence[Taken]) -> list[Taken]:
    """Parts that hold a place of the chip, and unmarked ones on its quieter nets."""
    quiet = {net for net in board.part(chip).nets if net != board.ground and not board.net(net).rail}
    return [
        entry
        for entry in taken
        if any(place.chip == chip and share >= LEAST_SHARE for place, share in entry.places)
        or (board.part(entry.part).kind == "unknown-two-pads" and quiet & set(board.part(entry.part).nets))
    ]


def _points(part: Part, reading: Reading) -> Iterator[Plain]:
    pins: dict[str, list[Plain]] = {}
    for pin in part.pins:
        duty = "GND" if pin.net in reading.points.get("GND", ()) else without_number(duty_of(pin.name or pin.role))
        for point, nets in reading.points.items():
            if pin.net in nets and (point == duty or (duty not in reading.points and point != "GND")):
                pins.setdefault(point, []).append({"number": pin.number, "name": pin.name or pin.role})
    for point, nets in reading.points.items():
        if nets:
            yield {"name": point, "words": point_words(point), "nets": sorted(nets), "pins": pins.get(point, [])}


def _places(board: Board, reading: Reading, near: Sequence[Taken]) -> Iterator[Plain]:
    for role in reading.family.roles:
        holders = [
            {"part": entry.part, "share": share, "marked": board.part(entry.part).kind != "unknown-two-pads"}
            for entry in near
            for place, share in entry.places
            if place.chip == reading.chip and _same(place.role, role) and share >= LEAST_SHARE
        ]
        if not holders and (role.present < USUAL or not all(_there(reading, point) for point in role.between)):
            continue
        worth = role.worth(Design()) if role.worth else None
        yield {
            "role": role.name, "between": list(role.between), "kind": role.usual, "present": role.present,
            "value": "" if worth is None else format_quantity(float(f"{worth.median:.2g}"), _UNITS.get(role.usual, "")),
            "shorted": role.shorted, "opened": role.opened, "source": role.source,
            "parts": sorted(holders, key=lambda holder: -holder["share"]),
        }  # fmt: skip


_UNITS = {"capacitor": "F", "polymer": "F", "resistor": "Ω", "sense": "Ω", "coil": "H", "ferrite": "Ω"}


def _same(one: Role, other: Role) -> bool:
    return one.name == other.name and one.between == other.between


def _there(reading: Reading, point: str) -> bool:
    return point.startswith("#") or bool(reading.points.get(point))


def _neighbour(board: Board, told: Any, entry: Taken, seen: Seen | None) -> Plain:
    part = board.part(entry.part)
    return {
        "part": entry.part, "marked": part.kind != "unknown-two-pads", "says": told.says, "role": told.role,
        "chip": told.chip, "chance": told.chance, "shorted": told.shorted, "opened": told.opened, "source": told.source,
        "kinds": [[kind, share] for kind, share in entry.kinds if share >= 0.005],
        "others": [[words, share] for words, share in told.others if share >= LEAST_SHARE],
        "nets": list(part.nets), "look": seen.look if seen else "", "joined": seen.joined if seen else None,
    }  # fmt: skip


def _inside(part: Part, own: Sequence[Reading]) -> Iterator[Plain]:
    if not own:
        return
    names: Mapping[str, str] = {pin.number: pin.name or pin.role for pin in part.pins if pin.name or pin.role}
    pins = {name: number for number, name in reversed(list(names.items()))}
    for inner in inner_paths(own[0].family.name, names):
        ends = [f"{part.name}.{pins[name]}" for name in (inner.anode, inner.cathode) if name in pins]
        yield {"words": inner.words, "ends": ends, "test": inner.test, "drop": list(inner.drop) if inner.drop else None}
