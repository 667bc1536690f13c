"""What a datasheet tells: pins per package, limits, conditions, bodies, and the page of the typical circuit.

Everything found is a candidate with its page and its place on it, to be looked at beside the picture of the
page and confirmed. Nothing here is taken over by itself.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import takewhile
from pathlib import Path

from ohmwright.datasheets.figures import At, Figure, figures_of
from ohmwright.datasheets.heads import PACKAGE
from ohmwright.datasheets.lines import box_of, gutter_of, lines_of
from ohmwright.datasheets.paper import Page, Paper, read_paper
from ohmwright.datasheets.tables import Table, find_tables
from ohmwright.errors import DataError
from ohmwright.partbook.pin_table import PinRow, read_pin_table
from ohmwright.partbook.pin_words import is_name, pin_list, short_name, split_pins

PIN_HEADS = {
    "number": re.compile(
        r"(?i:(?:pin|terminal|ball|pad|lead)s?(?: ?(?:no\.?|numbers?|#|nos\.?))?|no\.?|numbers?|num\.?|#|position)"
    ),
    "name": re.compile(
        r"(?i:(?:(?:pin|terminal|signal|ball|pad) ?)?(?:name|names|symbol|mnemonic|label|designation)|signal)"
    ),
    "kind": re.compile(r"(?i:(?:pin |signal )?type|i ?/ ?o|i/o type|dir\.?|direction|in/out|attribute)"),
    "words": re.compile(
        r"(?i:(?:pin |signal )?(?:descriptions?|functions?|definition|purpose|details|function description))"
    ),
}
RATING_HEADS = {
    "parameter": re.compile(r"(?i:parameters?|rating names?|characteristics?|item|description|ratings?(?= ))"),
    "symbol": re.compile(r"(?i:symbols?|sym\.?)"),
    "low": re.compile(r"(?i:min\.?|minimum)"),
    "typical": re.compile(r"(?i:typ\.?|nom\.?|typical|nominal)"),
    "high": re.compile(r"(?i:max\.?|maximum)"),
    "value": re.compile(r"(?i:values?|ratings?|limits?|range)"),
    "unit": re.compile(r"(?i:units?)"),
    "condition": re.compile(r"(?i:(?:test )?conditions?|notes?)"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class PinsFound:
    """The pins of one package as a table has them, to be confirmed.

    Parameters
    ----------
    places : tuple of At
        Where each row stands, one per row; empty where rows have no place of their own.
    """

    package: str
    rows: tuple[PinRow, ...]
    at: At
    doubts: tuple[str, ...] = ()
    places: tuple[At, ...] = ()


@dataclass(frozen=True, slots=True)
class Rated:
    """One line of a table of limits or conditions, to be confirmed. Values as printed, numbers where they are."""

    sort: str
    parameter: str
    low: float | None
    typical: float | None
    high: float | None
    unit: str
    at: At


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that was found in a datasheet.

    Parameters
    ----------
    circuits : tuple of Figure
        Drawings of typical circuits, likeliest first.
    bodies : tuple of (str, int)
        Names of packages with the first page that names them.
    notes : tuple of str
        What could not be read, such as pages without text.
    sizes : tuple of (int, float, float)
        Number, width and height of each page that was gone through. [1], [pt]
    """

    file: str
    pages: int
    pins: tuple[PinsFound, ...] = ()
    ratings: tuple[Rated, ...] = ()
    circuits: tuple[Figure, ...] = ()
    bodies: tuple[tuple[str, int], ...] = ()
    notes: tuple[str, ...] = ()
    sizes: tuple[tuple[int, float, float], ...] = ()


def read_sheet(path: Path) -> Sheet:
    """What a datasheet in PDF tells. See `Sheet`; `FileFormatError` where it cannot be read at all."""
    return sheet_of(read_paper(path))


def sheet_of(paper: Paper) -> Sheet:
    """What the pages of a datasheet tell."""
    pin_tables = find_tables(paper.pages, PIN_HEADS, (("number",), ("name", "words")))
    rating_tables = find_tables(
        paper.pages, RATING_HEADS, (("parameter", "symbol"), ("low", "high", "value", "typical"))
    )
    pins = tuple(found for table in pin_tables for found in _pins(table))
    return Sheet(
        paper.name,
        paper.count,
        pins or tuple(_spoken(paper.pages)),
        tuple(rated for table in rating_tables for rated in _ratings(table)),
        tuple(figures_of(paper.pages, {row.name for found in pins for row in found.rows})),
        tuple(_bodies(paper.pages)),
        tuple(_notes(paper)),
        tuple((page.number, page.width, page.height) for page in paper.pages),
    )


def _notes(paper: Paper) -> Iterator[str]:
    blank = paper.without_text
    if len(blank) == paper.count:
        yield (
            "No page carries text: it seems to be scanned. Pages can be looked at, and pins typed or pasted; nothing "
            "is read from pictures."
        )
    elif blank:
        shown = ", ".join(str(n) for n in blank[:12]) + (", ..." if len(blank) > 12 else "")
        yield f"Pages without text, perhaps scanned, of which nothing was read: {shown}."
    if len(paper.pages) < paper.count:
        read = f"{len(paper.pages)} of {paper.count} pages were gone through"
        yield f"{read}: those that speak of pins, limits, packages and circuits."


