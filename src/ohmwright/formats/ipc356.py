"""Bare-board test files after IPC-D-356 and IPC-D-356A: fixed columns, one pad or via to a line.

Columns are counted from 1 as in the standard: 1-3 the kind of record, 4-17 the net, 21-26 the part, 28-31
its pin, 32 an M in the middle of a track, 33 D and 34-37 the hole, 38 P or U for plated or not, 39 A and
40-41 the layer it can be reached from (00 both sides), 42 X and 43-49, 50 Y and 51-57, 58 X and 59-62,
63 Y and 64-67 the size, 68 R and 69-71 the turn, 73 S and 74 the solder mask. A record that begins with 0
goes on with the one before. Y points up in the file and down here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from ohmwright.errors import FileFormatError
from ohmwright.formats.netlist import ListedPart, ListedPin, Netlist
from ohmwright.geometry import Pad

LARGEST = 60_000_000
"""Bytes read. [B] ten times a board of 100,000 pads; estimate"""
MOST_RECORDS, LONGEST_LINE, MOST_CONTINUED = 400_000, 400, 2_000
FARTHEST_MM = 3_000.0
INCH_MM = 25.4
UNITS = {"CUST 0": (INCH_MM * 1e-4, "deg"), "CUST": (INCH_MM * 1e-4, "deg"), "CUST 1": (1e-3, "deg"),
         "CUST 2": (INCH_MM * 1e-4, "rad")}  # fmt: skip
"""Millimetres in one step of the figures, and what the turn is given in."""
FEATURES = {"1": "through", "2": "surface", "3": "tooling", "4": "tooling", "6": "tooling", "7": "tooling"}
PADS = ("317", "327", "367", "307", "337", "347")
PASSED = {"378": "tracks", "379": "neighbours", "370": "panel", "390": "other data"}
NOT_JOINED = frozenset({"", "N/C", "NC"})
_ALIAS = re.compile(r"(NNAME\S*)\s+(\S.*)")
_SHORT = re.compile(r"NNAME\d+")
_CORNER = re.compile(r"([XY])\s*([+-]?\d{1,8})")


@dataclass(frozen=True, slots=True)
class _Record:
    """One pad or via, in the file's millimetres with y down."""

    net: str | None
    part: str
    pin: str
    via: bool
    surface: bool
    midway: bool
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    drill_mm: float
    angle_deg: float
    layer: int


@dataclass
class _File:
    """What has been read so far."""

    where: str
    step: float = INCH_MM * 1e-4
    turn: str = "deg"
    told: bool = False
    names: dict[str, str] = field(default_factory=dict)
    title: str = ""
    records: list[_Record] = field(default_factory=list)
    outline: list[tuple[float, float]] = field(default_factory=list)
    passed: dict[str, int] = field(default_factory=dict)
    ended: bool = False


def read_ipc356(data: bytes, *, where: str = "the file") -> Netlist:
    """The netlist in a test file.

    Raises
    ------
    FileFormatError
        With the line, if it is no such file, too large, or holds figures that cannot be.
    """
    if len(data) > LARGEST:
        raise FileFormatError(f"More than {LARGEST} bytes.", where=where, hint="check that this is the file you meant")
    if b"\0" in data:
        raise FileFormatError("The file is not text.", where=where, why="it holds zero bytes", hint="check the file")
    found = _File(where)
    for number, line in _records(_text(data), where):
        _read(found, line, f"{where}, line {number}")
    if not found.records:
        raise FileFormatError(
            "No pad is named in this file.", where=where, why="it holds no record 317 or 327",
            hint="export the test file (IPC-D-356A) again",
        )  # fmt: skip
    return _netlist(found)


