"""Builds the index: every symbol and land pattern of the installed libraries into one SQLite file."""

from __future__ import annotations

import hashlib
import os
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from ohmwright.errors import DataError, OhmwrightError
from ohmwright.library.entry import Land, Pinned
from ohmwright.library.fold import folded
from ohmwright.library.symbols import Symbol, read_land, read_symbols

SHAPE = "2"
"""Of the tables; an index of another shape is built anew."""
_TABLES = """
CREATE TABLE told (key TEXT PRIMARY KEY, value TEXT);
CREATE TABLE pinouts (id INTEGER PRIMARY KEY, n_pins INTEGER);
CREATE TABLE pins (pinout INTEGER, place INTEGER, number TEXT, name TEXT, type TEXT, PRIMARY KEY (pinout, place))
    WITHOUT ROWID;
CREATE TABLE words (word TEXT, pinout INTEGER, PRIMARY KEY (word, pinout)) WITHOUT ROWID;
CREATE TABLE symbols (id INTEGER PRIMARY KEY, library TEXT, name TEXT, folded TEXT, reference TEXT, footprint TEXT,
    filters TEXT, datasheet TEXT, description TEXT, pinout INTEGER, n_pins INTEGER);
CREATE TABLE lands (library TEXT, name TEXT, n_pads INTEGER, description TEXT);
CREATE VIRTUAL TABLE grams USING fts5(folded, content='', tokenize='trigram');
CREATE VIRTUAL TABLE texts USING fts5(description, content='', tokenize='porter');
"""
_INDICES = """
CREATE INDEX by_folded ON symbols (folded);
CREATE INDEX by_pinout ON symbols (pinout);
CREATE INDEX by_pads ON lands (n_pads, name);
"""
_FOLDERS = ("KICAD_SYMBOL_DIR", "KICAD6_SYMBOL_DIR", "KICAD7_SYMBOL_DIR", "KICAD8_SYMBOL_DIR", "KICAD9_SYMBOL_DIR")
"""Variables with which KiCad is told where its symbols are."""


@dataclass(frozen=True, slots=True)
class Installed:
    """Where libraries lie on this machine."""

    symbols: tuple[Path, ...]
    lands: tuple[Path, ...]

    @property
    def signature(self) -> str:
        """Changes whenever a library is added, removed or updated."""
        stats = [(p.name, s.st_size, int(s.st_mtime)) for p in self.symbols for s in (p.stat(),)]
        stats += [(p.name, 0, int(p.stat().st_mtime)) for p in self.lands]
        return f"{SHAPE}/{len(stats)}/{hashlib.sha256(repr(stats).encode()).hexdigest()[:16]}"


def installed_libraries(roots: Sequence[Path] = ()) -> Installed:
    """The libraries under the given folders, else those of the places KiCad's packages use."""
    if not roots:
        told = [os.environ[key] for key in _FOLDERS if key in os.environ]
        roots = [Path(p) for p in (*told, "/usr/share/kicad", "/usr/local/share/kicad", "/opt/kicad/share/kicad")]
        roots = [*roots, Path.home() / ".local" / "share" / "kicad"]
    symbols: dict[str, Path] = {}
    lands: dict[str, Path] = {}
    for root in roots:
        for folder in (root, root / "symbols"):
            symbols |= {p.name: p for p in sorted(folder.glob("*.kicad_sym"))}
        for folder in (root, root / "footprints"):
            lands |= {p.name: p for p in sorted(folder.glob("*.pretty"))}
    return Installed(tuple(symbols.values()), tuple(lands.values()))


