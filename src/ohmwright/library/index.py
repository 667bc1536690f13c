"""Searching the index: by name, by a mark read badly, by number of pins, by names of pins."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Sequence
from pathlib import Path

from ohmwright.errors import DataError
from ohmwright.library.build import Installed, folded_pin
from ohmwright.library.entry import Found, Land, Pinned
from ohmwright.library.fold import folded, likeness

MOST_ASKED = 80
"""Characters of a name that are looked at. [1]"""
CANDIDATES = 150
"""Names compared letter by letter after the trigrams have sorted them. [1]"""


def default_index() -> Path:
    """Where the index is kept unless told otherwise (XDG Base Directory Specification: cache home)."""
    home = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(home) / "ohmwright" / "libraries.sqlite"


class LibraryIndex:
    """An index that was built; opened for reading only."""

    def __init__(self, path: Path) -> None:
        self.path = path
        if not path.is_file():
            raise DataError(
                "There is no library index yet.", where=str(path),
                why="the installed symbol libraries have not been gone through",
                hint="run `ohmwright part index`; without libraries, enter pins by hand or read a datasheet",
            )  # fmt: skip
        try:
            self._db = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, check_same_thread=False)
            self._signature = self._db.execute("SELECT value FROM told WHERE key='signature'").fetchone()[0]
        except (sqlite3.Error, TypeError) as error:
            raise DataError(
                "The library index cannot be read.", where=str(path), why=str(error),
                hint="delete it and run `ohmwright part index`",
            ) from error  # fmt: skip

    def is_fresh(self, installed: Installed) -> bool:
        """Whether it still fits the libraries installed."""
        return bool(self._signature == installed.signature)

    def close(self) -> None:
        """Done with it."""
        self._db.close()

    def find(
        self,
        name: str = "",
        *,
        n_pins: int | None = None,
        pin_names: Sequence[str] = (),
        words: str = "",
        most: int = 20,
    ) -> tuple[Found, ...]:
        """Parts that fit, the best first.

        Parameters
        ----------
        name : str
            A part number or a mark, whole or in part, well or badly read.
        n_pins : int or None
            Pins with different numbers; one more is let pass, for the pad under the body.
        pin_names : sequence of str
            All of them must be among the part's pins.
        words : str
            Words of the description.
        """
        asked = folded(name[:MOST_ASKED])
        where, values = self._where(n_pins, pin_names, words)
        if asked:
            rows = self._named(asked, where, values)
            scored = [(likeness(asked, str(row[1])), row) for row in rows]
            scored = sorted(scored, key=lambda entry: (-entry[0], str(entry[1][2])))
        elif where:
            rows = self._db.execute(f"{_ROWS} FROM symbols s WHERE {' AND '.join(where)} LIMIT 500", values).fetchall()
            scored = [(1.0, row) for row in rows]
        else:
            raise DataError("Nothing was asked for.", hint="give a name, a number of pins or names of pins")
        return tuple(self._found(row, score) for score, row in scored[:most] if score > 0.45)

    def lands(self, name: str = "", *, n_pads: int | None = None, most: int = 20) -> tuple[Land, ...]:
        """Land patterns by a part of their name and their number of pads."""
        fits = "name LIKE ? ESCAPE '\\' AND n_pads BETWEEN ? AND ?"
        sql = f"SELECT name, library, n_pads, description FROM lands WHERE {fits}"
        least, top = (0, 100_000) if n_pads is None else (n_pads, n_pads)
        rows = self._db.execute(
            f"{sql} ORDER BY length(name), name LIMIT ?", (_like(name), least, top, most)
        ).fetchall()
        return tuple(Land(*row) for row in rows)

    def counts(self) -> tuple[int, int, int]:
        """Symbols, different pinouts, land patterns."""
        a, b, c = (self._db.execute(f"SELECT count(*) FROM {t}").fetchone()[0] for t in ("symbols", "pinouts", "lands"))
        return int(a), int(b), int(c)

    def _where(self, n_pins: int | None, pin_names: Sequence[str], words: str) -> tuple[list[str], list[object]]:
        where: list[str] = []
        values: list[object] = []
        if n_pins is not None:
            where.append("s.n_pins IN (?, ?)")
            values += [n_pins, n_pins + 1]
        for pin in pin_names:
            where.append("s.pinout IN (SELECT pinout FROM words WHERE word = ?)")
            values.append(folded_pin(pin))
        plain = " ".join(f'"{word}"' for word in "".join(m if m.isalnum() else " " for m in words).split())
        if plain:
            where.append("s.id IN (SELECT rowid FROM texts WHERE texts MATCH ?)")
            values.append(plain)
        return where, values

    def _named(self, asked: str, where: list[str], values: list[object]) -> list[tuple[object, ...]]:
        also = "".join(f" AND {term}" for term in where)
        found: dict[object, tuple[object, ...]] = {}
        direct = f"{_ROWS} FROM symbols s WHERE (s.folded = ? OR s.folded GLOB ?){also} LIMIT {CANDIDATES}"
        for row in self._db.execute(direct, [asked, f"{asked}*", *values]):
            found[row[0]] = row
        grams = sorted({asked[k : k + 3] for k in range(len(asked) - 2)})
        if grams:
            ask = " OR ".join(f'"{gram}"' for gram in grams)
            joined = f"{_ROWS} FROM grams JOIN symbols s ON s.id = grams.rowid WHERE grams MATCH ?{also}"
            near = f"{joined} ORDER BY rank LIMIT {CANDIDATES}"
            for row in self._db.execute(near, [ask, *values]):
                found.setdefault(row[0], row)
        return list(found.values())

    def _found(self, row: tuple[object, ...], score: float) -> Found:
        pins = self._db.execute("SELECT number, name, type FROM pins WHERE pinout = ? ORDER BY place", (row[8],))
        return Found(
            str(row[2]), f"library {row[3]}", str(row[4] or ""), str(row[5] or ""), str(row[6] or ""),
            tuple(Pinned(*pin) for pin in pins), round(score, 4),
        )  # fmt: skip


_ROWS = "SELECT s.id, s.folded, s.name, s.library, s.description, s.footprint, s.datasheet, s.n_pins, s.pinout"


def _like(text: str) -> str:
    for mark in "\\%_":
        text = text.replace(mark, f"\\{mark}")
    return f"%{text[:MOST_ASKED]}%"
