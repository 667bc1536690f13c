"""Questions to the part book: what is this part, what do its pins do, what must its neighbour be, what replaces it.

Everything comes back as plain data that any door can show or send.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any, Protocol

from ohmwright.circuit import Board
from ohmwright.errors import DataError, ReadingError, UnknownNameError
from ohmwright.partbook.chip_readings import Reading, read_chips
from ohmwright.partbook.date_codes import made
from ohmwright.partbook.dielectrics import dielectric
from ohmwright.partbook.informed import informed
from ohmwright.partbook.inside import inner_paths
from ohmwright.partbook.neighbours import neighbours
from ohmwright.partbook.pin_table import read_pin_table
from ohmwright.partbook.replacing import Candidate, Wanted, judged, pin_differences, replacement
from ohmwright.partbook.seen import KINDS as SEEN_KINDS
from ohmwright.partbook.seen import LOOKS, Seen
from ohmwright.partbook.top_marks import PinReading, parts_marked
from ohmwright.partbook.transfer import contradictions, expectations
from ohmwright.partbook.value_codes import Coded, capacitor_code, coil_code, resistor_code
from ohmwright.quantities import format_quantity, is_overload, parse_quantity

Plain = dict[str, Any]


class PinShown(Protocol):
    """A pin as a library or a book has it."""

    @property
    def number(self) -> str:
        """As on the land pattern."""

    @property
    def name(self) -> str:
        """As in the datasheet."""


class PartShown(Protocol):
    """A part as a library or a book has it."""

    @property
    def name(self) -> str:
        """Its part number."""

    @property
    def source(self) -> str:
        """Where it is from, with the page where it is known."""

    @property
    def score(self) -> float:
        """How well it fits what was asked; 1 is exactly. [1]"""

    @property
    def description(self) -> str:
        """A few words."""

    @property
    def footprint(self) -> str:
        """Its land pattern."""

    @property
    def names(self) -> dict[str, str]:
        """Pin number to name."""


class Shelf(Protocol):
    """Something that parts are looked up in."""

    def find(
        self, name: str = "", *, n_pins: int | None = None, pin_names: Sequence[str] = (), most: int = 20
    ) -> Sequence[PartShown]:
        """Parts that fit, the best first."""


def find_parts(
    shelves: Sequence[Shelf],
    name: str = "",
    *,
    n_pins: int | None = None,
    pin_names: Sequence[str] = (),
    most: int = 20,
) -> list[Plain]:
    """Parts of all shelves that fit, the best first, the user's own before others that fit as well."""
    if not (name or n_pins or pin_names):
        raise DataError("Nothing was asked for.", hint="give a name, a number of pins or names of pins")
    found = [part for shelf in shelves for part in shelf.find(name, n_pins=n_pins, pin_names=pin_names, most=most)]
    best = sorted(found, key=lambda part: -part.score)[:most]
    return [
        {"name": part.name, "source": part.source, "score": part.score, "description": part.description,
         "footprint": part.footprint, "pins": part.names}
        for part in best
    ]  # fmt: skip


def pasted_pins(text: str, column: int = 0) -> Plain:
    """The pins in a pasted pin table, to be confirmed."""
    table = read_pin_table(text, column)
    return {
        "columns": list(table.columns), "column": table.column, "unread": list(table.unread),
        "doubtful": list(table.doubtful),
        "pins": [{"pins": list(row.pins), "name": row.name, "kind": row.kind,
        "words": row.words} for row in table.rows],
    }  # fmt: skip


def read_mark(
    mark: str, this_year: int, *, package: str = "", n_pins: int | None = None, readings: Sequence[str] = (),
    shelves: Sequence[Shelf] = (),
) -> Plain:  # fmt: skip
    """Everything a mark may mean: values, a dielectric, dates, parts that share it, part numbers it may be of.

    Parameters
    ----------
    readings : sequence of str
        Diode mode between two pins of the part by itself: ``1-3 0.61``, red pin first; ``3-1 OL``.
    """
    told = dielectric(mark)
    pins = tuple(_pin_reading(text) for text in readings)
    return {
        "mark": mark,
        "resistor": [_coded(code, "Ω") for code in resistor_code(mark)],
        "capacitor": [_coded(code, "F") for code in capacitor_code(mark)],
        "coil": [_coded(code, "H") for code in coil_code(mark)],
        "dielectric": asdict(told) if told else None,
        "made": [asdict(when) for when in made(mark, this_year)],
        "parts": [asdict(part) for part in parts_marked(mark, package=package, n_pins=n_pins, readings=pins)],
        "numbers": find_parts(shelves, mark, n_pins=n_pins, most=8) if shelves and len(mark.strip()) >= 3 else [],
    }


def _coded(code: Coded, unit: str) -> Plain:
    return {**asdict(code), "words": format_quantity(code.value, unit)}


def _pin_reading(text: str) -> PinReading:
    match = re.fullmatch(r"\s*(\w{1,4})\s*[-:]\s*(\w{1,4})[\s=:]+(\S+)\s*", text)
    if not match:
        raise ReadingError(
            f"{text!r} is no reading between two pins.", hint="red pin first, as in: 1-3 0.61, or 3-1 OL"
        )
    return PinReading(match[1], match[2], None if is_overload(match[3]) else parse_quantity(match[3]))


