"""Lay parts on a picture by two clicks, drawn onto the pads that the picture shows; one, or several alike in a row."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ohmwright.boardmap import PAIR, SHARES, Chart, Layer, far_land, scale_told, seated_on
from ohmwright.casebook import Entry
from ohmwright.casebook.events import PartMapped, ScaleSet
from ohmwright.circuit import Board
from ohmwright.devices import KINDS
from ohmwright.errors import DataError, UnknownNameError
from ohmwright.geometry import Homography, LandPattern, Pair, land_pattern, similarity, similarity_from_pairs
from ohmwright.usecases.desk import CaseView, Desk, book_of, record, thought_through
from ohmwright.usecases.map_board import PACKAGES, ROWS, free_name, mapped_part, package_name, pattern_of
from ohmwright.usecases.picture_ports import Eyes, Snapped

CHIPS = ("0201", "0402", "0603", "0805", "1206", "1210", "2010", "2512")
"""Case sizes a two-terminal part is tried as. IPC-7351 names in inches"""
CERAMIC = frozenset({"capacitor", "resistor", "ferrite", "fuse", "link", "sense", "unknown-two-pads", "led", "diode"})
"""Kinds that come in those sizes."""
LEAST_PX = 3.0
"""Two clicks nearer than this are one spot. [px]"""
CLICKS_MM = 0.42
"""How much the distance of two clicks is off. [mm] two clicks that miss by 0.3 mm each, a guess"""
LARGER = 0.3
"""Power of a pad's area by which the larger of two patterns that fit about alike is meant. [1] a guess"""
COMMON = 0.3
"""Power of how common a case is by which the more common of two that fit about alike is meant. [1] a guess"""
MISSED = 3.0
"""Of those, how many the clicks may be off for a package still to be held against the picture. [1] with two, one in
twenty is never looked at"""
MOST_GUESSED = 24
"""Packages that are held against the picture for a guess. [1]"""
MOST_IN_ROW = 60


@dataclass(frozen=True, slots=True)
class Laying:
    """A part to be laid: what it is, and the picture it is laid on.

    Parameters
    ----------
    package : str
        A style of `PACKAGES`, a case size, or empty for two pads of any size.
    count : int
        Pins, without a pad under the body. [1]
    """

    kind: str
    layer: str
    first: Pair
    far: Pair
    package: str = ""
    count: int = 2
    name: str = ""
    value: str = ""


@dataclass(frozen=True, slots=True)
class Laid:
    """What came of it: the case, and what is to be said of each part that is not sure."""

    view: CaseView
    parts: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AsClicked:
    """Pads that lie where they were clicked; nothing was sought on the picture. [mm], [1]"""

    on_picture: Homography
    moved_mm: float = 0.0
    score: float = 0.0
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class Guess:
    """A package that two clicks fit. `score` is how well it fits; it only orders them. [1]"""

    package: str
    count: int
    score: float


def lay_part(desk: Desk, case: str, eyes: Eyes, wish: Laying, *, expected: int | None = None) -> Laid:
    """Lay a part; without a name it gets the next that is free."""
    return lay_row(desk, case, eyes, wish, wish.first, 1, expected=expected)


def lay_row(
    desk: Desk,
    case: str,
    eyes: Eyes,
    wish: Laying,
    last: Pair,
    how_many: int,
    *,
    begin: int = 0,
    expected: int | None = None,
) -> Laid:
    """Lay several parts alike, evenly spaced.

    Parameters
    ----------
    last : (float, float)
        Where pin 1 of the last one is on the picture. [px]
    how_many : int
        All of them, the first and the last included. [1]
    begin : int
        1 where the first one is on the map already. [1]
    """
    book = book_of(desk, case)
    if wish.kind not in KINDS:
        raise UnknownNameError.among("kind of part", wish.kind, KINDS)
    if not 1 <= how_many <= MOST_IN_ROW:
        raise DataError(f"{how_many} parts in a row.", hint=f"from 1 to {MOST_IN_ROW}")
    if math.hypot(wish.first[0] - wish.far[0], wish.first[1] - wish.far[1]) < LEAST_PX:
        raise DataError("Both clicks are on one spot.", hint="click pin 1, then the pin farthest from it")
    layer, board, chart = book.chart.layer(wish.layer), book.board, book.chart
    entries: list[Entry] = []
    names, notes = [], []
    for n in range(begin, how_many):
        share = n / (how_many - 1) if how_many > 1 else 0.0
        step = ((last[0] - wish.first[0]) * share, (last[1] - wish.first[1]) * share)
        here = replace(wish, first=_by(wish.first, step), far=_by(wish.far, step), name=wish.name if n == 0 else "")
        name, made, note, grew = _one(board, chart, layer, eyes, here)
        entries.append(made)
        chart = chart.with_pads(made.part.name, made.pads)
        if grew is not None:
            entries.append(grew)
            chart = chart.scaled(grew.factor, grew.source)
            layer = chart.layer(wish.layer)
        board = board.with_part(made.part)
        names.append(name)
        notes += [note] if note else []
    view = thought_through(desk, case, record(desk, case, *entries, expected=expected))
    return Laid(view, tuple(names), tuple(notes))