def _text(data: bytes) -> str:
    """What the bytes say: UTF-8, else Latin-1, so that no two names of nets become one by the same stand-in."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _records(text: str, where: str) -> Iterator[tuple[int, str]]:
    """Each record with the number of its first line; what goes on with it is behind a tab."""
    held, first, pieces = "", 0, 0
    for number, raw in enumerate(re.split(r"\r\n|\r|\n", text), 1):
        line = raw.rstrip(" \t\x1a\x0c")  # some programs end a file as DOS did
        if len(line) > LONGEST_LINE:
            raise FileFormatError(
                f"A line of {len(line)} characters.", where=f"{where}, line {number}",
                why="records have 80 columns", hint="check that this is an IPC-D-356 file",
            )  # fmt: skip
        if re.match(r"0\d\d", line) and held:
            pieces += 1
            if pieces > MOST_CONTINUED:
                raise FileFormatError("A record goes on without end.", where=f"{where}, line {number}")
            held += "\t" + line[3:]
            continue
        if held:
            yield first, held
        held, first, pieces = line, number, 0
    if held:
        yield first, held


def _read(found: _File, line: str, where: str) -> None:
    kind = line[:3]
    if found.ended:
        found.passed["records after the end"] = found.passed.get("records after the end", 0) + 1
    elif line[0] == "C":
        _alias(found, line[1:].strip())  # some programs put the long names into comments
    elif line[0] == "P":
        _parameter(found, line[1:].strip(), where)
    elif kind == "999":
        found.ended = True
    elif kind in PADS:
        found.records += _pads(found, line, where)
        if len(found.records) > MOST_RECORDS:
            raise FileFormatError(f"More than {MOST_RECORDS} pads.", where=where, hint="check the file")
    elif kind == "389":
        _edge(found, line, where)
    else:
        name = PASSED.get(kind, f"records of the kind {kind!r}")
        found.passed[name] = found.passed.get(name, 0) + 1


def _parameter(found: _File, text: str, where: str) -> None:
    word, _, rest = text.partition(" ")
    rest = " ".join(rest.split())
    if word == "UNITS":
        if rest not in UNITS:
            raise FileFormatError(
                f"Units {rest[:40]!r} are not known.", where=where, why="the standard has CUST 0, CUST 1 and CUST 2",
                hint="export the file in one of these",
            )  # fmt: skip
        found.step, found.turn = UNITS[rest]
        found.told = True
    elif word in ("JOB", "TITLE"):
        found.title = found.title or rest[:80]
    else:
        _alias(found, text)


def _alias(found: _File, text: str) -> None:
    """A long name of a net that stands in the records as NNAME1 and so on."""
    alias = _ALIAS.match(text)
    if alias and len(found.names) < MOST_RECORDS:
        long = alias[2].strip()
        found.names.setdefault(alias[1], long)


def _pads(found: _File, line: str, where: str) -> Iterator[_Record]:
    """The pad of a record, and further places of it that a record going on with it gives."""
    head, *more = line.split("\t")
    first = _pad(found, head.ljust(80), where)
    yield first
    for piece in more:
        columns = ("   " + piece).ljust(80)
        if columns[41] == "X" and columns[49] == "Y" and columns[42:49].strip():
            yield replace(_placed(found, first, columns, where))


def _pad(found: _File, line: str, where: str) -> _Record:
    written = line[3:17].strip()
    net = None if written in NOT_JOINED else written
    part, pin = line[20:26].strip(), line[27:31].strip()
    drill = _figure(line[33:37], where, "hole") * found.step if line[32] == "D" else 0.0
    layer = int(line[39:41]) if line[39:41].strip().isdigit() else 0
    feature = FEATURES.get(line[1], "tooling")
    bare = _Record(
        net, part, pin, part.upper() == "VIA" or not part, feature == "surface", line[31] == "M",
        0.0, 0.0, 0.0, 0.0, drill, 0.0, layer,
    )  # fmt: skip
    return _placed(found, bare, line, where)


def _placed(found: _File, bare: _Record, line: str, where: str) -> _Record:
    if line[41] != "X" or line[49] != "Y":
        raise FileFormatError(
            "This record does not say where its pad is.", where=where,
            why="X stands in column 42 and Y in column 50", hint="export the file again; tabs must not stand in it",
        )  # fmt: skip
    x, y = _figure(line[42:49], where, "X") * found.step, -_figure(line[50:57], where, "Y") * found.step
    width = _figure(line[58:62], where, "width") * found.step if line[57] == "X" else 0.0
    height = _figure(line[63:67], where, "height") * found.step if line[62] == "Y" else 0.0
    turn = _figure(line[68:71], where, "turn") if line[67] == "R" else 0.0
    if not (abs(x) <= FARTHEST_MM and abs(y) <= FARTHEST_MM):
        raise FileFormatError(
            f"A pad lies {max(abs(x), abs(y)):.0f} mm from the corner of the board.", where=where,
            why="no board is that large", hint="check the UNITS of the file",
        )  # fmt: skip
    angle = math.degrees(turn / 100.0) if found.turn == "rad" else turn
    return replace(bare, x_mm=x, y_mm=y, width_mm=width, height_mm=height or width, angle_deg=angle % 360.0)


def _figure(text: str, where: str, what: str) -> float:
    bare = text.replace(" ", "")
    if not bare:
        return 0.0
    if not re.fullmatch(r"[+-]?\d{1,7}", bare):
        raise FileFormatError(f"The {what} of a pad is no figure: {text!r}.", where=where, hint="export the file again")
    return float(bare)


def _edge(found: _File, line: str, where: str) -> None:
    """Corners of the board's edge: an axis that is not given stays as it was."""
    if "BOARD" not in line[3:17].upper():
        return
    x = y = 0.0
    for piece in line[17:].replace("\t", " ").split():
        corner = _CORNER.findall(piece)
        for axis, written in corner:
            x, y = (float(written), y) if axis == "X" else (x, float(written))
        point = (x * found.step, -y * found.step)
        if corner and len(found.outline) < MOST_RECORDS and found.outline[-1:] != [point]:
            found.outline.append(point)


