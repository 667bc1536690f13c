"""KiCad symbol libraries, formats of KiCad 6 to 9, into plain rows. Nothing drawn is kept."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ohmwright.errors import FileFormatError
from ohmwright.library.entry import Land, Pinned
from ohmwright.syntax.sexpr import read_text

MOST_PINS = 5_000
"""Of one symbol. [1] the largest package known here has 2 892 balls"""


@dataclass(frozen=True, slots=True)
class Symbol:
    """One symbol; `base` names the one whose pins it has where it has none of its own."""

    library: str
    name: str
    base: str
    reference: str
    footprint: str
    filters: str
    datasheet: str
    description: str
    keywords: str
    pins: tuple[Pinned, ...]


_TOKEN = re.compile(
    r"""
      \((symbol|extends|name|number)\s++("(?:[^"\\]|\\.)*+"|[^\s()"]++)                              # 1, 2
    | \((property)\s++("(?:[^"\\]|\\.)*+"|[^\s()"]++)\s++("(?:[^"\\]|\\.)*+"|[^\s()"]++)          # 3, 4, 5
    | \((pin)\s++([a-z_]++)\s                                                                      # 6, 7
    | "(?:[^"\\]|\\.)*+"                                                                           # any other text
    """,
    re.VERBOSE | re.DOTALL,
)
_UNIT = re.compile(r"_\d+_\d+\Z")


def read_symbols(path: Path) -> tuple[Symbol, ...]:
    """The symbols of one library file.

    Libraries hold a hundred megabytes, nine tenths of it drawing, so they are scanned for the few words wanted
    and not parsed whole; quoted text is stepped over, so nothing inside it is taken for a word. A test holds
    the scan against the full reader of `ohmwright.syntax.sexpr`.

    Raises
    ------
    FileFormatError
        If it is no symbol library.
    """
    text = read_text(path)
    if not re.match(r"\s*\(\s*kicad_symbol_lib\b", text):
        raise FileFormatError(
            "This is not a KiCad symbol library.", where=str(path), why=f"it begins with {text[:40]!r}",
            hint="symbol libraries end in .kicad_sym",
        )  # fmt: skip
    return tuple(_scanned(path.stem, text))


def _scanned(library: str, text: str) -> Iterator[Symbol]:
    name, base, told = "", "", dict[str, str]()
    pins: list[list[str]] = []
    for found in _TOKEN.finditer(text):
        word = found[1]
        if word is None:
            if found[6]:
                pins.append(["", "", found[7]])
            elif found[3]:
                told.setdefault(_plain(found[4]), _plain(found[5]))
            continue
        value = _plain(found[2])
        if word == "symbol":
            if name and value.startswith(name) and _UNIT.fullmatch(value[len(name) :]):
                continue
            if name:
                yield _symbol(library, name, base, told, pins)
            name, base, told, pins = value.rpartition(":")[2], "", {}, []
        elif word == "extends":
            base = value
        elif pins:
            pins[-1][0 if word == "number" else 1] = value
    if name:
        yield _symbol(library, name, base, told, pins)


def _plain(token: str) -> str:
    if not token.startswith('"'):
        return token
    return token[1:-1].replace('\\"', '"').replace("\\\\", "\\") if "\\" in token else token[1:-1]


def _symbol(library: str, name: str, base: str, told: dict[str, str], pins: list[list[str]]) -> Symbol:
    kept = dict.fromkeys(Pinned(number, "" if label == "~" else label, kind) for number, label, kind in pins)
    return Symbol(
        library, name, base, told.get("Reference", ""), told.get("Footprint", ""), told.get("ki_fp_filters", ""),
        _url(told.get("Datasheet", "")), told.get("ki_description", told.get("Description", "")),
        told.get("ki_keywords", ""), tuple(kept)[:MOST_PINS],
    )  # fmt: skip


def _url(text: str) -> str:
    return "" if text.strip() in ("", "~") else text


_PAD = re.compile(r'\(pad\s+("(?:[^"\\]|\\.)*"|[^\s()]+)\s+(?!np_thru_hole)')
_TOLD = re.compile(r'\(descr\s+"((?:[^"\\]|\\.)*)"')


def read_land(path: Path) -> Land:
    """A land pattern's name and number of pads, by a scan: patterns are parsed whole only when asked for."""
    text = read_text(path, size_limit=20_000_000)
    numbers = {found[1].strip('"') for found in _PAD.finditer(text)} - {""}
    told = _TOLD.search(text)
    return Land(path.stem, path.parent.stem, len(numbers), told[1][:300] if told else "")
