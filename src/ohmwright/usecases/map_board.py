"""Draw the map of a board on its picture: parts by two clicks, pins by name, nets by what buzzes together."""

from __future__ import annotations

import re
from collections.abc import Sequence

from ohmwright.boardmap import Seating, far_land, mirrored, placed_layer, seated, seated_pair, shifted
from ohmwright.casebook import Entry
from ohmwright.casebook.events import (
    EntryDescribed,
    NetTold,
    PadsJoined,
    PartErased,
    PartMapped,
    PictureAdded,
    PinNamed,
    ScaleSet,
)  # fmt: skip
from ohmwright.casebook.map_edits import is_unnamed
from ohmwright.circuit import Board, Net, Part, Pin, Spread
from ohmwright.devices import KINDS
from ohmwright.errors import DataError, UnknownNameError
from ohmwright.formats.pin_roles import TWO_ENDED, role_for
from ohmwright.geometry import LandPattern, PicturePoint, land_pattern
from ohmwright.partbook.pin_table import PinRow
from ohmwright.quantities import parse_quantity
from ohmwright.usecases.desk import CaseView, Desk, book_of, record, thought_through
from ohmwright.usecases.hand_work import may_enter

LETTERS = {
    "capacitor": "C", "polymer": "C", "resistor": "R", "sense": "R", "coil": "L", "ferrite": "L", "fuse": "F",
    "link": "R", "connector": "J", "crystal": "Y", "diode": "D", "schottky": "D", "led": "D", "tvs": "D",
    "tvs-two-way": "D", "esd": "D", "fet-n": "Q", "fet-p": "Q", "unknown-two-pads": "X",
}  # fmt: skip
"""First letter of a part's name by its kind (the usual ones of IEEE 315); chips get U."""
PACKAGES: dict[str, tuple[int, ...]] = {
    "SOT-23": (3, 5, 6), "SOIC": (8, 14, 16), "SOIC-W": (16, 18, 20, 24, 28), "power 5x6": (5,), "power 3x3": (5,),
    "BGA": (16, 25, 36, 49, 64, 81, 100, 121, 144, 196, 256),
    "TSSOP": (8, 14, 16, 20, 24, 28), "MSOP": (8, 10), "DFN": (6, 8, 10, 12),
    "QFN": (8, 12, 16, 20, 24, 28, 32, 40, 48, 56, 64), "LQFP": (32, 44, 48, 64, 80, 100, 144),
    "SOT-223": (4,), "DPAK": (3,), "SOT-323": (3,), "SOT-363": (6,), "SC-70": (5, 6), "row": tuple(range(2, 41)),
    "two rows": (6, 8, 10, 12, 14, 16, 20, 24, 30, 40),
}  # fmt: skip
"""Package styles offered for parts of more than two pads, and how many pins each usually has."""
ROWS = ("row", "two rows")
"""Styles that are no packages, but pins as they stand."""
UNMAPPED = 0.5
"""Share of a board drawn from its picture that is taken not to be on the map. [1] a guess: one rail of several"""
MOST_PINS = 400


def blank_board(name: str) -> Board:
    """A board of which nothing is known but that it has a ground."""
    return Board(name, "GND", (Net("GND"),), (), unmapped_share=UNMAPPED)


def add_picture(desk: Desk, case: str, key: str, side: str, size_px: tuple[int, int], name: str = "") -> CaseView:
    """Lay a picture under the map. [px]"""
    layer = placed_layer(book_of(desk, case).chart, key, side, size_px, name[:80])
    return thought_through(desk, case, record(desk, case, PictureAdded(layer)))


def pattern_of(package: str, count: int) -> LandPattern:
    """The pads of a package with so many pins. [1]"""
    if not 2 <= count <= MOST_PINS:
        raise DataError(f"{count} pins.", hint=f"from 2 to {MOST_PINS}")
    numbers = [str(n + 1) for n in range(count)]
    if package == "row":
        return land_pattern("header", numbers)
    if package == "two rows":
        return land_pattern("", numbers, (7.0, 1.27 * count / 2))
    return land_pattern(f"{package}-{count}", numbers)