_NO_CHIPS = frozenset({"connector", "mechanical", "resistor", "fet-n", "fet-p", "diode", "esd"})


def pins_by_value(
    board: Board, shelves: Sequence[Shelf], told: Mapping[str, str] | None = None
) -> dict[str, dict[str, str]]:
    """Names of the pins of the chips of a board whose part number is known, from the shelves.

    Parameters
    ----------
    told : mapping or None
        Chip to part number, where the board does not say it or says it in other words.
    """
    out: dict[str, dict[str, str]] = {}
    for part in board:
        number = (told or {}).get(part.name, "")
        if not number and (len(part.pins) < 3 or part.kind in _NO_CHIPS or any(pin.name for pin in part.pins)):
            continue
        number = number or part.marking or re.split(r"[(\s:]", part.source)[0]
        if len(number) < 4 and part.name not in (told or {}):
            continue
        wanted = {pin.number.split("+")[0] for pin in part.pins}
        for found in (f for shelf in shelves for f in shelf.find(number, most=5)):
            if (found.score >= 0.9 or part.name in (told or {})) and len(wanted & set(found.names)) >= 0.8 * len(
                wanted
            ):
                out[part.name] = found.names
                break
    return out


def seen_words(told: Mapping[str, str]) -> tuple[Seen, ...]:
    """What was noticed of parts: a look such as ``plain-tan``, ``joined`` or ``apart``, or a kind that is known."""
    out = []
    for part, word in told.items():
        if word in ("joined", "apart"):
            out.append(Seen(part, joined=word == "joined"))
        elif word in LOOKS:
            out.append(Seen(part, look=word))
        elif word in SEEN_KINDS:
            out.append(Seen(part, known=word))
        else:
            raise UnknownNameError.among("look or kind", word, ["joined", "apart", *LOOKS, *SEEN_KINDS])
    return tuple(out)


def around(
    board: Board, chip: str = "", pin_names: Mapping[str, Mapping[str, str]] | None = None, seen: Sequence[Seen] = ()
) -> Plain:
    """What the parts around a chip, or around all, must be; what contradicts; how each chip is read."""
    if chip:
        board.part(chip)
    for entry in seen:
        board.part(entry.part)
    surroundings, readings = read_chips(board, pin_names, seen)
    taken = neighbours(board, pin_names, seen)
    own = [net for net in (board.part(chip).nets if chip else ()) if surroundings.sort(net) == "signal"]
    near = {part.name for net in own for part, _ in board.pins_on[net] if part.kind == "unknown-two-pads"}
    told = [e for e in expectations(board, taken) if not chip or e.chip == chip or (not e.role and e.part in near)]
    against = contradictions(surroundings, readings, taken, seen)
    names = {e.part for e in told} | {chip}
    return {
        "chips": [_reading(board, r) for r in readings if not chip or r.chip == chip],
        "parts": [asdict(expectation) for expectation in told],
        "contradictions": [asdict(c) for c in against if not chip or c.part in names],
    }


def opened_up(
    board: Board, pin_names: Mapping[str, Mapping[str, str]] | None = None, seen: Sequence[Seen] = ()
) -> Board:
    """The board as the engine should have it: chips opened up pin to pin, unknown parts with what they may be."""
    return informed(board, pin_names, seen)


def _reading(board: Board, reading: Reading) -> Plain:
    return {
        "chip": reading.chip, "family": reading.family.name, "words": reading.family.words, "channel": reading.channel,
        "probability": reading.probability,
        "points": {point: sorted(nets) for point, nets in reading.points.items() if nets},
    }  # fmt: skip


def inside(family: str, pin_names: Mapping[str, str]) -> list[Plain]:
    """What conducts inside a chip of a family, with the test that shows each."""
    return [asdict(inner) for inner in inner_paths(family, pin_names)]


def replace_by(
    kind: str, *, role: str = "", rail: str = "", value: str = "", amps: str = "", rated: str = "",
    stock: Sequence[Mapping[str, Any]] = (),
) -> Plain:  # fmt: skip
    """What a replacement must be, and which of the parts at hand will do.

    Parameters
    ----------
    stock : sequence of mapping
        With ``name``, ``where`` and ``properties``, a mapping of property to a written quantity.
    """

    def number(text: str) -> float | None:
        return parse_quantity(text) if text else None

    advice = replacement(Wanted(kind, role, number(rail), number(value), number(amps), number(rated)))
    candidates = [
        Candidate(
            str(s["name"]),
            str(s.get("where", "")),
            tuple((str(k), parse_quantity(str(v))) for k, v in s["properties"].items()),
        )
        for s in stock
    ]
    return {**asdict(advice), "at_hand": [{**asdict(j), "usable": j.usable} for j in judged(advice, candidates)]}


def compare_pins(old: Mapping[str, str], new: Mapping[str, str]) -> list[str]:
    """Where the pin orders of two parts differ."""
    return list(pin_differences(old, new))
