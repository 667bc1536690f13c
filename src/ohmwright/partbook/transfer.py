"""From what a part is taken for to what a person is told, what speaks against it, and what the engine is given."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ohmwright.circuit import Board, Part, Spread
from ohmwright.devices.unknown import NAME as UNKNOWN
from ohmwright.partbook.chip_readings import Reading, evidence_of, fits
from ohmwright.partbook.circuits.role import Role
from ohmwright.partbook.equations import Design
from ohmwright.partbook.neighbours import Place, Taken
from ohmwright.partbook.seen import JOINED, Seen, same_sort
from ohmwright.partbook.surroundings import Surroundings
from ohmwright.quantities import format_quantity

SELDOM = 0.004
"""What a part can seldom do keeps at least this chance until the part is off the board. [1] estimate"""
ALWAYS = ("capacitor", "resistor", "ferrite", "diode")
"""Kinds that are never ruled out by a typical circuit alone."""
_UNITS = {"capacitor": "F", "polymer": "F", "resistor": "Ω", "sense": "Ω", "coil": "H", "ferrite": "Ω"}
_WORDS = {
    "capacitor": "capacitor", "polymer": "polymer or tantalum capacitor", "resistor": "resistor",
    "sense": "sense resistor",
    "coil": "coil", "ferrite": "ferrite", "diode": "diode", "schottky": "Schottky diode", "led": "LED",
    "tvs": "clamp diode",
    "tvs-two-way": "two-way clamp", "crystal": "crystal", "fuse": "fuse", "link": "link", "fet-n": "N-channel FET",
    "fet-p": "P-channel FET",
}  # fmt: skip
_POINTS = {
    "BOOT": "boot pin", "BOOT1": "input-side boot pin", "BOOT2": "output-side boot pin", "SW": "switch pin",
    "VIN": "input",
    "SW1": "input-side switch pin", "SW2": "output-side switch pin", "OUT": "output", "GND": "ground",
    "FB": "feedback pin",
    "EN": "enable pin", "COMP": "compensation pin", "SS": "soft-start pin", "PG": "power-good pin", "VCC": "supply pin",
    "BAT": "battery pin", "SYS": "system pin", "PROG": "current-setting pin", "STAT": "status pin",
    "TS": "temperature pin",
    "VBUS": "VBUS pin", "XIN": "crystal input", "XOUT": "crystal output", "RESET": "reset pin", "HO": "upper gate pin",
    "LO": "lower gate pin", "#rail": "a rail", "#any": "the line", "SNUB": "middle of the snubber",
    "CMID": "middle of the compensation", "LMID": "middle of the pair", "CC1": "CC1 pin", "CC2": "CC2 pin",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Expectation:
    """What a person is told of one part.

    Parameters
    ----------
    kinds : tuple of (str, float)
        Likeliest first.
    role : str
        Its likeliest place in a typical circuit; empty where it has none.
    chance : float
        Of that role. [1]
    value : Spread or None
        What its value should be about, if it is of the role's usual kind.
    says, shorted, opened : str
        One sentence each.
    """

    part: str
    kinds: tuple[tuple[str, float], ...]
    role: str = ""
    chip: str = ""
    family: str = ""
    chance: float = 0.0
    value: Spread | None = None
    says: str = ""
    shorted: str = ""
    opened: str = ""
    others: tuple[tuple[str, float], ...] = ()
    source: str = ""


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Two things that cannot both be so, in one sentence, with what to look at."""

    part: str
    text: str
    look: str = ""


def expectations(board: Board, taken: Sequence[Taken], design: Design | None = None) -> tuple[Expectation, ...]:
    """A sentence for each part, with the value its equation gives where the board's volts are known."""
    return tuple(_expected(board, entry, design or Design()) for entry in taken)