def place_part(
    desk: Desk,
    case: str,
    kind: str,
    layer: str,
    first: tuple[float, float],
    far: tuple[float, float],
    *,
    package: str = "",
    count: int = 2,
    name: str = "",
    value: str = "",
    expected: int | None = None,
) -> CaseView:
    """Lay a part on a picture; without a name it gets the next that is free.

    Parameters
    ----------
    layer : str
        Key of the picture that was clicked on.
    first, far : (float, float)
        Where pin 1 and the pin farthest from it are on that picture. [px]
    package : str
        A style of `PACKAGES`; empty for two pads.
    count : int
        Pins, without a pad under the body. [1]
    """
    book = book_of(desk, case)
    if kind not in KINDS:
        raise UnknownNameError.among("kind of part", kind, KINDS)
    sheet, called = book.chart.layer(layer), name.strip() or free_name(book.board, kind)
    if called in book.board.part_by_name:
        raise DataError(f"There is a {called} already.", hint="give it another name, or erase the other first")
    a, b = PicturePoint(*first), PicturePoint(*far)
    seating = seated(called, pattern_of(package, count), sheet, a, b) if package else seated_pair(called, sheet, a, b)
    style = package_name(package, count)
    entries: list[Entry] = [PartMapped(mapped_part(called, kind, style, value, seating), seating.pads)]
    if seating.mm_per_px and not book.chart.scale_from:
        entries.append(ScaleSet(seating.mm_per_px / sheet.mm_per_px, f"{called}, {style}"))
    return thought_through(desk, case, record(desk, case, *entries, expected=expected))


def move_part(
    desk: Desk,
    case: str,
    name: str,
    dx_mm: float,
    dy_mm: float,
    turn_deg: float,
    *,
    mirror: bool = False,
    expected: int | None = None,
) -> CaseView:
    """Move a part by so much and turn it counter-clockwise as seen from the top, its pins first mirrored if wished.

    [mm], [deg]
    """
    book = book_of(desk, case)
    part, pads = book.board.part(name), book.chart.pads_of(name)
    if part.place is None or not pads:
        raise DataError(f"{name} is not on a picture.", hint="lay it on the picture first")
    place, pads = part.place, mirrored(part.place, pads).pads if mirror else pads
    seating = shifted(place, pads, dx_mm, dy_mm, turn_deg)
    pins = tuple(Pin(pin.number, None, pin.role) for pin in part.pins)
    moved = Part(
        part.name, part.kind, pins, part.value, part.package, place=seating.place, marking=part.marking,
    )  # fmt: skip
    return thought_through(desk, case, record(desk, case, PartMapped(moved, seating.pads), expected=expected))


def redescribe_part(
    desk: Desk, case: str, name: str, kind: str, value: str = "", *, expected: int | None = None
) -> CaseView:
    """Say what kind a part is after all, and what its value is."""
    book = book_of(desk, case)
    part, pads = book.board.part(name), book.chart.pads_of(name)
    if kind not in KINDS:
        raise UnknownNameError.among("kind of part", kind, KINDS)
    if not pads or part.place is None:
        raise DataError(f"{name} is not on a picture.", hint="lay it on the picture first")
    seating = Seating(part.place, pads)
    told = mapped_part(part.name, kind, part.package, value, seating)
    return thought_through(desk, case, record(desk, case, PartMapped(told, pads), expected=expected))


def erase_part(desk: Desk, case: str, name: str, *, expected: int | None = None) -> CaseView:
    """Take a part from the map."""
    return thought_through(desk, case, record(desk, case, PartErased(name), expected=expected))


def join_pads(desk: Desk, case: str, pads: Sequence[str], reason: str, *, expected: int | None = None) -> CaseView:
    """Say that pads are the same copper, the first with each of the others."""
    if len(pads) < 2:
        raise DataError("One pad alone joins nothing.", hint="click the pads that buzz together, two or more")
    entries = [PadsJoined(pads[0], pad, reason) for pad in pads[1:]]
    return thought_through(desk, case, record(desk, case, *entries, expected=expected))


def tell_net(
    desk: Desk,
    case: str,
    pad: str,
    name: str = "",
    *,
    ground: bool = False,
    entry: bool = False,
    nominal: float | None = None,
    expected: int | None = None,
) -> CaseView:
    """Say what is known of the copper under a pad. [V]"""
    told = NetTold(pad, name.strip(), ground, entry, nominal)
    return thought_through(desk, case, record(desk, case, told, expected=expected))


def tell_grounds(desk: Desk, case: str, pads: Sequence[str], *, expected: int | None = None) -> CaseView:
    """Say that the copper under each of these pads is ground, because their pins are called so."""
    if not pads:
        raise DataError("No pad is told.", hint="name the pads that are ground")
    ground = book_of(desk, case).board.ground
    entries = [PadsJoined(pad, ground, "name") for pad in dict.fromkeys(pads)]
    return thought_through(desk, case, record(desk, case, *entries, expected=expected))


def describe_entry_at(
    desk: Desk, case: str, point: str, label_volts: float | None, polarity_measured: bool, battery_off: bool
) -> CaseView:
    """Say what is known of where power comes in, at a pad or a net. [V]"""
    may_enter(label_volts)
    board = book_of(desk, case).board
    if point not in board.net_by_name:
        book = record(desk, case, NetTold(point, entry=True, nominal=label_volts))
        point = book.board.net_at(point)
    known = EntryDescribed(point, label_volts, polarity_measured, battery_off)
    return thought_through(desk, case, record(desk, case, known))


