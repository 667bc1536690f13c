"""A hidden fault as JSON; described in ``docs/practice-format.md``."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ohmwright.circuit import Board, Part
from ohmwright.errors import FileFormatError, UnknownNameError
from ohmwright.facts import LookFinding
from ohmwright.formats.json_field import Field
from ohmwright.formats.json_text import read_json_text

FORMAT = "ohmwright-fault"
LARGEST = 200_000
"""Bytes in one file. [B]"""
MODES = {
    "short": 0.1, "leak": 2e3, "knee": 6.8, "open": 3e8, "drift": None, "joint": 1e6, "solder bridge": 0.02,
    "dirt": 5e3,
}  # fmt: skip
"""What each mode of a defect measures if the file does not say: ohms, or volts at 1 mA for a knee. [Ω or V]"""


@dataclass(frozen=True, slots=True)
class Defect:
    """One thing that is wrong at one part.

    Parameters
    ----------
    mode : str
        ``short``, ``leak``, ``knee``: a path between two pins that should not be; ``open``, ``drift``: the
        part's own path between them at another resistance; ``joint``: the joint of the first pin;
        ``solder bridge``, ``dirt``: a path beside the part that cleaning cures.
    size : float
        Resistance, or the drop at 1 mA of a knee. [Ω or V]
    finding : LookFinding
        What a good look may find at the part.
    seen : float
        Chance that it can be seen at all. [1]
    """

    part: str
    mode: str
    pins: tuple[str, str]
    size: float
    finding: LookFinding = LookFinding.NOTHING
    seen: float = 0.0

    @property
    def cleanable(self) -> bool:
        """Whether it lies on the board and not in the part."""
        return self.mode in ("solder bridge", "dirt")


@dataclass(frozen=True, slots=True)
class Fault:
    """All that is wrong with one specimen of a board."""

    name: str
    words: str = ""
    defects: tuple[Defect, ...] = ()

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts at which something is wrong."""
        return tuple(dict.fromkeys(defect.part for defect in self.defects))


NOTHING_WRONG = Fault("none", "nothing is wrong")


def read_fault_json(path: Path, board: Board) -> Fault:
    """The fault in that file, checked against the board it is for."""
    return _fault(Field(read_json_text(path, largest=LARGEST, deepest=8), str(path)), board)


def fault_from_json(data: object, board: Board) -> Fault:
    """The fault written as plain data."""
    return _fault(Field(data, "fault"), board)


def _fault(field: Field, board: Board) -> Fault:
    f = field.fields(("format", "version", "name", "board", "words", "defects"), needed=("defects",))
    if "format" in f and f["format"].data != FORMAT:
        raise FileFormatError("This is no fault.", where=f["format"].where, hint=f'write "format": "{FORMAT}"')
    if "version" in f and (f["version"].data != 1 or f["version"].data is True):
        raise FileFormatError("This version is not known here.", where=f["version"].where, hint="write 1")
    if "board" in f and f["board"].text() != board.name:
        raise FileFormatError(
            f"This fault is for the board {f['board'].text()!r}, not for {board.name!r}.", where=f["board"].where
        )
    return Fault(
        f["name"].text() if "name" in f else "fault",
        f["words"].text(empty=True) if "words" in f else "",
        tuple(_defect(item, board) for item in f["defects"].items(20)),
    )


def _defect(field: Field, board: Board) -> Defect:
    f = field.fields(("part", "mode", "pins", "ohms", "volts", "looks", "seen"), needed=("part", "mode"))
    name, mode = f["part"].text(), f["mode"].text()
    if mode not in MODES:
        raise UnknownNameError.among("mode of a defect", mode, MODES, where=f["mode"].where)
    if name not in board.part_by_name:
        raise UnknownNameError.among("part", name, board.part_by_name, where=f["part"].where)
    part = board.part(name)
    size = _size(field, f, mode)
    finding = LookFinding.NOTHING
    if "looks" in f:
        known = [finding.value for finding in LookFinding]
        if f["looks"].text() not in known:
            raise UnknownNameError.among("finding", f["looks"].text(), known, where=f["looks"].where)
        finding = LookFinding(f["looks"].text())
    return Defect(
        name,
        mode,
        _pins(f.get("pins"), part, mode, field.where),
        size,
        finding,
        f["seen"].number(0.0, 1.0) if "seen" in f else 0.5,
    )


def _size(field: Field, f: dict[str, Field], mode: str) -> float:
    name = "volts" if mode == "knee" else "ohms"
    size = f[name].quantity() if name in f else MODES[mode]
    if size is None:
        raise FileFormatError("A drift needs its ohms.", where=field.where, hint='add "ohms": "58k"')
    if not 1e-5 <= size <= 1e12:
        raise FileFormatError(f"{size:g} is out of bounds.", where=field.where, hint="from 10 µΩ to 1 TΩ")
    return size


def _pins(field: Field | None, part: Part, mode: str, where: str) -> tuple[str, str]:
    """Two pin numbers (roles and names are taken too); of a two-pin part they need not be said."""
    if field is None:
        if len(part.pins) != 2:
            raise FileFormatError(
                f"{part.name} has {len(part.pins)} pins.", where=where, hint='say between which: "pins": ["1", "2"]'
            )
        return part.pins[0].number, part.pins[1].number
    found = list(_numbers(field, part))
    if mode == "joint" and len(found) == 1:
        found *= 2
    if len(found) != 2 or (found[0] == found[1] and mode != "joint"):
        raise FileFormatError("Two different pins are wanted.", where=field.where, hint='as in ["1", "2"]')
    return found[0], found[1]


def _numbers(field: Field, part: Part) -> Iterator[str]:
    for item in field.items(2):
        try:
            yield part.pin(item.text()).number
        except UnknownNameError as error:
            raise UnknownNameError(error.what, where=item.where, hint=error.hint) from error