def _expected(board: Board, entry: Taken, design: Design) -> Expectation:
    if not entry.places:
        kind, chance = entry.kinds[0]
        says = f"{entry.part} is in no typical circuit known here ({entry.else_name}); most likely a"
        return Expectation(entry.part, entry.kinds, says=f"{says} {_WORDS.get(kind, kind)} ({chance:.0%}).")
    place, share = entry.places[0]
    role = place.role
    value = role.worth(_with_volts(board, place, design)) if role.worth else None
    between = _between(role)
    kind = entry.kinds[0][0]
    about = f" of about {_amount(value, role.usual)}" if value and same_sort(kind, role.usual) else ""
    says = f"{entry.part}, between {between} of {place.chip}, is most likely the {role.name}: a"
    says = f"{says} {_WORDS.get(kind, kind)}{about}"
    return Expectation(
        entry.part, entry.kinds, role.name, place.chip, place.family, share, value, f"{says} ({share:.0%}).",
        f"Shorted: {role.shorted}", f"Open: {role.opened}",
        tuple((f"{p.role.name} of {p.chip}", s) for p, s in entry.places[1:4]),
        f"{value.source}; {role.source}" if value else role.source,
    )  # fmt: skip


def _between(role: Role) -> str:
    words = [_article(point_words(point)) for point in role.between]
    return " and ".join((", ".join(words[:-1]), words[-1]))


def point_words(point: str) -> str:
    """What a point of a typical circuit is called: "boot pin", "output"."""
    return _POINTS.get(point, f"{point} pin")


def _article(word: str) -> str:
    return word if word == "ground" or word.startswith("a ") else f"the {word}"


def _amount(value: Spread, kind: str) -> str:
    low, high = value.median / 2.718**value.log_sd, value.median * 2.718**value.log_sd
    middle, least, most = (format_quantity(float(f"{x:.2g}"), _UNITS.get(kind, "")) for x in (value.median, low, high))
    return f"{middle} ({least} to {most})"


def _with_volts(board: Board, place: Place, design: Design) -> Design:
    bound = dict(place.points)
    nominal = {point: board.net_by_name[net].nominal for point, net in bound.items() if net in board.net_by_name}
    return design.between(nominal.get("VIN"), nominal.get("OUT"))


def contradictions(
    around: Surroundings, readings: Sequence[Reading], taken: Sequence[Taken], seen: Sequence[Seen] = ()
) -> tuple[Contradiction, ...]:
    """Everything that does not fit: a neighbour that belongs there and is not there, or is not what it should be."""
    told = {entry.part: entry for entry in seen}
    found: list[Contradiction] = []
    for reading in readings:
        if reading.probability > 0.6:
            found += _missing(around, reading)
    for entry in taken:
        part = around.board.part(entry.part)
        found += _unfitting(part, entry, told)
        found += _of_odd_value(around.board, part, entry)
    return (*found, *_odd_dividers(around.board, taken))


FAR = 3.5
"""A value further from what its role asks than this many spreads is told. [1] estimate"""
REFERENCES = (0.35, 2.6)
"""Least and most volts of a feedback reference. [V] common practice, no source"""


def _of_odd_value(board: Board, part: Part, entry: Taken) -> Iterator[Contradiction]:
    """A known value far from the one that its likeliest role asks for."""
    if part.value is None or part.value.median <= 0.0 or not entry.places or entry.places[0][1] < 0.6:
        return
    place = entry.places[0][0]
    worth = place.role.worth(_with_volts(board, place, Design())) if place.role.worth else None
    if worth is None or not same_sort(part.kind, place.role.usual) or "divider" in place.role.name:
        return
    off = abs(math.log(part.value.median / worth.median))
    if off > FAR * max(worth.log_sd, 0.3):
        has = format_quantity(part.value.median, _UNITS.get(part.kind, ""))
        yield Contradiction(
            part.name,
            f"{part.name} has {has}, and as the {place.role.name} of {place.chip} it should have about "
            f"{_amount(worth, place.role.usual)}.",
            "whether it is that part's place, and whether its value was read right",
        )