def _netlist(found: _File) -> Netlist:
    last = max((record.layer for record in found.records), default=0)
    pins: dict[tuple[str, str, str | None], ListedPin] = {}
    pads: list[Pad] = []
    numbers: dict[tuple[str, str], list[str | None]] = {}
    for record in found.records:
        if record.via or not record.pin:
            continue
        # An alias may be told before or after it is used.
        net = None if record.net is None else found.names.get(record.net, record.net)
        nets = numbers.setdefault((record.part, record.pin), [])
        if net not in nets:
            nets.append(net)
        # Where one number lies on two nets, the second is a pin of its own.
        place = nets.index(net)
        pin = record.pin if place == 0 else f"{record.pin}+{place + 1}"
        pins.setdefault((record.part, pin, net), ListedPin(record.part, pin, net))
        pads.append(_as_pad(record, pin, last))
    parts = tuple(ListedPart(name) for name in dict.fromkeys(pin.part for pin in pins.values()))
    vias = sum(record.via for record in found.records)
    notes = [*_doubts(found, numbers), *(f"{n} {what} passed over" for what, n in sorted(found.passed.items()))]
    return Netlist(found.title or found.where, parts, tuple(pins.values()), tuple(pads), tuple(found.outline), vias,
                   tuple(notes))  # fmt: skip


def _doubts(found: _File, numbers: dict[tuple[str, str], list[str | None]]) -> Iterator[str]:
    """What about a file may be amiss, in words."""
    if not found.ended:
        yield "the file does not end with its record 999: it may have been cut short, and pads may be missing"
    if not found.told:
        yield "no UNITS are given; read as ten-thousandths of an inch"
    bare = {record.net for record in found.records if record.net and _SHORT.fullmatch(record.net)} - found.names.keys()
    if bare:
        few = ", ".join(sorted(bare)[:3]) + (" and so on" if len(bare) > 3 else "")
        yield f"nets called {few} only: {len(bare)} long names are not in the file"
    twice = [f"{part}.{pin}" for (part, pin), nets in numbers.items() if len(nets) > 1]
    if twice:
        yield f"pad numbers on two nets, {twice[0]} the first of {len(twice)}: names of parts may be cut to six letters"


def _as_pad(record: _Record, pin: str, last: int) -> Pad:
    side = "bottom" if record.surface and record.layer > 1 and record.layer == last else "top"
    size = max(record.drill_mm * 1.6, 0.3)  # where the file gives none
    return Pad(record.part, pin, record.x_mm, record.y_mm, record.width_mm or size, record.height_mm or size,
               record.angle_deg, side, record.drill_mm)  # fmt: skip


def record_counts(data: bytes) -> dict[str, int]:
    """How many records of each kind a file holds, for a look at what it is."""
    counts: dict[str, int] = {}
    for _, line in _records(_text(data), ""):
        kind = line[:3] if line[:1].isdigit() else line[:1]
        counts[kind] = counts.get(kind, 0) + 1
    return counts
