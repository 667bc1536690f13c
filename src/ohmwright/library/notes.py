"""What the user's own book holds beside pins: limits of parts, places on typical circuits, and parts at hand."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ohmwright.errors import DataError

MOST_LINES = 500
"""Limits of one part, or places on the figure of one datasheet. [1]"""
MOST_STOCK = 20_000
_TABLES = """
CREATE TABLE IF NOT EXISTS limits (part TEXT, place INTEGER, sort TEXT, parameter TEXT, low REAL, typical REAL,
    high REAL, unit TEXT, page INTEGER, PRIMARY KEY (part, place));
CREATE TABLE IF NOT EXISTS figures (part TEXT PRIMARY KEY, paper TEXT, page INTEGER);
CREATE TABLE IF NOT EXISTS spots (paper TEXT, page INTEGER, name TEXT, x REAL, y REAL, role TEXT,
    PRIMARY KEY (paper, page, name));
CREATE TABLE IF NOT EXISTS stock (name TEXT, place TEXT, kind TEXT, properties TEXT, PRIMARY KEY (name, place));
"""


@dataclass(frozen=True, slots=True)
class Limit:
    """One confirmed line of a table of limits or conditions. Figures as printed, in the unit printed."""

    sort: str
    parameter: str
    low: float | None
    typical: float | None
    high: float | None
    unit: str
    page: int


@dataclass(frozen=True, slots=True)
class Spot:
    """A place somebody marked on a typical circuit: a pin or a part of the drawing.

    Parameters
    ----------
    x, y : float
        From the left and the top of the page, as shares of its width and height. [1]
    role : str
        What of the program's own typical circuit it stands for; empty where nobody said.
    """

    page: int
    name: str
    x: float
    y: float
    role: str = ""


@dataclass(frozen=True, slots=True)
class AtHand:
    """A part in a drawer or on a donor board; properties as they were written, such as ``50 V``."""

    name: str
    where: str
    kind: str
    properties: tuple[tuple[str, str], ...] = ()


class Notes:
    """The further pages of a part book; the same file as `ohmwright.library.book.OwnBook`, which makes it."""

    def __init__(self, path: Path) -> None:
        try:
            self._db = sqlite3.connect(path, timeout=10.0, check_same_thread=False)
            self._db.executescript(_TABLES)
        except sqlite3.Error as error:
            raise DataError("The part book cannot be opened.", where=str(path), why=str(error)) from error

    def close(self) -> None:
        """Done with it."""
        self._db.close()

    def keep_limits(self, part: str, limits: Sequence[Limit]) -> None:
        """Put the limits of a part in, in place of those it had."""
        _refuse_many("limits", limits)
        with self._db:
            self._db.execute("DELETE FROM limits WHERE part = ?", (part,))
            self._db.executemany(
                "INSERT INTO limits VALUES (?,?,?,?,?,?,?,?,?)",
                ((part, n, *(getattr(m, name) for name in Limit.__slots__)) for n, m in enumerate(limits)),
            )

    def limits(self, part: str) -> tuple[Limit, ...]:
        """The limits of a part in the order they were confirmed."""
        wanted = "sort, parameter, low, typical, high, unit, page"
        rows = self._db.execute(f"SELECT {wanted} FROM limits WHERE part = ? ORDER BY place", (part,))
        return tuple(Limit(*row) for row in rows)

    def set_figure(self, part: str, paper: str, page: int) -> None:
        """Say which page of which datasheet shows a part's typical circuit."""
        with self._db:
            self._db.execute("INSERT OR REPLACE INTO figures VALUES (?,?,?)", (part, paper, page))

    def figure(self, part: str) -> tuple[str, int] | None:
        """Key of the datasheet and page of a part's typical circuit, None where nobody said. [1]"""
        row = self._db.execute("SELECT paper, page FROM figures WHERE part = ?", (part,)).fetchone()
        return (str(row[0]), int(row[1])) if row else None

    def put_spot(self, paper: str, spot: Spot) -> None:
        """Mark a place on a figure, or move it."""
        _refuse_many("places", self.spots(paper))
        if not (0.0 <= spot.x <= 1.0 and 0.0 <= spot.y <= 1.0 and spot.name.strip()):
            raise DataError("A place needs a name and lies on the page.", hint="click on the picture of the page")
        with self._db:
            self._db.execute(
                "INSERT OR REPLACE INTO spots VALUES (?,?,?,?,?,?)",
                (paper, spot.page, spot.name, spot.x, spot.y, spot.role),
            )

    def drop_spot(self, paper: str, page: int, name: str) -> None:
        """Take a place from a figure."""
        with self._db:
            self._db.execute("DELETE FROM spots WHERE paper = ? AND page = ? AND name = ?", (paper, page, name))

    def spots(self, paper: str) -> tuple[Spot, ...]:
        """All places marked on the figures of a datasheet."""
        rows = self._db.execute("SELECT page, name, x, y, role FROM spots WHERE paper = ? ORDER BY name", (paper,))
        return tuple(Spot(*row) for row in rows)

    def put_stock(self, part: AtHand) -> None:
        """Note a part at hand, or what is known of it anew."""
        if not part.name.strip() or not part.where.strip():
            raise DataError("A part at hand needs a name and a place.", hint="such as: 10u 50V 0805, drawer 3")
        if len(self.stock()) >= MOST_STOCK:
            raise DataError(f"There are {MOST_STOCK} parts at hand already.")
        told = json.dumps(dict(part.properties), ensure_ascii=False)
        with self._db:
            self._db.execute(
                "INSERT OR REPLACE INTO stock VALUES (?,?,?,?)", (part.name, part.where, part.kind, told)
            )

    def drop_stock(self, name: str, where: str) -> None:
        """The part is used up."""
        with self._db:
            self._db.execute("DELETE FROM stock WHERE name = ? AND place = ?", (name, where))

    def stock(self, kinds: Sequence[str] = ()) -> tuple[AtHand, ...]:
        """Parts at hand, of some kinds or of all."""
        rows = self._db.execute("SELECT name, place, kind, properties FROM stock ORDER BY place, name").fetchall()
        found = (AtHand(row[0], row[1], row[2], _told(row[3])) for row in rows)
        return tuple(part for part in found if not kinds or part.kind in kinds)


def _told(text: str) -> tuple[tuple[str, str], ...]:
    data: Mapping[str, object] = json.loads(text)
    return tuple((str(key), str(value)) for key, value in data.items())


def _refuse_many(what: str, lines: Sequence[object]) -> None:
    if len(lines) >= MOST_LINES:
        raise DataError(f"{len(lines)} {what} are too many.", hint=f"fewer than {MOST_LINES}")