def _odd_dividers(board: Board, taken: Sequence[Taken]) -> Iterator[Contradiction]:
    """A feedback divider whose ratio makes no reference that chips have, for the volts its rail should have."""
    legs: dict[tuple[str, str], dict[str, Part]] = {}
    for entry in taken:
        part = board.part(entry.part)
        if entry.places and entry.places[0][1] > 0.5 and part.value is not None and part.value.median > 0.0:
            place = entry.places[0][0]
            bound = dict(place.points)
            if place.role.name.startswith("feedback divider") and "FB" in bound:
                legs.setdefault((place.chip, bound["FB"]), {})[place.role.name[-5:]] = part
                legs[place.chip, bound["FB"]].setdefault("OUT" + bound.get("OUT", ""), part)
    for (chip, _), pair in legs.items():
        out = next((key[3:] for key in pair if key.startswith("OUT") and len(key) > 3), "")
        nominal = board.net_by_name[out].nominal if out in board.net_by_name else None
        upper, lower = pair.get("upper"), pair.get("lower")
        if upper is None or lower is None or upper.value is None or lower.value is None or nominal is None:
            continue
        reference = nominal / (1.0 + upper.value.median / lower.value.median)
        if not REFERENCES[0] <= reference <= REFERENCES[1]:
            yield Contradiction(
                upper.name,
                f"{upper.name} and {lower.name} would make {format_quantity(nominal, 'V')} at {out} only from a "
                f"reference of {format_quantity(reference, 'V')}, which {chip} hardly has.",
                "the two values, and which net the divider is on",
            )


def _missing(around: Surroundings, reading: Reading) -> Iterator[Contradiction]:
    for role in reading.family.roles:
        if role.present < 0.9 or not all(point in reading.points for point in role.between):
            continue
        if any(
            fits(around, role, reading.points, frozenset(part.nets)) for part in around.board if len(part.pins) <= 9
        ):
            continue
        yield Contradiction(
            reading.chip,
            f"{reading.chip} reads as a {reading.family.words}, but nothing is known to sit between {_between(role)}, "
            f"where its {role.name} belongs.",
            "a part not on the map yet, a pad on the wrong net, or another family",
        )


def _unfitting(part: Part, entry: Taken, told: Mapping[str, Seen]) -> Iterator[Contradiction]:
    seen = evidence_of(part, told)
    if seen is None or not entry.places:
        return
    place, share = entry.places[0]
    allowed = [kind for kind, weight in place.role.kinds if weight >= 0.02]
    if seen.known and share > 0.5 and not any(same_sort(seen.known, kind) for kind in allowed):
        yield Contradiction(
            part.name,
            f"{part.name} is a {_WORDS.get(seen.known, seen.known)}, but between {_between(place.role)} of "
            f"{place.chip} belongs the {place.role.name}, a {_WORDS.get(place.role.usual, place.role.usual)}.",
            "which net its ends are on, and what it really is",
        )
    if seen.joined and share > 0.4 and all(JOINED.get(kind, 0.05) < 0.1 for kind, w in place.role.kinds if w >= 0.05):
        yield Contradiction(
            part.name,
            f"{part.name} reads as joined end to end, and the {place.role.name} of {place.chip} should not: "
            f"either it is shorted, or something beside it is, or it is something else.",
            "the same two nets with the part off",
        )


def with_kinds(board: Board, taken: Sequence[Taken]) -> Board:
    """The board with the alternatives of its unknown parts as the engine weighs them.

    Only parts of unknown kind change, and of these only those of which nobody said what they could be. Kinds that
    a typical circuit makes unlikely keep a small chance.
    """
    by_name = {entry.part: entry for entry in taken}
    return board.with_parts(
        replace(part, could_be=engine_kinds(by_name[part.name]))
        for part in board.parts
        if part.kind == UNKNOWN and part.name in by_name and not part.could_be
    )


def engine_kinds(entry: Taken) -> tuple[tuple[str, float], ...]:
    """Kinds with weights that sum to one, likeliest first, none of the usual ones at nothing."""
    weights = {kind: share for kind, share in entry.kinds if share >= SELDOM}
    for kind in ALWAYS:
        weights[kind] = max(weights.get(kind, 0.0), SELDOM)
    total = sum(weights.values())
    return tuple(sorted(((kind, share / total) for kind, share in weights.items()), key=lambda e: (-e[1], e[0])))
