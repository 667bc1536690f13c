"""A board that is known from a file: parts, nets, and where its pads lie, whatever kind of file it is."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from ohmwright.circuit import Board, Place
from ohmwright.errors import FileFormatError
from ohmwright.formats.ipc356 import LARGEST, read_ipc356
from ohmwright.formats.kicad_board import Described, board_of, described_parts, kicad_tree, numbers_after
from ohmwright.formats.kicad_edge import board_edge
from ohmwright.formats.kicad_netlist import netlist_from_kicad
from ohmwright.formats.netlist import Netlist
from ohmwright.geometry import Pad
from ohmwright.partbook.kinds import RawPin
from ohmwright.syntax.sexpr import Sexpr, atom, child, children, read_text

KIND_BOARD, KIND_NETLIST, KIND_TEST = "KiCad board", "KiCad netlist", "IPC-D-356 test file"
SNIFFED = 4_000
"""Characters at the beginning that tell what kind a file is. [1]"""
KIN = (
    ("(kicad_sch", "it is a schematic, in which wires and not nets are told",
     "export the netlist from the schematic editor, or hand over the .kicad_pcb"),
    ("(footprint", "it is one footprint and no board", "hand over the .kicad_pcb it is used on"),
    ("<?xml", "it is XML", "export the netlist from the schematic editor as KiCad's own kind (.net)"),
)  # fmt: skip
"""How files begin that are near to what is read, and what to do instead."""
OTHER = (
    "it is neither a KiCad board, nor a KiCad netlist, nor an IPC-D-356 test file",
    "hand over a .kicad_pcb, a .net of KiCad, or an IPC-D-356A file",
)


@dataclass(frozen=True, slots=True)
class KnownBoard:
    """What a file says of a board.

    Parameters
    ----------
    kind : str
        What kind of file it is, in words.
    pads : tuple of Pad
        In the file's own millimetres, y down, seen from the top; empty where the file gives no places.
    notes : tuple of str
        What was guessed or passed over.
    outline : tuple of (float, float)
        Corners of the board's edge, in the same frame; empty where the file does not draw it. [mm]
    """

    name: str
    kind: str
    board: Board
    pads: tuple[Pad, ...] = ()
    notes: tuple[str, ...] = ()
    outline: tuple[tuple[float, float], ...] = ()


def read_known_board(path: Path, name: str = "") -> KnownBoard:
    """The board in a KiCad board, a KiCad netlist or an IPC-D-356 test file; told by what is in it.

    Raises
    ------
    FileFormatError
        If it is none of these, or cannot be read as what it is.
    """
    called = name or path.name
    try:
        with path.open("rb") as file:
            head = file.read(SNIFFED).decode("utf-8", errors="replace")
            head = head.lstrip("\ufeff \t\r\n")
            file.seek(0)
            data = b"" if head.startswith("(") else file.read(LARGEST + 1)
    except OSError as error:
        raise FileFormatError(f"The file cannot be opened: {error.strerror or error}.", where=called) from error
    if head.startswith(("(kicad_pcb", "(export")):
        try:
            if head.startswith("(kicad_pcb"):
                return _from_board(path, called)
            return _from_netlist(netlist_from_kicad(read_text(path), where=called), called, KIND_NETLIST)
        except FileFormatError as error:
            # Under the name it was handed over by, not where it lies while it is read.
            where = error.where.replace(str(path), called)
            raise FileFormatError(error.what, where=where, why=error.why, hint=error.hint) from error
    if b"\0" in data[:SNIFFED]:
        raise FileFormatError(
            "This is no board file that is known here.", where=called,
            why="it is no plain text: a picture or a packed file, or text in UTF-16",
            hint="a picture goes under Pictures; unpack a packed file, and save text as UTF-8",
        )  # fmt: skip
    if any(line[:3] in ("317", "327", "367") or line[:1] in ("C", "P") for line in head.splitlines()):
        return _from_netlist(read_ipc356(data, where=called), called, KIND_TEST)
    why, hint = next((words for start, *words in KIN if head.startswith(start)), OTHER)
    raise FileFormatError("This is no board file that is known here.", where=called, why=why, hint=hint)


def _from_board(path: Path, called: str) -> KnownBoard:
    tree = kicad_tree(path)
    raws = tuple(described_parts(tree, called))
    board = board_of(Path(called).stem, raws, called)
    nodes = [node for node in tree if isinstance(node, list) and node and node[0] in ("module", "footprint")]
    pads = tuple(pad for node, raw in zip(nodes, raws, strict=True) for pad in _pads(node, raw, called))
    return KnownBoard(Path(called).stem, KIND_BOARD, board, pads, board.notes, board_edge(tree))


def _pads(node: list[Sexpr], raw: Described, where: str) -> Iterator[Pad]:
    """Pads where they lie on the board; a pad without a number is no pin of anything."""
    x0, y0, turn = numbers_after(node, "at", where)
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    pins = {pin.number for pin in raw.pins}
    for pad in children(node, "pad"):
        number = atom(pad, 1).strip()
        if number not in pins:
            continue
        x, y, angle = numbers_after(pad, "at", where)
        width, height, _ = numbers_after(pad, "size", where)
        layers = " ".join(word for word in (child(pad, "layers") or [])[1:] if isinstance(word, str))
        under = atom(pad, 2) in ("smd", "connect") and "B.Cu" in layers and "F.Cu" not in layers
        hole = atom(child(pad, "drill"))
        drill = float(hole) if hole.replace(".", "", 1).isdigit() else 0.0
        yield Pad(raw.reference, number, x0 + x * cos + y * sin, y0 - x * sin + y * cos, max(width, 0.05),
                  max(height, 0.05), angle, "bottom" if under else "top", drill)  # fmt: skip


def _from_netlist(netlist: Netlist, called: str, kind: str) -> KnownBoard:
    told = {part.name: part for part in netlist.parts}
    pins: dict[str, list[RawPin]] = {name: [] for name in told}
    for pin in netlist.pins:
        pins.setdefault(pin.part, []).append(RawPin(pin.pin, pin.net, pin.name, pin.kind))
    places = _places(netlist.pads)
    raws = tuple(
        Described(
            name,
            told[name].value if name in told else "",
            told[name].footprint if name in told else "",
            tuple(found),
            places.get(name),
        )
        for name, found in pins.items()
        if found
    )
    board = board_of(Path(called).stem, raws, called)
    notes, edge = (*netlist.notes, *board.notes), netlist.outline if len(netlist.outline) > 2 else ()
    return KnownBoard(Path(called).stem, kind, board, netlist.pads, notes, edge)


def _places(pads: tuple[Pad, ...]) -> dict[str, Place]:
    """The box around the pads of each part. [mm]"""
    found: dict[str, tuple[float, float, float, float, str]] = {}
    for pad in pads:
        half = max(pad.width_mm, pad.height_mm) / 2.0
        x0, y0, x1, y1, side = found.get(pad.part, (math.inf, math.inf, -math.inf, -math.inf, pad.side))
        found[pad.part] = (min(x0, pad.x_mm - half), min(y0, pad.y_mm - half), max(x1, pad.x_mm + half),
                           max(y1, pad.y_mm + half), side)  # fmt: skip
    return {
        part: Place((x0 + x1) / 2.0, (y0 + y1) / 2.0, side, x1 - x0, y1 - y0)
        for part, (x0, y0, x1, y1, side) in found.items()
    }


def moved(known: KnownBoard, ground: str) -> KnownBoard:
    """The same with its ground net under another name, so that it is one with the ground of a case."""
    board = known.board
    if board.ground == ground:
        return known
    names = {board.ground: ground, ground: f"{ground} (file)"}

    def net(name: str | None) -> str | None:
        return None if name is None else names.get(name, name)

    parts = tuple(
        replace(part, pins=tuple(replace(pin, net=net(pin.net)) for pin in part.pins)) for part in board.parts
    )
    nets = tuple(replace(one, name=names.get(one.name, one.name)) for one in board.nets)
    entries = tuple(names.get(entry, entry) for entry in board.entries)
    return replace(known, board=replace(board, ground=ground, nets=nets, parts=parts, entries=entries))
