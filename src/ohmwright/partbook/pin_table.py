"""Pin tables as they come out of a datasheet by copy and paste: numbers, names, and what each pin does.

Makers agree on nothing: the number stands before the name or after it, several packages stand side by
side, several pins share a name, a description runs over lines, headers come again on each page, and some
viewers put every cell on a line of its own. So the text is read in each of the ways that tables are
written, and the reading that accounts for most of it, with the fewest oddities, is taken. What could not
be read is handed back too: the table is to be looked over before it is used.

>>> [(row.pins, row.name) for row in read_pin_table("VIN 1 P Supply\\nGND 2, EP G Ground").rows]
[(('1',), 'VIN'), (('2', 'EP'), 'GND')]
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from ohmwright.errors import DataError
from ohmwright.partbook.pin_lines import foreword, heading_labels, lineations, plain_lines, without_headings
from ohmwright.partbook.pin_words import (
    DASH,
    TYPE_WORDS,
    TYPES,
    is_name,
    is_odd_name,
    pin_list,
    short_name,
    split_pins,
)  # fmt: skip

MOST_COLUMNS = 4
"""Packages side by side. [1]"""
MOST_CHARACTERS = 200_000
"""In one text. [1]"""
LONGEST_DESCRIPTION = 600
"""Characters kept of one description. [1]"""


@dataclass(frozen=True, slots=True)
class PinRow:
    """One line of the table.

    Parameters
    ----------
    pins : tuple of str
        Numbers, balls, or ``EP`` for the pad under the body; empty where this package lacks the pin.
    kind : str
        As the table says it: ``P``, ``I/O``, ``Analog``; empty where it has no such column.
    words : str
        The description.
    """

    pins: tuple[str, ...]
    name: str
    kind: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class PinTable:
    """A table for one package.

    Parameters
    ----------
    columns : tuple of str
        The packages that the table has side by side, by their headings, or ``column 1`` and so on.
    column : int
        Which of them the rows are of. [1]
    unread : tuple of str
        Lines of which nothing could be made.
    """

    rows: tuple[PinRow, ...]
    columns: tuple[str, ...] = ("",)
    column: int = 0
    unread: tuple[str, ...] = ()

    @property
    def doubtful(self) -> tuple[str, ...]:
        """Pin numbers that stand there twice with different names."""
        seen: dict[str, str] = {}
        twice = []
        for row in self.rows:
            for pin in row.pins:
                if seen.setdefault(pin, row.name) != row.name:
                    twice.append(pin)
        return tuple(dict.fromkeys(twice))


@dataclass(frozen=True, slots=True)
class _Raw:
    """A row with the pins of every package."""

    columns: tuple[tuple[str, ...], ...]
    name: str
    kind: str
    words: str


@dataclass(frozen=True, slots=True)
class _Attempt:
    rows: tuple[_Raw, ...]
    unread: tuple[str, ...]
    score: float


def read_pin_table(text: str, column: int = 0) -> PinTable:
    """The pin table in a pasted text.

    Parameters
    ----------
    column : int
        Which package's pins are wanted where several stand side by side. [1]

    Raises
    ------
    DataError
        If no line looks like a pin with its name.
    """
    if len(text) > MOST_CHARACTERS:
        raise DataError(
            f"A text of {len(text)} characters.", hint=f"paste the pin table only, at most {MOST_CHARACTERS}"
        )
    lines = plain_lines(text)
    labels = heading_labels(lines)
    body = without_headings(lines)
    best = max(_attempts(body, labels), key=lambda attempt: attempt.score)
    if not best.rows:
        raise DataError(
            "No pin could be found in this text.",
            why="no line has both a pin's number and its name",
            hint="copy the lines of the pin table, with the numbers and the names",
        )
    count = len(best.rows[0].columns)
    names = tuple(labels) if len(labels) == count else tuple(f"column {n + 1}" for n in range(count))
    column = min(max(column, 0), count - 1)
    rows = tuple(PinRow(raw.columns[column], raw.name, raw.kind, raw.words) for raw in best.rows)
    return PinTable(tuple(row for row in rows if row.pins), names if count > 1 else ("",), column, best.unread)


def _attempts(body: Sequence[str], labels: Sequence[str]) -> Iterator[_Attempt]:
    """Every way of reading the text, with how well it went."""
    yield _spoken(body)
    for lines in lineations(body):
        for number_first in (True, False):
            for count in range(1, MOST_COLUMNS + 1):
                attempt = _read(lines, number_first, count)
                hinted = 0.0
                if attempt.rows and count > 1:
                    # Packages side by side have headings; a list of pins cut at its commas has none.
                    hinted = 12.0 if len(labels) == count else -3.0 * (count - 1)
                yield replace(attempt, score=attempt.score + hinted)


def _spoken(body: Sequence[str]) -> _Attempt:
    """``VIN (Pin 1): Input supply.`` as some makers write whole pages."""
    rows: list[_Raw] = []
    unread: list[str] = []
    for line in body:
        found = foreword(line)
        if found is not None:
            pins, name, words = found
            rows.append(_Raw((pins,), name, "", words))
        elif rows:
            rows[-1] = _longer(rows[-1], line)
        else:
            unread.append(line)
    return _Attempt(tuple(rows), tuple(unread), _score(rows, unread) + (5.0 if rows else 0.0))


def _read(lines: Sequence[str], number_first: bool, count: int) -> _Attempt:
    rows: list[_Raw] = []
    unread: list[str] = []
    for line in lines:
        row = _numbers_first(line, count) if number_first else _name_first(line, count)
        if row is not None and not _is_prose(row, rows, line):
            rows.append(row)
        elif rows:
            rows[-1] = _longer(rows[-1], line)
        else:
            unread.append(line)
    return _Attempt(tuple(rows), tuple(unread), _score(rows, unread))


def _is_prose(row: _Raw, before: Sequence[_Raw], line: str) -> bool:
    """Whether a line that looks like a row is the middle of a sentence: its pin was there already, or it is odd."""
    if not is_odd_name(row.name, row.words) or "\t" in line:
        return False
    if row.words[:1].islower():
        return True
    last = [pin for raw in before[-1:] for pins in raw.columns for pin in pins if pin.isdigit()]
    here = [pin for pins in row.columns for pin in pins if pin.isdigit()]
    return not (last and here and int(here[0]) == int(last[-1]) + 1)


def _numbers_first(line: str, count: int) -> _Raw | None:
    columns, rest = _columns(line, count)
    if columns is None:
        return None
    name, rest = _name(rest)
    if not name:
        return None
    kind, words = _kind(rest)
    return _Raw(columns, name, kind, words)


def _name_first(line: str, count: int) -> _Raw | None:
    name, rest = _name(line)
    if not name:
        return None
    columns, rest = _columns(rest, count)
    if columns is None:
        return None
    kind, words = _kind(rest)
    return _Raw(columns, name, kind, words)


def _columns(text: str, count: int) -> tuple[tuple[tuple[str, ...], ...] | None, str]:
    """So many cells of pin numbers at the start of a text, and the rest of it."""
    found: list[tuple[str, ...]] = []
    for _ in range(count):
        text = text.lstrip(" \t")
        dash = DASH.match(text)
        if dash:
            found.append(())
            text = text[dash.end() :]
            continue
        listed = pin_list(text)
        if listed is None:
            return None, text
        found.append(split_pins(listed))
        text = text[len(listed) :]
    return (tuple(found) if any(found) else None), text.lstrip(" \t:")


def _name(text: str) -> tuple[str, str]:
    """A pin's name at the start of a text, and the rest of it; a cell of its own may hold several words."""
    text = text.lstrip(" \t:")
    cell, tab, after = text.partition("\t")
    if tab and 0 < len(cell) <= 40 and is_name(cell):
        return short_name(cell), after
    dash = DASH.match(text)
    if dash and tab:
        return "NC", after
    word, _, rest = text.replace(" / ", "/", 1).partition(" ") if " / " in text[:24] else text.partition(" ")
    if tab and len(cell) <= len(word):
        word, rest = cell, after
    word = word.rstrip(":")
    if not is_name(word):
        return "", text
    return short_name(word), rest


