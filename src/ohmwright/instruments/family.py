"""What a family of instruments is told and what it answers: one TOML file each, so that users add theirs.

A file says how to recognise the family by its answer to ``*IDN?``, how its line is set, what each mode is switched with
and read by, and what the meter applies and how well it tells. A hand-held meter without a line has only the last of
these. It holds words and numbers only: nothing in it is run.
"""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from importlib.resources import files
from pathlib import Path
from typing import Any

from ohmwright.errors import FileFormatError, UnknownNameError
from ohmwright.facts import HANDHELD, Meter, Quantity
from ohmwright.facts.accuracy import ROOT_3, Accuracy
from ohmwright.instruments.line_settings import LineSettings

SHIPPED = Path(str(files("ohmwright.instruments"))) / "families"
LARGEST = 64_000
"""Bytes of one description. [B]"""
LONGEST_PATTERN = 200
MODES = {"diode": Quantity.DIODE, "ohms": Quantity.OHMS, "volts": Quantity.VOLTS}
STEPS = {
    Quantity.DIODE: "diode_resolution",
    Quantity.OHMS: "ohms_resolution",
    Quantity.VOLTS: "volts_resolution",
}
METER, SUPPLY, HAND_HELD = "meter", "supply", "hand-held"
KINDS = (METER, SUPPLY, HAND_HELD)
SUPPLY_WORDS = ("set_volts", "set_amps", "on", "off", "volts", "amps", "told_volts", "told_amps")


@dataclass(frozen=True, slots=True)
class Mode:
    """One mode of a meter.

    Parameters
    ----------
    select : tuple of str
        What switches to it.
    read : str
        What is asked for a reading.
    scale : float
        From the answer to SI units. [1]
    overload : float
        Answers of this magnitude and above mean OL.
    accuracy : Accuracy or None
    """

    select: tuple[str, ...]
    read: str
    scale: float = 1.0
    overload: float = 9.9e37
    accuracy: Accuracy | None = None


@dataclass(frozen=True, slots=True)
class Family:
    """A family of instruments.

    Parameters
    ----------
    name : str
    kind : str
        ``meter``, ``supply``, or ``hand-held``: a meter that is only read by eye, or that sigrok-cli listens to.
    identity : str
        Pattern that its answer to the question who it is has to match from its beginning; "" where nobody asks.
    driver : str
        Of a hand-held meter: the driver of sigrok-cli that listens to it, or "".
    meter : Meter
        What it claims of itself.
    modes : mapping
        Of a meter, by `Quantity`.
    words : mapping
        Of a supply: what it is told and asked, with ``{volts}`` and ``{amps}`` for figures.
    decimals : int
        Of those figures. [1]
    most_volts, most_amps : float
        What it can give. [V], [A]
    """

    name: str
    kind: str
    identity: str
    line: LineSettings
    meter: Meter = HANDHELD
    modes: Mapping[Quantity, Mode] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    decimals: int = 4
    most_volts: float = 0.0
    most_amps: float = 0.0
    driver: str = ""

    def is_named(self, answer: str) -> bool:
        """Whether an instrument with this answer is of the family."""
        return bool(self.identity) and re.match(self.identity, answer[:LONGEST_PATTERN], re.IGNORECASE) is not None


def own_folder() -> Path:
    """Where users put descriptions of their own (XDG Base Directory Specification: configuration home)."""
    return Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "ohmwright" / "instruments"


def known_families(own: Path | None = None) -> tuple[Family, ...]:
    """All families; those of the user come first and stand for shipped ones of the same name."""
    folder = own or own_folder()
    theirs = [read_family(path) for path in sorted(folder.glob("*.toml"))] if folder.is_dir() else []
    names = {family.name for family in theirs}
    shipped = [read_family(path) for path in sorted(SHIPPED.glob("*.toml"))]
    return (*theirs, *(family for family in shipped if family.name not in names))


