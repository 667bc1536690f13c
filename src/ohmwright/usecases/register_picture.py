"""Find where a picture lies on the board, and tell what two pictures of one board show differently."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ohmwright.boardmap import Chart, Layer
from ohmwright.casebook import Entry
from ohmwright.casebook.events import PartMapped, PictureRegistered, ScaleSet
from ohmwright.circuit import Board, Part, Pin
from ohmwright.errors import DataError
from ohmwright.geometry import Homography, Pad, Pair
from ohmwright.usecases.desk import CaseView, Desk, book_of, record, thought_through
from ohmwright.usecases.picture_ports import Eyes

MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True)
class Difference:
    """A box of the board that two pictures show differently, and the parts of the map that lie in it. [mm]"""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    strength: float
    parts: tuple[str, ...]


def register_picture(
    desk: Desk, case: str, eyes: Eyes, key: str, side: str, onto: str = "", *, expected: int | None = None
) -> CaseView:
    """Find where a picture lies, and take it down; see `found_place`."""
    return take_place(desk, case, *found_place(desk, case, eyes, key, side, onto), expected=expected)


def found_place(desk: Desk, case: str, eyes: Eyes, key: str, side: str, onto: str = "") -> tuple[Layer, Layer]:
    """A picture as it lies, and as it should by what it has in common with another.

    Parameters
    ----------
    onto : str
        Key of the other; by default the first of its side, or of all.
    """
    chart = book_of(desk, case).chart
    layer = layer_of(chart, key, side)
    others = [other for other in chart.layers if other is not layer]
    if not others:
        raise DataError(
            "There is no other picture to lay this one on.", hint="add one more, or tell the scale by a known length"
        )
    wished = [other for other in others if onto and other.key == onto]
    same = [other for other in others if other.side == side]
    target = (wished or same or others)[0]
    return layer, eyes.registered(chart, layer, target)


def register_by_pairs(
    desk: Desk,
    case: str,
    eyes: Eyes,
    key: str,
    side: str,
    pairs: Sequence[tuple[str, Pair, Pair]],
    *,
    expected: int | None = None,
) -> CaseView:
    """Lay a picture by places marked in it and in others.

    Parameters
    ----------
    pairs : sequence of (str, (float, float), (float, float))
        Key of the other picture, the place in it, and the same place in this one. [px]
    """
    chart = book_of(desk, case).chart
    layer = layer_of(chart, key, side)
    if len(pairs) < 2:
        raise DataError("One pair of points is too few.", hint="mark two at least, four or more for a photo held askew")
    on_board = [(chart.layer(other).to_board.at(*there), here) for other, there, here in pairs]
    return take_place(desk, case, layer, eyes.by_pairs(chart, layer, on_board), expected=expected)


def scale_from_dpi(
    desk: Desk, case: str, key: str, dots_per_inch: float, *, expected: int | None = None
) -> CaseView:
    """Say at how many dots per inch a picture was scanned. [px/inch]"""
    layer = book_of(desk, case).chart.layer(key)
    if not 20 <= dots_per_inch <= 20_000:
        raise DataError(f"A scan at {dots_per_inch:g} dots per inch.", hint="scanners give 150 to 4800")
    factor = MM_PER_INCH / dots_per_inch / layer.mm_per_px
    event = ScaleSet(factor, f"a scan at {dots_per_inch:g} dpi")
    return thought_through(desk, case, record(desk, case, event, expected=expected))


def differences(desk: Desk, case: str, eyes: Eyes, first: str, second: str) -> tuple[Difference, ...]:
    """What the second picture shows otherwise than the first, the strongest first."""
    book = book_of(desk, case)
    a, b = book.chart.layer(first), book.chart.layer(second)
    if a.side != b.side:
        raise DataError("These pictures show different sides.", hint="choose two pictures of one side")
    return tuple(
        Difference(
            c.x_mm, c.y_mm, c.width_mm, c.height_mm, c.strength,
            _parts_in(book.board, a.side, (c.x_mm, c.y_mm, c.x_mm + c.width_mm, c.y_mm + c.height_mm)),
        )
        for c in eyes.changes(a, b)
    )  # fmt: skip


def _parts_in(board: Board, side: str, box: tuple[float, float, float, float]) -> tuple[str, ...]:
    out = []
    for part in board.parts:
        place = part.place
        if place is None or place.side != side:
            continue
        reach = max(place.width_mm, place.height_mm) / 2
        across = box[0] - reach < place.x_mm < box[2] + reach
        if across and box[1] - reach < place.y_mm < box[3] + reach:
            out.append(part.name)
    return tuple(out)


def layer_of(chart: Chart, key: str, side: str) -> Layer:
    """The picture of that key on that side, or on any."""
    found = [layer for layer in chart.layers if layer.key == key and layer.side == side]
    return found[0] if found else chart.layer(key)


def take_place(desk: Desk, case: str, was: Layer, now: Layer, *, expected: int | None = None) -> CaseView:
    """Take down where a picture was found to lie; parts laid on it go along."""
    book = book_of(desk, case)
    entries: list[Entry] = [PictureRegistered(was.key, now)]
    first = next(layer for layer in book.chart.layers if layer.side == was.side)
    if first is was:
        # Parts laid on a side's first picture were laid on this one: they go where it goes.
        entries += _carried(book.board, book.chart, was, now)
    return thought_through(desk, case, record(desk, case, *entries, expected=expected))


def _carried(board: Board, chart: Chart, was: Layer, now: Layer) -> list[Entry]:
    """The parts of that side, where they lie once the picture does; only where both are the same pixels."""
    if was.key != now.key:
        return []
    over = now.to_board.after(was.to_board.inverse)
    out: list[Entry] = []
    for name in dict.fromkeys(pad.part for pad in chart.pads if pad.side == was.side):
        part = board.part(name)
        if part.place is None:
            continue
        pads = tuple(_moved_pad(pad, over) for pad in chart.pads_of(name))
        x, y = over.at(part.place.x_mm, part.place.y_mm)
        turn, grown = _turn(over, part.place.x_mm, part.place.y_mm)
        place = replace(
            part.place, x_mm=x, y_mm=y, width_mm=part.place.width_mm * grown, height_mm=part.place.height_mm * grown,
            angle_deg=part.place.angle_deg + turn,
        )  # fmt: skip
        pins = tuple(Pin(pin.number, None, pin.role) for pin in part.pins)
        moved = Part(part.name, part.kind, pins, part.value, part.package, place=place, marking=part.marking)
        out.append(PartMapped(moved, pads))
    return out


def _moved_pad(pad: Pad, over: Homography) -> Pad:
    turn, grown = _turn(over, pad.x_mm, pad.y_mm)
    x, y = over.at(pad.x_mm, pad.y_mm)
    return replace(
        pad, x_mm=x, y_mm=y, width_mm=pad.width_mm * grown, height_mm=pad.height_mm * grown,
        angle_deg=pad.angle_deg + turn,
    )  # fmt: skip


def _turn(over: Homography, x: float, y: float) -> tuple[float, float]:
    """Counter-clockwise turn [degrees] and growth [1] of a map at a place of the board."""
    a, b = over.at(x, y), over.at(x + 0.1, y)
    return math.degrees(math.atan2(-(b[1] - a[1]), b[0] - a[0])), math.hypot(b[0] - a[0], b[1] - a[1]) / 0.1
