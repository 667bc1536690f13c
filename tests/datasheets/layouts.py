"""Generated datasheets in fourteen layouts. The reader was tuned on `TUNED`; the others were run when it was done."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import zip_longest
from pathlib import Path

from tests.datasheets.invented import PartTruth, PinTruth, RatingTruth, invented_part
from tests.datasheets.pdf_writer import HEIGHT, WIDTH, Page, width_of, wrapped, write_pdf

PROSE = (
    "The regulator turns an input of 4.5 V to 17 V into an output that is set by 2 resistors. Its switches are inside, "
    "and the loop needs no outer parts. In light load it skips pulses so that 80 percent are kept down to 10 mA. A "
    "short at the output is answered by 16 pauses of 4 ms each, after which the part tries again."
)


@dataclass(frozen=True)
class Style:
    """How tables of one layout look."""

    name: str
    head: tuple[str, ...] = ("PIN", "NAME", "TYPE", "DESCRIPTION")
    order: tuple[str, ...] = ("numbers", "name", "kind", "words")
    vertical: bool = False
    horizontal: str = "none"  # none, frame (head and foot), rows
    shade: bool = False
    zebra: bool = False
    size: float = 8.5
    centre: tuple[str, ...] = ()
    middle: bool = False  # short cells stand at half the height of a long one
    packages: int = 1
    pins: int = 12
    columns: int = 1
    head_again: bool = True
    rows_fit: int = 99
    padding: float = 3.0
    values_as_range: bool = False
    group_head: bool = False
    lead: tuple[str, ...] = ()
    numbers_join: str = ", "
    weights: tuple[float, ...] = field(default=())
    halves: int = 1
    spoken: bool = False
    notes: tuple[str, ...] = ()


@dataclass
class Flow:
    """Where the next thing is written: page, column, height."""

    style: Style
    pages: list[Page]
    y: float = 60.0
    column: int = 0

    @property
    def page(self) -> Page:
        return self.pages[-1]

    @property
    def left(self) -> float:
        return 50.0 + self.column * (self.width + 20.0)

    @property
    def width(self) -> float:
        return (WIDTH - 100.0 - 20.0 * (self.style.columns - 1)) / self.style.columns

    def room(self, height: float) -> bool:
        return self.y + height <= HEIGHT - 60.0

    def on(self) -> None:
        if self.column + 1 < self.style.columns:
            self.column += 1
        else:
            self.pages.append(Page())
            self.column = 0
            number = len(self.pages)
            self.page.text(50, 36, "NORTH FIELD DEVICES", 7)
            self.page.text(WIDTH - 50, 36, f"Rev. B, page {number}", 7, align="right")
            self.page.text(WIDTH / 2, HEIGHT - 30, str(number), 7, align="centre")
        self.y = 60.0

    def heading(self, text: str, size: float = 12.0) -> None:
        if not self.room(90):
            self.on()
        self.y += 16
        self.page.text(self.left, self.y, text, size, bold=True)
        self.y += 12

    def prose(self, text: str, size: float = 9.0) -> None:
        for line in wrapped(text, size, self.width):
            if not self.room(14):
                self.on()
            self.page.text(self.left, self.y, line, size)
            self.y += 11.5
        self.y += 4


def table(
    flow: Flow,
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    shares: Sequence[float],
    groups: Sequence[tuple[int, int, str]] = (),
) -> None:
    style = flow.style
    drawn = 0
    _head(flow, head, shares, groups)
    for k, row in enumerate(rows):
        edges = _edges(flow, shares)
        cells = [wrapped(text, style.size, edges[c + 1] - edges[c] - 2 * style.padding) for c, text in enumerate(row)]
        height = max(len(cell) for cell in cells) * (style.size + 2.0) + 2 * style.padding
        if not flow.room(height + 8) or drawn >= style.rows_fit:
            if style.horizontal == "frame":
                flow.page.line(edges[0], flow.y, edges[-1], flow.y)
            flow.on()
            drawn = 0
            edges = _edges(flow, shares)
            if style.head_again:
                _head(flow, head, shares, groups)
        _row(flow, edges, cells, height, zebra=style.zebra and k % 2 == 1)
        drawn += 1
    edges = _edges(flow, shares)
    if style.horizontal in ("frame", "rows"):
        flow.page.line(edges[0], flow.y, edges[-1], flow.y)
    flow.y += 10


def _edges(flow: Flow, shares: Sequence[float]) -> list[float]:
    edges = [flow.left]
    for share in shares:
        edges.append(edges[-1] + flow.width * share / sum(shares))
    return edges


def _head(flow: Flow, head: Sequence[str], shares: Sequence[float], groups: Sequence[tuple[int, int, str]]) -> None:
    style, edges = flow.style, _edges(flow, shares)
    height = (style.size + 5.0) * (2 if groups else 1) + 2
    if style.shade:
        flow.page.box(edges[0], flow.y, edges[-1], flow.y + height, 0.82)
    if style.horizontal != "none":
        flow.page.line(edges[0], flow.y, edges[-1], flow.y, 1.0)
    for first, last, text in groups:
        flow.page.text(
            (edges[first] + edges[last]) / 2, flow.y + style.size + 1, text, style.size, bold=True, align="centre"
        )
        if style.horizontal != "none":
            flow.page.line(edges[first], flow.y + style.size + 4, edges[last], flow.y + style.size + 4)
    for c, text in enumerate(head):
        grouped = any(first <= c < last for first, last, _ in groups)
        y = flow.y + height - 4.5 if (grouped or not groups) else flow.y + height / 2 + 3
        middle = (edges[c] + edges[c + 1]) / 2
        if text in style.centre or "*" in style.centre:
            flow.page.text(middle, y, text, style.size, bold=True, align="centre")
        else:
            flow.page.text(edges[c] + style.padding, y, text, style.size, bold=True)
    _verticals(flow, edges, height)
    flow.y += height
    if style.horizontal != "none":
        flow.page.line(edges[0], flow.y, edges[-1], flow.y)


def _row(flow: Flow, edges: Sequence[float], cells: Sequence[Sequence[str]], height: float, *, zebra: bool) -> None:
    style = flow.style
    if zebra:
        flow.page.box(edges[0], flow.y, edges[-1], flow.y + height, 0.93)
    tallest = max(len(cell) for cell in cells)
    for c, cell in enumerate(cells):
        down = (tallest - len(cell)) * (style.size + 2.0) / 2.0 if style.middle else 0.0
        for k, line in enumerate(cell):
            y = flow.y + style.padding + down + (k + 1) * (style.size + 2.0) - 3.0
            if "*" in style.centre and c < len(cells) - 1:
                flow.page.text((edges[c] + edges[c + 1]) / 2, y, line, style.size, align="centre")
            else:
                flow.page.text(edges[c] + style.padding, y, line, style.size)
    _verticals(flow, edges, height)
    flow.y += height
    if style.horizontal == "rows":
        flow.page.line(edges[0], flow.y, edges[-1], flow.y, 0.4)


def _verticals(flow: Flow, edges: Sequence[float], height: float) -> None:
    if flow.style.vertical:
        for x in edges:
            flow.page.line(x, flow.y, x, flow.y + height, 0.4)


def pin_table(flow: Flow, part: PartTruth) -> None:
    style = flow.style
    if style.spoken:
        for pin in part.pins:
            flow.prose(f"{pin.name} (Pin {pin.numbers[0]}): {pin.words}")
        return
    if style.halves > 1:
        rows = [_pin_cells(style, pin) for pin in part.pins]
        half = -(-len(rows) // style.halves)
        blank = [""] * len(style.head)
        beside = [[*a, *b] for a, b in zip_longest(rows[:half], rows[half:], fillvalue=blank)]
        table(flow, style.head * 2, beside, (1, 2) * 2)
        return
    head: list[str] = []
    shares: list[float] = []
    groups: list[tuple[int, int, str]] = []
    widths = {"numbers": 1.1, "name": 1.5, "kind": 0.9, "words": 6.0 if style.columns == 1 else 3.6}
    for label, what in zip(style.head, style.order, strict=True):
        if what == "numbers" and style.packages > 1:
            groups.append((len(head), len(head) + style.packages, label))
            head += part.packages
            shares += [1.25] * style.packages
        else:
            head.append(label)
            shares.append(widths[what])
    table(flow, head, [_pin_cells(style, pin) for pin in part.pins], shares, groups if style.group_head else ())
    for note in style.notes:
        flow.prose(note, 7.5)


def _pin_cells(style: Style, pin: PinTruth) -> list[str]:
    cells: list[str] = []
    for what in style.order:
        if what == "numbers":
            cells += [number.replace(", ", style.numbers_join) for number in pin.numbers]
        else:
            cells.append({"name": pin.name, "kind": pin.kind, "words": pin.words}[what])
    return cells


def limit_table(flow: Flow, rows: Sequence[RatingTruth], *, typical: bool) -> None:
    if flow.style.values_as_range and not typical:
        cells = [[r.parameter, f"{r.low} to {r.high}" if r.low else r.high, r.unit] for r in rows]
        table(flow, ("Parameter", "Rating", "Unit"), cells, (4, 2, 1))
    elif typical:
        cells = [[r.parameter, r.low, r.typical, r.high, r.unit] for r in rows]
        table(flow, ("PARAMETER", "MIN", "TYP", "MAX", "UNIT"), cells, (4, 1, 1, 1, 1))
    else:
        cells = [[r.parameter, r.low, r.high, r.unit] for r in rows]
        table(flow, ("PARAMETER", "MIN", "MAX", "UNIT"), cells, (4, 1, 1, 1))


def circuit(flow: Flow, part: PartTruth) -> None:
    if not flow.room(230):
        flow.on()
    x, y = flow.left + 60, flow.y + 20
    flow.page.box(x + 60, y, x + 150, y + 120)
    flow.page.text(x + 105, y + 60, part.name, 9, align="centre")
    for k, pin in enumerate(part.pins[:6]):
        side = x + 60 if k % 2 else x + 150
        flow.page.line(side, y + 15 + 15 * k, side + (-40 if k % 2 else 40), y + 15 + 15 * k)
        flow.page.text(side + (3 if k % 2 else -24), y + 13 + 15 * k, pin.name, 6)
        flow.page.line(side + (-40 if k % 2 else 40), y + 15 + 15 * k, side + (-40 if k % 2 else 40), y + 150)
    flow.y = y + 170
    flow.page.text(
        flow.left + flow.width / 2, flow.y, "Figure 1. Typical Application Circuit", 8.5, bold=True, align="centre"
    )
    flow.y += 20


def datasheet(path: Path, style: Style, seed: int) -> PartTruth:
    part = invented_part(seed, style.packages, style.pins)
    flow = Flow(style, [Page()])
    flow.page.text(50, 50, f"{part.name} Step-Down Converter", 15, bold=True)
    flow.y = 70
    flow.heading("1 Features")
    for line in ("Input 4.5 V to 17 V, output 3 A", f"Package: {', '.join(part.packages)}", "600 kHz, 0.6 V reference"):
        flow.prose(f"- {line}")
    flow.heading("2 Description")
    flow.prose(PROSE)
    for line in style.lead:
        flow.prose(line)
    circuit(flow, part)
    flow.heading("3 Pin Functions")
    pin_table(flow, part)
    flow.heading("4 Absolute Maximum Ratings")
    flow.prose("Beyond these the part may be damaged for good.")
    limit_table(flow, part.limits, typical=False)
    flow.heading("5 Recommended Operating Conditions")
    limit_table(flow, part.recommended, typical=True)
    flow.heading("6 Detailed Description")
    for _ in range(3):
        flow.prose(PROSE)
    write_pdf(path, flow.pages)
    return part


RULED = Style("ruled", vertical=True, horizontal="rows")
HALF = Style(
    "rows ruled", head=("NAME", "NO.", "I/O", "FUNCTION"), order=("name", "numbers", "kind", "words"),
    horizontal="rows",
    pins=14,
)  # fmt: skip
BARE = Style(
    "borderless, two packages", head=("PIN", "NAME", "I/O", "DESCRIPTION"), packages=2, group_head=True, pins=12,
    size=8.0,
    values_as_range=True,
)  # fmt: skip
LONG = Style("ruled, over pages", vertical=True, horizontal="rows", pins=28, size=9.5, rows_fit=14, middle=True)
NARROW = Style(
    "two columns of text, bare", head=("Pin", "Name", "Function"), order=("numbers", "name", "words"), columns=2,
    pins=9,
    size=7.5,
)  # fmt: skip
TUNED = (RULED, HALF, BARE, LONG, NARROW)

SHADED = Style(
    "shaded stripes", head=("Symbol", "Pin", "Description"), order=("name", "numbers", "words"), shade=True, zebra=True,
    pins=13, middle=True, centre=("*",),
)  # fmt: skip
THREE = Style(
    "head and foot ruled, three packages, no second head", head=("PIN NO.", "PIN NAME", "TYPE", "DESCRIPTION"),
    packages=3,
    group_head=True, horizontal="frame", pins=26, rows_fit=13, head_again=False, size=8.0,
)  # fmt: skip
COLUMNS = Style(
    "table running on in the next column", head=("Number", "Mnemonic", "Description"), order=("numbers", "name",
    "words"),
    columns=2, horizontal="rows", pins=22, size=8.0, rows_fit=10,
)  # fmt: skip
TIGHT = Style(
    "ruled, centred, name first", head=("PIN NAME", "PIN NUMBER", "FUNCTION"), order=("name", "numbers", "words"),
    vertical=True, horizontal="rows", middle=True, centre=("*",), pins=16, numbers_join=",", size=7.5, padding=1.5,
)  # fmt: skip
TRAPS = Style(
    "bare, between lists that look like tables", head=("Terminal", "Name", "I/O", "Description"), pins=15, size=9.0,
    values_as_range=True,
    lead=(
        "1. Switch the supply off before the part is changed.", "2 Pads must be joined to the plane by 9 vias.",
        "Ordering: reel of 3000, mark 7K2, moisture level 1.",
    ),
)  # fmt: skip
HELD_OUT = (SHADED, THREE, COLUMNS, TIGHT, TRAPS)

LAST = Style(
    "numbers behind the description", head=("PIN NAME", "I/O", "DESCRIPTION", "PIN"), order=("name", "kind", "words",
    "numbers"),
    horizontal="rows", packages=2, group_head=True, pins=13, size=8.0,
)  # fmt: skip
DOUBLE = Style(
    "two halves side by side", head=("PIN", "NAME"), order=("numbers", "name"), horizontal="frame", pins=20, size=9.0,
    halves=2,
)  # fmt: skip
SPOKEN = Style("pins told in sentences", pins=11, spoken=True, order=("numbers", "name", "words"), head=("", "", ""))
NOTED = Style(
    "large type, notes below, loose rows", head=("Pin #", "Pin Name", "Type", "Pin Function"), size=10.5, padding=5.0,
    pins=14,
    horizontal="frame", notes=("(1) P: power, G: ground, I: input, O: output.", "(2) 1 Do not connect."),
)  # fmt: skip
SECOND_HELD_OUT = (LAST, DOUBLE, SPOKEN, NOTED)
"""Written after the figures of `HELD_OUT` were taken and two faults that it showed were mended."""


def scanned(path: Path, seed: int = 3) -> None:
    """A page that is one picture, as a scanner makes it."""
    chance = random.Random(seed)
    page = Page()
    page.picture(30, 30, WIDTH - 60, HEIGHT - 60, bytes(chance.randrange(200, 256) for _ in range(120 * 160)), 120, 160)
    write_pdf(path, [page, page])


Maker = Callable[[Path], None]
__all__ = ["HELD_OUT", "SECOND_HELD_OUT", "TUNED", "Style", "datasheet", "replace", "scanned", "width_of"]
