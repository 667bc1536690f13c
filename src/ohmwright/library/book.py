"""The user's own part book: parts entered by hand or read from a datasheet, each with where it came from."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Sequence
from pathlib import Path

from ohmwright.errors import DataError
from ohmwright.library.entry import Found, Pinned
from ohmwright.library.fold import folded, likeness

APPLICATION = 0x4F48504B
"""Marks the file as ours ("OHPK"), so that another program's is never written to. [1]"""
MOST_PINS = 5_000
_TABLES = """
CREATE TABLE IF NOT EXISTS parts (name TEXT PRIMARY KEY, folded TEXT, source TEXT, description TEXT, footprint TEXT,
    datasheet TEXT);
CREATE TABLE IF NOT EXISTS pins (part TEXT REFERENCES parts(name) ON DELETE CASCADE, place INTEGER, number TEXT,
    name TEXT, type TEXT, PRIMARY KEY (part, place));
"""


def default_book() -> Path:
    """Where the book is kept unless told otherwise (XDG Base Directory Specification: data home)."""
    home = os.environ.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    return Path(home) / "ohmwright" / "partbook.sqlite"


class OwnBook:
    """A part book in one SQLite file, made when it is not there yet."""

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._db = sqlite3.connect(path, timeout=10.0, check_same_thread=False)
            mark = self._db.execute("PRAGMA application_id").fetchone()[0]
            tables = self._db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
            if tables and mark != APPLICATION:
                raise DataError("This file belongs to another program.", where=str(path), hint="name another file")
            self._db.executescript(
                f"PRAGMA application_id={APPLICATION}; PRAGMA foreign_keys=ON; PRAGMA synchronous=FULL;{_TABLES}"
            )
        except (sqlite3.Error, OSError) as error:
            raise DataError(
                "The part book cannot be opened.", where=str(path), why=str(error), hint="name another file"
            ) from error

    def close(self) -> None:
        """Done with it."""
        self._db.close()

    def add(self, part: Found) -> None:
        """Put a part into the book, in place of the one of that name."""
        if not part.name.strip() or not part.source.strip():
            raise DataError(
                "A part of the book needs a name and where it is from.", hint="name the datasheet and its page"
            )
        if not part.pins or len(part.pins) > MOST_PINS:
            raise DataError(f"{part.name} has {len(part.pins)} pins.", hint="give its pin table")
        with self._db:
            self._db.execute("DELETE FROM parts WHERE name = ?", (part.name,))
            self._db.execute(
                "INSERT INTO parts VALUES (?,?,?,?,?,?)",
                (part.name, folded(part.name), part.source, part.description, part.footprint, part.datasheet),
            )
            self._db.executemany(
                "INSERT INTO pins VALUES (?,?,?,?,?)",
                ((part.name, k, pin.number, pin.name, pin.type) for k, pin in enumerate(part.pins)),
            )

    def remove(self, name: str) -> None:
        """Take a part out of the book."""
        with self._db:
            self._db.execute("DELETE FROM parts WHERE name = ?", (name,))

    def find(
        self, name: str = "", *, n_pins: int | None = None, pin_names: Sequence[str] = (), most: int = 20
    ) -> tuple[Found, ...]:
        """Parts of the book that fit, the best first."""
        asked = folded(name)
        wanted = {pin.upper() for pin in pin_names}
        fits = []
        for row in self._db.execute("SELECT name, source, description, footprint, datasheet, folded FROM parts"):
            pins = tuple(Pinned(*p) for p in self._pins(row[0]))
            score = likeness(asked, row[5]) if asked else 1.0
            right = n_pins is None or len({p.number for p in pins}) in (n_pins, n_pins + 1)
            if score > 0.45 and right and wanted <= {p.name.upper() for p in pins}:
                fits.append(Found(row[0], row[1], row[2], row[3], row[4], pins, round(score, 4)))
        return tuple(sorted(fits, key=lambda found: (-found.score, found.name))[:most])

    def _pins(self, name: str) -> list[tuple[str, str, str]]:
        return self._db.execute("SELECT number, name, type FROM pins WHERE part = ? ORDER BY place", (name,)).fetchall()