def set_scale(
    desk: Desk, case: str, layer: str, a: tuple[float, float], b: tuple[float, float], mm: float,
    *, expected: int | None = None,
) -> CaseView:  # fmt: skip
    """Say how far apart two points of a picture are on the board. [px], [mm]"""
    sheet = book_of(desk, case).chart.layer(layer)
    (x0, y0), (x1, y1) = sheet.to_board.at(*a), sheet.to_board.at(*b)
    now = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
    if not (now > 0.0 and mm > 0.0):
        raise DataError("These two points are one spot.", hint="click two points far apart, and say how many mm")
    event = ScaleSet(mm / now, f"{mm:g} mm between two points")
    return thought_through(desk, case, record(desk, case, event, expected=expected))


def name_pins(desk: Desk, case: str, part: str, rows: Sequence[PinRow], *, expected: int | None = None) -> CaseView:
    """Take names of pins from a table that somebody has looked over; pins the part does not have are refused."""
    entries = pins_named(book_of(desk, case).board, part, rows)
    return thought_through(desk, case, record(desk, case, *entries, expected=expected))


def pins_named(board: Board, part: str, rows: Sequence[PinRow]) -> tuple[PinNamed, ...]:
    """What is entered where a table names the pins of a part; `DataError` where it names none of them."""
    found = _named(board, board.part(part), rows)
    if not found:
        raise DataError(f"None of these pins is a pin of {part}.", hint="check the number of pins of its package")
    return tuple(PinNamed(f"{part}.{pin.number}", pin.role, pin.name) for pin in found)


def _named(board: Board, part: Part, rows: Sequence[PinRow]) -> list[Pin]:
    names = {pin_number(part, number): row.name for row in rows for number in row.pins}
    rails = {net.name for net in board.nets if net.rail}
    out = []
    for index, pin in enumerate(part.pins):
        if pin.number in names:
            name = names[pin.number]
            role, _ = role_for(
                part.kind, pin.number, None, name, pin.net, board.ground, rails,
                where=part.name, first=index == 0, two=len(part.pins) == 2,
            )  # fmt: skip
            out.append(Pin(pin.number, pin.net, role, name))
    return out


def pin_number(part: Part, written: str) -> str:
    """The number a pin has here for what a table calls it: the pad under the body comes last."""
    known = {pin.number for pin in part.pins}
    if written in known:
        return written
    under = re.fullmatch(r"(?i)(e-?p(ad)?|pad|tab|thermal( pad)?|exposed( pad)?)", written.strip())
    return part.pins[-1].number if under and len(known) % 2 else written


def free_name(board: Board, kind: str) -> str:
    """The next free name for a part of that kind."""
    letter = LETTERS.get(kind, "U")
    taken = {part.name for part in board.parts}
    return next(f"{letter}{n}" for n in range(1, len(taken) + 2) if f"{letter}{n}" not in taken)


def package_name(package: str, count: int) -> str:
    """What the trade calls a style with so many pins, the pad under the body not among them. [1]

    Counted as in IPC-7351's names and KiCad's: a DFN-8 has eight pins and a pad below, which the latter call EP.
    """
    if package not in PACKAGES:
        return package
    if package in ROWS:
        return f"{count} pins in {'a row' if package == 'row' else package}"
    if len(PACKAGES[package]) == 1:
        return package
    return f"SOIC-{count}W" if package == "SOIC-W" else f"{package}-{count}"


def mapped_part(name: str, kind: str, package: str, value: str, seating: Seating) -> Part:
    """A part as its pads lie; roles that its kind and package leave no doubt of are told."""
    pads = seating.pads
    pins = tuple(Pin(pad.pin, None, _first_role(kind, index, len(pads), package)) for index, pad in enumerate(pads))
    told = Spread(parse_quantity(value), 0.1, "told") if value.strip() else None
    return Part(name, kind, pins, told, package, place=seating.place)


def _first_role(kind: str, index: int, count: int, package: str) -> str:
    """Pin 1 of a diode is its cathode (IPC-7351); the legs of a FET in a SOT-23 are gate, source, drain."""
    if kind in TWO_ENDED and count == 2:
        return ("cathode", "anode")[index]
    if kind in ("fet-n", "fet-p") and count == 3 and package.startswith("SOT"):
        return ("gate", "source", "drain")[index]
    return "line" if kind == "esd" else ""


def far_pins(package: str, count: int) -> tuple[str, str]:
    """Numbers of the two pins that are clicked for a package. [1]"""
    first, far = far_land(pattern_of(package, count))
    return first.number, far.number


__all__ = [
    "PACKAGES", "add_picture", "blank_board", "describe_entry_at", "erase_part", "far_pins", "is_unnamed", "join_pads",
    "mapped_part", "move_part", "name_pins", "package_name", "pattern_of", "pin_number", "pins_named", "place_part",
    "redescribe_part", "set_scale", "tell_grounds", "tell_net",
]  # fmt: skip