def guess_package(
    desk: Desk, case: str, eyes: Eyes, layer: str, first: Pair, far: Pair, least: int = 2
) -> tuple[Guess, ...]:
    """Which packages have two pads so far apart, those the picture bears out first.

    Parameters
    ----------
    first, far : (float, float)
        Pin 1, and the pin farthest from it. [px]
    least : int
        How many pins it has at the least; two pads fit well within many a chip. [1]
    """
    return guessed(book_of(desk, case).chart, eyes, layer, first, far, least)


def guessed(chart: Chart, eyes: Eyes, layer: str, first: Pair, far: Pair, least: int = 2) -> tuple[Guess, ...]:
    """The same on a chart."""
    if not chart.scale_from:
        raise DataError(
            "How large a millimetre is on this picture is not known yet.",
            hint="tell a length, the scan's dpi, or lay one part whose package you know",
        )
    sheet = chart.layer(layer)
    wanted = math.hypot(far[0] - first[0], far[1] - first[1]) * sheet.mm_per_px
    near = []
    for package, count in _all_packages():
        if count < least:
            continue
        pattern = _pattern(package, count)
        a, b = far_land(pattern)
        off = abs(math.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm) - wanted)
        if off < max(MISSED * CLICKS_MM, 0.08 * wanted):
            near.append((off, package, count, pattern))
    out = []
    for _, package, count, pattern in sorted(near, key=lambda one: one[0])[:MOST_GUESSED]:
        on = _on(pattern, sheet, first, far, 1.0)
        snap = eyes.snapped(sheet, pattern, on, scale_known=True, taken=chart.pads)
        # Of packages held against one picture what it shows says more than how far apart the clicks are.
        out.append(Guess(package, count, snap.score * _fits(pattern, snap.score, wanted)))
    return tuple(sorted(out, key=lambda guess: -guess.score))


def pattern_guessed(guess: Guess) -> LandPattern:
    """The pads of a guess."""
    return _pattern(guess.package, guess.count)


def _all_packages() -> list[tuple[str, int]]:
    many = [(name, n) for name, counts in PACKAGES.items() for n in counts if name not in ROWS]
    return [(size, 2) for size in CHIPS] + many


def _by(at: Pair, step: Pair) -> Pair:
    return at[0] + step[0], at[1] + step[1]


def _pattern(package: str, count: int) -> LandPattern:
    return land_pattern(package, ["1", "2"]) if package in CHIPS else pattern_of(package, count)


def _on(pattern: LandPattern, layer: Layer, first: Pair, far: Pair, told: float | None) -> Homography:
    """The pattern as clicked; true to its millimetres where it is known how many one of the chart is. [1]"""
    a, b = far_land(pattern)
    clicked = similarity_from_pairs([(a.x_mm, a.y_mm), (b.x_mm, b.y_mm)], [first, far])
    if told is None:
        return clicked
    px = math.hypot(far[0] - first[0], far[1] - first[1]) / math.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm)
    grown = 1.0 / (layer.mm_per_px * told) / px
    x, y = (a.x_mm + b.x_mm) / 2, (a.y_mm + b.y_mm) / 2
    return clicked.after(similarity(grown, 0.0, x * (1 - grown), y * (1 - grown)))