def _pins(table: Table) -> Iterator[PinsFound]:
    names = _name_column(table)
    if names is None:
        return
    numbers = [k for k, c in enumerate(table.columns) if c.sort == "number" and k != names and _is_numbers(table, k)]
    kinds = [k for k, c in enumerate(table.columns) if c.sort == "kind"]
    words = [k for k, c in enumerate(table.columns) if c.sort == "words"]
    for k in numbers:
        rows, doubts, places = [], [], []
        for row in table.rows:
            listed, name = _plain(row.cells[k]), short_name(row.cells[names])
            pins = split_pins(listed) if pin_list(listed) is not None else ()
            if not name or (not pins and listed not in ("-", "--", "N/A", "n/a", "")):
                doubts.append(" | ".join(row.cells))
                continue
            told = " ".join(row.cells[w] for w in words)
            rows.append(PinRow(pins, name, " ".join(row.cells[c] for c in kinds), told))
            places.append(At(row.page, row.box))
        if len(rows) >= 2 and sum(bool(row.pins) for row in rows) >= 2:
            label = table.columns[k].head if table.columns[k].group or PACKAGE.search(table.columns[k].head) else ""
            yield PinsFound(label, tuple(rows), At(table.page, table.box), tuple(doubts), tuple(places))


def _spoken(pages: Sequence[Page]) -> Iterator[PinsFound]:
    """Pins told in sentences, ``VIN (Pin 1): Input supply``, or in tables whose heads say nothing known here."""
    for page in pages:
        gutter = gutter_of(page)
        for left, right in [(0.0, page.width)] if gutter is None else [(0.0, gutter), (gutter, page.width)]:
            lines = lines_of(w for w in page.words if left <= w.box.middle[0] < right)
            start = next((k for k, line in enumerate(lines) if _PIN_TITLE.search(line.text)), None)
            if start is None:
                continue
            size = lines[start + 1].size if start + 1 < len(lines) else 0.0
            block = list(takewhile(lambda line, size=size: line.size <= 1.12 * size, lines[start + 1 :]))  # type: ignore[misc]  # the default binds the size of this block
            try:
                table = read_pin_table("\n".join(line.text for line in block))
            except DataError:
                continue
            if len(table.rows) >= 2:
                yield PinsFound("", table.rows, At(page.number, box_of(line.box for line in block)), table.unread)


_PIN_TITLE = re.compile(
    r"(?i)pin\s+(?:functions?|descriptions?|configurations?|assignments?|definitions?)|terminal functions?"
)


def _plain(text: str) -> str:
    return re.sub(r"[–—−]", "-", text).strip()


def _is_numbers(table: Table, k: int) -> bool:
    cells = [_plain(row.cells[k]) for row in table.rows]
    fit = sum(pin_list(cell) is not None or cell in ("-", "--", "N/A") for cell in cells if cell)
    return fit >= 0.6 * max(1, sum(bool(cell) for cell in cells))


def _name_column(table: Table) -> int | None:
    fitting = [k for k, c in enumerate(table.columns) if c.sort == "name"]
    if fitting:
        return fitting[0]
    scores = {
        k: sum(is_name(row.cells[k]) for row in table.rows) / max(1, len(table.rows))
        for k, c in enumerate(table.columns)
        if c.sort in ("number", "") and not _is_numbers(table, k)
    }
    best = max(scores, key=lambda k: scores[k], default=None)
    return best if best is not None and scores[best] > 0.6 else None


_NUMBER = re.compile(r"[+±-]?\s?\d+(?:[.,]\d+)?")


def _ratings(table: Table) -> Iterator[Rated]:
    sort = _sort_of_limits(table.above)
    if not sort:
        return
    place = {c.sort: k for k, c in reversed(list(enumerate(table.columns)))}
    name = place.get("parameter", place.get("symbol"))
    if name is None:
        return
    for row in table.rows:
        low, typical, high = (
            _number(row.cells[place[key]]) if key in place else None for key in ("low", "typical", "high")
        )
        if "value" in place:
            low, high = _range(row.cells[place["value"]], low, high)
        unit = row.cells[place["unit"]].strip() if "unit" in place else ""
        if row.cells[name].strip() and not (low is None and typical is None and high is None):
            yield Rated(sort, row.cells[name].strip(), low, typical, high, unit, At(row.page, row.box))


def _sort_of_limits(above: str) -> str:
    """``absolute`` or ``recommended`` by the last heading above the table that says so."""
    absolute = [m.start() for m in re.finditer(r"(?i)absolute\s+maximum|maximum\s+ratings", above)]
    wanted = [m.start() for m in re.finditer(r"(?i)recommended|operating\s+(?:conditions|ratings)", above)]
    if not absolute and not wanted:
        return ""
    return "absolute" if max(absolute, default=-1) > max(wanted, default=-1) else "recommended"


def _number(text: str) -> float | None:
    found = _NUMBER.search(_plain(text))
    return float(found[0].replace(" ", "").replace(",", ".").lstrip("±+")) if found else None


def _range(text: str, low: float | None, high: float | None) -> tuple[float | None, float | None]:
    """``-0.3 to 6``, ``±8``, ``260``."""
    plain = _plain(text)
    found = re.match(rf"({_NUMBER.pattern})\s*(?:to|\.\.\.?|~)\s*({_NUMBER.pattern})", plain)
    if found:
        return _number(found[1]), _number(found[2])
    one = _number(plain)
    if one is not None and plain.lstrip().startswith("±"):
        return -one, one
    return low, one if one is not None else high


def _bodies(pages: Sequence[Page]) -> Iterator[tuple[str, int]]:
    first: dict[str, int] = {}
    count: Counter[str] = Counter()
    for page in pages:
        for line in lines_of(page.words):
            for match in PACKAGE.finditer(line.text):
                if re.search(r"\d", match[0]):
                    first.setdefault(match[0], page.number)
                    count[match[0]] += 1
    yield from ((name, first[name]) for name, _ in count.most_common(8))