def _kind(rest: str) -> tuple[str, str]:
    """The type column, where there is one, and the description."""
    rest = rest.lstrip(" \t:")
    cell, tab, after = rest.partition("\t")
    if tab and (cell.strip() in TYPES or cell.strip().lower() in TYPE_WORDS or DASH.fullmatch(cell.strip())):
        return ("" if DASH.fullmatch(cell.strip()) else cell.strip()), _words(after)
    word, _, after = rest.partition(" ")
    if word in TYPES:
        return word, _words(after)
    if DASH.fullmatch(word):
        # The dash parts the columns, or it stands for a package without the pin: the type may still come.
        second, _, rest_of_it = after.lstrip(" \t").partition(" ")
        return (second, _words(rest_of_it)) if second in TYPES else ("", _words(after))
    return (rest.strip(), "") if rest.strip().lower() in TYPE_WORDS else ("", _words(rest))


def _words(text: str) -> str:
    return " ".join(text.split())[:LONGEST_DESCRIPTION]


def _longer(row: _Raw, line: str) -> _Raw:
    return replace(row, words=_words(f"{row.words} {line}"))


def _score(rows: Sequence[_Raw], unread: Sequence[str]) -> float:
    """How well a reading accounts for a text. Weights are by trial; the tests hold them."""
    if not rows:
        return -1000.0
    total = 10.0 * len(rows) - 1.0 * len(unread)
    for number in range(len(rows[0].columns)):
        pins = [pin for row in rows for pin in row.columns[number]]
        total -= 8.0 * (len(pins) - len(set(pins)))
        figures = sorted({int(pin) for pin in pins if pin.isdigit()})
        if figures:
            total += 12.0 * len(figures) / max(figures[-1], 1) / len(rows[0].columns)
        else:
            total -= 4.0  # all balls or none: names such as D0 pass for balls
    for row in rows:
        total += 2.0 if row.kind else 0.0
        total -= 7.0 if row.name in TYPES and row.name not in ("GND", "NC") else 0.0
        total -= 3.0 if is_odd_name(row.name, row.words) else 0.0
        first = row.words.partition(" ")[0]
        total -= 5.0 if first and (DASH.fullmatch(first) or (pin_list(first) == first and len(first) < 4)) else 0.0
        total -= 4.0 if pin_list(row.name) == row.name else 0.0
    return total