def read_family(path: Path) -> Family:
    """The family that a file describes.

    Raises
    ------
    FileFormatError
        Naming the field, the value it has and what it may be.
    """
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST + 1)
    except OSError as error:
        raise FileFormatError(
            "This description cannot be read.", where=str(path), why=str(error.strerror), hint="check its name"
        ) from error
    if len(data) > LARGEST:
        raise FileFormatError("This description is too long.", where=str(path), hint=f"at most {LARGEST} bytes")
    try:
        told = tomllib.loads(data.decode("utf-8"))
    except (ValueError, RecursionError) as error:  # of TOML, of UTF-8, of a figure with thousands of digits
        raise FileFormatError(
            "This is not TOML.", where=str(path), why=str(error), hint="begin with a copy of one that is shipped"
        ) from error
    return _Reader(str(path)).family(told)


LINE_CHOICES: Mapping[str, tuple[Any, ...]] = {
    "data_bits": (7, 8), "parity": ("none", "even", "odd"), "stop_bits": (1, 2),
    "flow": ("none", "xon/xoff", "rts/cts"),
}  # fmt: skip
LINE_FIGURES = {"patience_ms": (1, 600_000), "baud": (50, 4_000_000), "pause_ms": (0, 10_000)}


class _Reader:
    """Takes a description apart and says where it is wrong."""

    def __init__(self, where: str) -> None:
        self._where = where

    def family(self, told: dict[str, Any]) -> Family:
        kind = self._text(told, "kind", "")
        if kind not in KINDS:
            raise self._wrong("kind", kind, " or ".join(KINDS))
        hand = kind == HAND_HELD
        wire = ("sigrok",) if hand else ("identity", "line", "supply")
        self._only(told, "", ("name", "kind", "meter", "modes", *wire))
        pattern, line = ("", LineSettings()) if hand else (self._pattern(told), self._line(told.get("line", {})))
        driver = self._text(told, "sigrok", "") if "sigrok" in told else ""
        family = Family(self._text(told, "name", ""), kind, pattern, line, driver=driver)
        if kind == SUPPLY:
            return self._supply(family, self._table(told, "supply"))
        modes = told.get("modes", {}) if hand else self._table(told, "modes")
        if not isinstance(modes, dict):
            raise self._wrong("modes", modes, "a table")
        self._only(modes, "modes", tuple(MODES))
        read = {MODES[name]: self._mode(self._table(modes, name), f"modes.{name}", hand=hand) for name in modes}
        stated = self._table(told, "meter")
        meter = _with_limits(self._meter(stated, family.name), read, frozenset(stated))
        return replace(family, meter=meter, modes=read)

    def _pattern(self, told: dict[str, Any]) -> str:
        pattern = self._text(told, "identity", "")
        try:
            re.compile(pattern)
        except re.error as error:
            raise self._wrong("identity", pattern, f"a pattern ({error})") from error
        if len(pattern) > LONGEST_PATTERN or re.search(r"[*+}][*+{]|\)[*+{]", pattern):
            raise self._wrong("identity", pattern, f"a plain pattern of at most {LONGEST_PATTERN} characters")
        return pattern

    def _line(self, told: Any) -> LineSettings:
        if not isinstance(told, dict):
            raise self._wrong("line", told, "a table")
        self._only(told, "line", tuple(f.name for f in fields(LineSettings)))
        for name, value in told.items():
            if name in LINE_CHOICES:
                if value not in LINE_CHOICES[name] or isinstance(value, bool):
                    known = ", ".join(str(one) for one in LINE_CHOICES[name])
                    raise self._wrong(f"line.{name}", value, f"one of {known}")
            elif name in LINE_FIGURES:
                least, most = LINE_FIGURES[name]
                if type(value) is not int or not least <= value <= most:
                    raise self._wrong(f"line.{name}", value, f"a whole number from {least} to {most}")
            elif type(value) is not str or len(value) > LONGEST_PATTERN:
                raise self._wrong(f"line.{name}", value, "a text")
        return LineSettings(**told)

    def _meter(self, told: dict[str, Any], name: str) -> Meter:
        known = tuple(f.name for f in fields(Meter) if f.name != "name")
        self._only(told, "meter", known)
        given: dict[str, Any] = {}
        for entry, value in told.items():
            wants_bool = isinstance(getattr(HANDHELD, entry), bool)
            ok = isinstance(value, bool) if wants_bool else _is_number(value) and 0 <= value < 1e12
            if not ok:
                raise self._wrong(f"meter.{entry}", value, "true or false" if wants_bool else "a number of SI units")
            given[entry] = value if wants_bool else float(value)
        return Meter(name=name, **given)

    def _mode(self, told: dict[str, Any], at: str, *, hand: bool = False) -> Mode:
        wire = () if hand else ("select", "read", "scale", "overload")
        self._only(told, at, (*wire, "percent", "counts", "step", "full"))
        select = told.get("select", [])
        if not isinstance(select, list) or not all(isinstance(s, str) and len(s) <= 200 for s in select):
            raise self._wrong(f"{at}.select", select, "a list of commands")
        scale, overload = self._number(told, "scale", at, 1.0), self._number(told, "overload", at, 9.9e37)
        accuracy = None
        if "percent" in told:
            percent, counts, step = (self._number(told, name, at) for name in ("percent", "counts", "step"))
            if step <= 0:
                raise self._wrong(f"{at}.step", step, "more than zero")
            accuracy = Accuracy(percent, counts, step, int(self._number(told, "full", at, 6000.0)))
        return Mode(tuple(select), "" if hand else self._text(told, "read", at), scale, overload, accuracy)

    def _supply(self, family: Family, told: dict[str, Any]) -> Family:
        self._only(told, "supply", (*SUPPLY_WORDS, "decimals", "most_volts", "most_amps"))
        words = {name: self._text(told, name, "supply") for name in SUPPLY_WORDS}
        for name, figure in (("set_volts", "{volts}"), ("set_amps", "{amps}")):
            if words[name].count(figure) != 1:
                raise self._wrong(f"supply.{name}", words[name], f"a command with one {figure} in it")
        return replace(
            family, words=words, decimals=int(self._number(told, "decimals", "supply", 4.0)),
            most_volts=self._number(told, "most_volts", "supply"), most_amps=self._number(told, "most_amps", "supply"),
        )  # fmt: skip

    def _table(self, told: dict[str, Any], name: str) -> dict[str, Any]:
        found = told.get(name)
        if not isinstance(found, dict):
            raise self._wrong(name, found, "a table")
        return found

    def _text(self, told: dict[str, Any], name: str, at: str) -> str:
        found = told.get(name)
        if not isinstance(found, str) or not 1 <= len(found) <= LONGEST_PATTERN or "\n" in found or "\r" in found:
            raise self._wrong(f"{at}.{name}".strip("."), found, "a text of one line")
        return found

    def _number(self, told: dict[str, Any], name: str, at: str, usual: float | None = None) -> float:
        found: Any = told.get(name, usual)
        if not _is_number(found) or not -1e39 < found < 1e39:
            raise self._wrong(f"{at}.{name}", found, "a number")
        return float(found)

    def _only(self, told: dict[str, Any], at: str, known: tuple[str, ...]) -> None:
        for name in told:
            if name not in known:
                raise FileFormatError(
                    UnknownNameError.among("field", name, known).what, where=f"{self._where}, {at or 'top'}",
                    hint=f"known are: {', '.join(known)}",
                )  # fmt: skip

    def _wrong(self, at: str, value: object, wanted: str) -> FileFormatError:
        return FileFormatError(
            f"The field {at!r} is {str(value)[:80]!r}.", where=self._where, why=f"it has to be {wanted}",
            hint="docs/bench.md shows a whole description",
        )  # fmt: skip


def _with_limits(meter: Meter, modes: Mapping[Quantity, Mode], stated: frozenset[str]) -> Meter:
    """The meter with what follows from the limits of its modes, where the description does not state it itself."""
    limits = {quantity: mode.accuracy for quantity, mode in modes.items() if mode.accuracy is not None}
    found: dict[str, float] = {}
    if limits and "accuracy" not in stated:
        found["accuracy"] = max(limit.percent for limit in limits.values()) / 100.0 / ROOT_3
    for quantity, name in STEPS.items():
        if quantity in limits and name not in stated:
            # So many counts of the last figure are a step so much coarser: the belief takes either for the half width
            # of a band in which every value is as likely (JCGM 100:2008, 4.3.7), that of volts for two steps.
            own = 2.0 if quantity is Quantity.VOLTS else 1.0
            found[name] = limits[quantity].step * max(1.0, limits[quantity].counts / own)
    return replace(meter, **found)  # type: ignore[arg-type]  # each of these fields is a float


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
