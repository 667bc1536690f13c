"""Tables of temperatures as cameras and spreadsheets write them: one frame or several, in °C, kelvin or °F.

What stands beside the temperatures is told from them by its shape: words before, between and after, units, the
numbers of rows and columns that a spreadsheet adds. Where a comma may be the point of a figure or part two of them, the
table is refused: a temperature that is wrong and looks right is worse than none.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

LEAST_EDGE = 8
MARKS = (";", "\t", ",", "")
"""What parts the figures of a row; the last is blanks."""
SOME_LINES = 400
"""By so many lines it is told what parts the figures. [1]"""
_FAHRENHEIT = re.compile(r"°\s*F\b|\bfahrenheit\b|[\[(]\s*F\s*[\])]|\bunits?\W+F\b", re.IGNORECASE)
_UNIT = re.compile(r"\s*(?:°\s*[CFK]?|deg\.?\s*[CF]|[CFK])$", re.IGNORECASE)
_SIGNS = str.maketrans({"−": "-", "\u00a0": "", "\u202f": ""})


class UnlikeTableError(Exception):
    """Why a text is no table of temperatures."""


def table_of(source: Path, most: int) -> Any:
    """Frames of a table, shape (n, h, w), in °C or kelvin; whole numbers where it holds nothing else.

    Parameters
    ----------
    most : int
        Values at most. [1]

    Raises
    ------
    UnlikeTableError
        With the reason, and the line.
    """
    import numpy as np

    lines = _text(source.read_bytes()).splitlines()
    mark = _mark_of(lines)
    table = _Table(mark, most)
    for number, line in enumerate(lines, 1):
        table.take(number, line)
    frames = [_bare(np.array(rows, dtype=np.float64)) for rows in table.blocks]
    if not frames or min(frames[0].shape) < LEAST_EDGE:
        raise UnlikeTableError("It is neither a picture nor a table of temperatures.")
    if any(frame.shape != frames[0].shape for frame in frames):
        raise UnlikeTableError("The pictures in it differ in size: it was cut short.")
    _refuse_parted_figures(lines, mark)
    out = np.stack(frames)
    return (out - 32.0) / 1.8 if table.fahrenheit else out


def _text(raw: bytes) -> str:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return raw.decode("utf-16", "replace")
    head = raw[:4096]
    if b"\x00" in head:
        for first, name in ((1, "utf-16-le"), (0, "utf-16-be")):
            if head[first::2].count(0) > 0.9 * (len(head) // 2) and not head[1 - first :: 2].count(0):
                return raw.decode(name, "replace")
        raise UnlikeTableError("It is neither a picture nor a table of numbers.")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def _mark_of(lines: Sequence[str]) -> str:
    """The mark that makes the longest row of figures."""
    return max(MARKS, key=lambda mark: max((len(_figures(line, mark) or ()) for line in lines[:SOME_LINES]), default=0))


def _words(line: str, mark: str) -> list[str]:
    """The fields of a row; in quotes a field may hold the mark itself, as RFC 4180 has it."""
    if not mark:
        return line.split()
    if '"' not in line:
        return line.split(mark)
    return next(csv.reader([line], delimiter=mark), [])


def _figures(line: str, mark: str) -> list[float] | None:
    """The figures of a row; None where it is none. A word in the first place names the row, or the columns."""
    words = [word.strip() for word in _words(line, mark)]
    while words and not words[-1]:
        words.pop()
    named = bool(words) and (not words[0] or (not _is_figure(words[0]) and len(words) > LEAST_EDGE))
    values = _read(words[named:])
    if values is None:
        return None
    return values if len(values) >= LEAST_EDGE else None


def _read(words: Sequence[str]) -> list[float] | None:
    try:
        return list(map(float, words))
    except ValueError:
        pass  # not plain: units, commas or words
    try:
        return [_figure(word) for word in words]
    except ValueError:
        return None


def _figure(word: str) -> float:
    """A figure with its unit and its comma; a field that holds a comma was quoted, or commas part nothing here."""
    return float(_UNIT.sub("", word.translate(_SIGNS)).replace(",", "."))


def _is_figure(word: str) -> bool:
    try:
        _figure(word)
    except ValueError:
        return False
    return True


class _Table:
    """Rows as they come: those that follow each other are one frame."""

    def __init__(self, mark: str, most: int) -> None:
        self.blocks: list[list[list[float]]] = []
        self.fahrenheit = False
        self._mark, self._most = mark, most
        self._open, self._total = False, 0

    def take(self, number: int, line: str) -> None:
        """One more line."""
        self.fahrenheit = self.fahrenheit or bool(_FAHRENHEIT.search(line))
        values = _figures(line, self._mark)
        if values is not None:
            self._row(number, values)
        elif line.strip(" ,;\t\"'"):
            if self.blocks and not self._is_title(line):
                raise UnlikeTableError(f"Line {number} is no row of numbers.")
            self._open = False
        else:
            self._open = False

    def _row(self, number: int, values: list[float]) -> None:
        if not self._open:
            self.blocks.append([])
        rows, self._open = self.blocks[-1], True
        if len(rows) == 1 and len(values) != len(rows[0]):
            rows.clear()  # what stands over the table: settings, or the numbers of its columns
        rows.append(values)
        self._total += len(values)
        if len(values) != len(rows[0]):
            raise UnlikeTableError(
                f"Line {number} has {len(values)} numbers, those before it {len(rows[0])}: it was cut short."
            )
        if self._total > self._most:
            raise UnlikeTableError(f"It holds more than {self._most:,} values.")

    def _is_title(self, line: str) -> bool:
        """Whether a line between or after the rows says something, and is no row that broke."""
        figures = sum(_is_figure(word.strip()) for word in _words(line, self._mark))
        says = re.search(r"[^\W\d_]{2}", line) is not None and re.search(r"[\d:=;,\t]", line) is not None
        return says and figures < LEAST_EDGE


def _counts_on(values: Sequence[float]) -> bool:
    """Whether figures are 0, 1, 2, … or 1, 2, 3, …: numbers of rows or columns, and no temperatures."""
    return values[0] in (0.0, 1.0) and all(v == values[0] + n for n, v in enumerate(values))


def _bare(rows: Any) -> Any:
    """A frame without the numbers of its columns and rows."""
    if rows.ndim == 2 and _counts_on(rows[0]):
        rows = rows[1:]
    if rows.ndim == 2 and len(rows) >= LEAST_EDGE and _counts_on(rows[:, 0]):
        rows = rows[:, 1:]
    return rows


def _refuse_parted_figures(lines: Sequence[str], mark: str) -> None:
    """Refuse 23,51,24,06: whether that is four figures or two cannot be told for sure."""
    if mark != ",":
        return
    rows = [_words(line, mark) for line in lines[:SOME_LINES] if _figures(line, mark) is not None]
    words = [[word.strip() for word in row] for row in rows]
    while words and all(row and not row[-1] for row in words):
        words = [row[:-1] for row in words]
    if any(len(row) % 2 or any("." in word or "," in word for word in row) for row in words):
        return
    second = [word for row in words for word in row[1::2]]
    first = [word for row in words for word in row[::2]]
    led = any(len(word) > 1 and word.startswith("0") for word in second)
    if led or (all(len(word) == 1 for word in second) and not all(len(word) == 1 for word in first)):
        raise UnlikeTableError(
            "Its figures seem to have a comma for the point and a comma between them, so they cannot be told apart: "
            "export it with semicolons, or with points."
        )