def _one(
    board: Board, chart: Chart, layer: Layer, eyes: Eyes, wish: Laying
) -> tuple[str, PartMapped, str, ScaleSet | None]:
    name = wish.name.strip() or free_name(board, wish.kind)
    if name in board.part_by_name:
        raise DataError(f"There is a {name} already.", hint="give it another name, or erase the other first")
    known = bool(chart.scale_from)
    told = 1.0 if known else scale_told(_spans(board, chart, layer.side))
    pattern, snap, package = _best(eyes, chart, layer, wish, told)
    seating = seated_on(name, pattern, layer, snap.on_picture)
    part = mapped_part(name, wish.kind, package_name(package, wish.count), wish.value, seating)
    note = f"{name}: {snap.doubt}." if snap.doubt else ""
    grew = None
    if wish.package and pattern.sourced and not known:
        grown = _mm_per_px(snap.on_picture) / layer.mm_per_px
        grew = ScaleSet(grown, f"{name}, {part.package}")
    return name, PartMapped(part, seating.pads), note, grew


def _spans(board: Board, chart: Chart, side: str) -> list[float]:
    """How far apart the pads of the small parts of a side lie that were laid already. [mm] of the chart"""
    small = {part.name for part in board.parts if part.kind in CERAMIC and len(part.pins) == 2}
    at: dict[str, list[Pair]] = {}
    for pad in chart.pads:
        if pad.part in small and pad.side == side:
            at.setdefault(pad.part, []).append((pad.x_mm, pad.y_mm))
    return [math.dist(*ends) for ends in at.values() if len(ends) == 2]


def _best(
    eyes: Eyes, chart: Chart, layer: Layer, wish: Laying, told: float | None
) -> tuple[LandPattern, Snapped, str]:
    """The pattern, where it lies, and the name of its package; `told` is how many true mm one of the chart is. [1]"""
    known = bool(chart.scale_from)

    def laid(pattern: LandPattern, on: Homography, *, sized: bool) -> Snapped:
        return eyes.snapped(layer, pattern, on, scale_known=sized, taken=chart.pads)

    if wish.package:
        pattern = _pattern(wish.package, wish.count)
        sized = known and pattern.sourced
        on = _on(pattern, layer, wish.first, wish.far, 1.0 if sized else None)
        return pattern, laid(pattern, on, sized=sized), wish.package
    tries: list[tuple[LandPattern, Snapped, str]] = []
    if told and wish.kind in CERAMIC:
        mm = math.dist(wish.first, wish.far) * layer.mm_per_px * told
        for size in _sizes_near(mm):
            pattern = land_pattern(("C" if wish.kind == "capacitor" else "R") + size, ["1", "2"])
            on = _on(pattern, layer, wish.first, wish.far, told)
            tries.append((pattern, laid(pattern, on, sized=True), size))
        if tries:
            best = max(tries, key=lambda one: _fits(one[0], one[1].score, mm) * SHARES[one[2]] ** COMMON)
            return best if known else (*best[:2], "")  # by parts that were laid a size is likely, not known
    plain = _on(PAIR, layer, wish.first, wish.far, None)
    if wish.kind == "coil":
        # Its body hides most of its pads, whatever their size: the clicks lie nearer to them than what is found.
        return PAIR, AsClicked(plain), ""
    return PAIR, eyes.pair(layer, plain, chart.pads), ""


def _sizes_near(mm: float) -> Sequence[str]:
    """Case sizes whose pads are about so far apart. [mm]"""
    away = []
    for size in CHIPS:
        a, b = land_pattern("R" + size, ["1", "2"]).lands
        away.append((abs(abs(b.x_mm - a.x_mm) - mm), size))
    return [size for off, size in sorted(away) if off < max(2.7 * CLICKS_MM, 0.25 * mm)][:4]


def _fits(pattern: LandPattern, score: float, clicked_mm: float) -> float:
    """How well one of several patterns fits. [mm]

    A small pattern lies within a large part's cap and body as well as on its own, so of two that fit about alike the
    larger is meant; and of those the one whose pads are about so far apart as was clicked.
    """
    a, b = far_land(pattern)
    off = (math.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm) - clicked_mm) / CLICKS_MM
    return float(score * (a.width_mm * a.height_mm) ** LARGER * math.exp(-0.15 * off * off))


def _mm_per_px(on_picture: Homography) -> float:
    a, b = on_picture.at(0.0, 0.0), on_picture.at(1.0, 0.0)
    return 1.0 / math.hypot(b[0] - a[0], b[1] - a[1])