def build_index(path: Path, installed: Installed) -> tuple[str, ...]:
    """Write the index; the old one stays in use until the new one is whole.

    Returns
    -------
    tuple of str
        What could not be read, one sentence each.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = path.with_name(f"{path.name}.{os.getpid()}.new")
    fresh.unlink(missing_ok=True)
    symbols, lands, troubles = _gathered(installed)
    try:
        with sqlite3.connect(fresh) as db:
            db.executescript("PRAGMA journal_mode=OFF; PRAGMA synchronous=OFF;" + _TABLES)
            _fill_symbols(db, symbols)
            rows = ((land.library, land.name, land.n_pads, land.description) for land in lands)
            db.executemany("INSERT INTO lands VALUES (?,?,?,?)", rows)
            db.executemany("INSERT INTO told VALUES (?,?)", [("signature", installed.signature)])
            db.executescript(_INDICES)
        db.close()
        fresh.replace(path)
    except (sqlite3.Error, OSError) as error:
        fresh.unlink(missing_ok=True)
        raise DataError(
            "The library index cannot be written.",
            where=str(path),
            why=str(error),
            hint="name another file with --index",
        ) from error
    return troubles


def _gathered(installed: Installed) -> tuple[list[Symbol], list[Land], tuple[str, ...]]:
    symbols: list[Symbol] = []
    lands: list[Land] = []
    troubles: list[str] = []
    for file in installed.symbols:
        try:
            symbols += read_symbols(file)
        except OhmwrightError as error:
            troubles.append(f"{file.name}: {error.what}")
    for file in (file for folder in installed.lands for file in sorted(folder.glob("*.kicad_mod"))):
        try:
            lands.append(read_land(file))
        except OhmwrightError as error:
            troubles.append(f"{file.name}: {error.what}")
    return symbols, lands, tuple(troubles)


def _fill_symbols(db: sqlite3.Connection, symbols: Iterable[Symbol]) -> None:
    by_name = {(s.library, s.name): s for s in symbols}
    pinouts: dict[tuple[Pinned, ...], int] = {}
    for number, symbol in enumerate(by_name.values(), 1):
        base = _rooted(symbol, by_name)
        pins = symbol.pins or base.pins
        pinout = pinouts.setdefault(pins, len(pinouts) + 1)
        name = folded(symbol.name)
        description = symbol.description or base.description
        db.execute(
            "INSERT INTO symbols VALUES (?,?,?,?,?,?,?,?,?,?,?)",
            (number, symbol.library, symbol.name, name, symbol.reference or base.reference,
             symbol.footprint or base.footprint, symbol.filters or base.filters, symbol.datasheet or base.datasheet,
             description, pinout, len({p.number for p in pins})),
        )  # fmt: skip
        db.execute("INSERT INTO grams (rowid, folded) VALUES (?,?)", (number, name))
        db.execute("INSERT INTO texts (rowid, description) VALUES (?,?)", (number, f"{description} {symbol.keywords}"))
    # A few large inserts: one for each of thousands of pinouts takes twice as long.
    counts = ((pinout, len({p.number for p in pins})) for pins, pinout in pinouts.items())
    db.executemany("INSERT INTO pinouts VALUES (?,?)", counts)
    rows = ((pinout, k, p.number, p.name, p.type) for pins, pinout in pinouts.items() for k, p in enumerate(pins))
    db.executemany("INSERT INTO pins VALUES (?,?,?,?,?)", rows)
    words = {(word, pinout) for pins, pinout in pinouts.items() for word in {folded_pin(p.name) for p in pins} - {""}}
    db.executemany("INSERT INTO words VALUES (?,?)", words)


def _rooted(symbol: Symbol, by_name: dict[tuple[str, str], Symbol]) -> Symbol:
    """The symbol it takes its pins from; a ring of names ends after a few steps."""
    for _ in range(5):
        base = by_name.get((symbol.library, symbol.base))
        if not symbol.base or base is None:
            break
        symbol = base
    return symbol


@lru_cache(maxsize=65_536)
def folded_pin(name: str) -> str:
    """A pin's name without bars, marks and case."""
    return "".join(mark for mark in name.upper() if mark.isalnum() or mark in "+-/")
