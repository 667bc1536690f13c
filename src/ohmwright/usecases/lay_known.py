"""A board known from a file: laid on the picture by pads marked there, or its nets taken for what was drawn."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ohmwright.boardmap import Chart
from ohmwright.boardmap.agreement import compared
from ohmwright.boardmap.laying import Fit, NoFit, fitted, laid_pads, laid_parts, to_mark
from ohmwright.casebook import Entry
from ohmwright.casebook.events import BoardLaid, NetTold, ScaleSet
from ohmwright.circuit import Board
from ohmwright.errors import DataError, UnknownNameError
from ohmwright.formats.known_board import KnownBoard, moved, read_known_board
from ohmwright.geometry import Pad
from ohmwright.usecases.desk import CaseView, Desk, book_of, record, thought_through

MARKED = 6
LARGEST = 100_000_000
"""Bytes of a board file. [B]"""


@dataclass(frozen=True, slots=True)
class MarkedPad:
    """A pad of the file, and where it is seen on a picture. [px]"""

    pad: str
    layer: str
    at: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Offered:
    """What a file holds, before anything is entered.

    Parameters
    ----------
    mark : tuple of (str, str)
        Pads worth marking on the picture, each with the kind of its part; empty where the file gives no places.
    drawn : int
        Parts of the file that are on the map already, by name. [1]
    """

    name: str
    kind: str
    parts: int
    nets: int
    pads: int
    mark: tuple[tuple[str, str], ...]
    drawn: int
    notes: tuple[str, ...]


def known_from_file(path: Path, name: str) -> KnownBoard:
    """The board in a file that somebody handed over."""
    return read_known_board(path, name)


def offered(known: KnownBoard, board: Board, side: str) -> Offered:
    """What a file would bring, and which pads to mark on a side's picture."""
    kinds = {part.name: part.kind for part in known.board.parts}
    mark = tuple((f"{pad.part}.{pad.pin}", kinds.get(pad.part, "")) for pad in to_mark(known.pads, side, MARKED))
    drawn = len(set(kinds) & set(board.part_by_name))
    return Offered(known.name, known.kind, len(kinds), len(known.board.nets), len(known.pads), mark, drawn,
                   known.notes[:20])  # fmt: skip


def fit_of(desk: Desk, case: str, known: KnownBoard, marked: Sequence[MarkedPad]) -> Fit | NoFit:
    """How the file fits the picture by the pads marked so far; falsy with the reason where it does not.

    Its residuals are in the board's millimetres; while nobody has told the scale, in those of the file.
    """
    return _fitted(book_of(desk, case).chart, known, marked)[0]


def _fitted(chart: Chart, known: KnownBoard, marked: Sequence[MarkedPad]) -> tuple[Fit | NoFit, float]:
    """The fit, and how many true millimetres one of the chart is by the file; 1 where its scale is known. [1]"""
    places = _places(known.pads)
    for one in marked:
        if one.pad not in places:
            raise UnknownNameError.among("pad of the file", one.pad, places)
    file = [places[one.pad] for one in marked]
    board = [chart.layer(one.layer).to_board.at(*one.at) for one in marked]
    wide = _spread(board)
    grown = 1.0 if chart.scale_from or not wide or not _spread(file) else _spread(file) / wide
    return fitted(file, [(x * grown, y * grown) for x, y in board]), grown


def _spread(points: Sequence[tuple[float, float]]) -> float:
    """Root mean square distance of points from their middle. [mm]"""
    if not points:
        return 0.0
    x, y = (sum(axis) / len(points) for axis in zip(*points, strict=True))
    return math.sqrt(sum((u - x) ** 2 + (v - y) ** 2 for u, v in points) / len(points))


@dataclass(frozen=True, slots=True)
class FitTold:
    """How a file would fit, in words, and how far off each marked pad lies. [mm]"""

    fits: bool
    words: str
    residuals_mm: tuple[float, ...] = ()


def fit_told(desk: Desk, case: str, known: KnownBoard, marked: Sequence[MarkedPad]) -> FitTold:
    """How the file would fit by the pads marked so far."""
    fit = fit_of(desk, case, known, marked)
    return FitTold(False, fit.reason) if isinstance(fit, NoFit) else FitTold(True, fit.words, fit.residuals_mm)


def lay_known(
    desk: Desk, case: str, known: KnownBoard, marked: Sequence[MarkedPad], *, expected: int | None = None
) -> CaseView:
    """Lay the board of a file on the picture, whole. Where nobody has told the scale, the file tells it.

    Raises
    ------
    DataError
        If the file gives no places, or the marked pads do not fit together.
    """
    if not known.pads:
        raise DataError(
            "This file does not say where its pads are.", where=known.name,
            hint="draw the parts under the same names, then take its nets",
        )  # fmt: skip
    book = book_of(desk, case)
    fit, grown = _fitted(book.chart, known, marked)
    if isinstance(fit, NoFit):
        raise DataError("The file was not laid on the picture.", where=known.name, why=fit.reason, hint=fit.reason)
    ours = moved(known, book.board.ground)
    edit = BoardLaid(
        laid_parts(ours.board.parts, fit), laid_pads(ours.pads, fit), ours.board.nets, ours.board.entries,
        ours.board.unmapped_share, f"{known.name} ({known.kind}; {fit.words})",
        tuple(fit.to_board.at(x, y) for x, y in known.outline),
    )  # fmt: skip
    scale = () if book.chart.scale_from else (ScaleSet(grown, f"the board file {known.name}"),)
    return thought_through(desk, case, record(desk, case, *scale, edit, expected=expected))


def take_nets(desk: Desk, case: str, known: KnownBoard, *, expected: int | None = None) -> CaseView:
    """Take the file's nets for the parts that were drawn under the same names."""
    board = book_of(desk, case).board
    ours = moved(known, board.ground)
    entries: list[Entry] = []
    for part in ours.board.parts:
        own = board.part_by_name.get(part.name)
        numbers = {pin.number for pin in own.pins} if own is not None else set()
        for pin in part.pins:
            if pin.net is None or pin.number not in numbers:
                continue
            ground = pin.net == board.ground
            entries.append(NetTold(f"{part.name}.{pin.number}", "" if ground else plain_net(pin.net), ground))
    if not entries:
        raise DataError(
            "No part of this file is on the map.", where=known.name,
            hint="draw parts under the names they have in the file, or hand over a file with places",
        )  # fmt: skip
    return thought_through(desk, case, record(desk, case, *entries, expected=expected))


def against_map(board: Board, known: KnownBoard) -> tuple[int, int, tuple[str, ...]]:
    """Pins on the same net in the file as on the map, on another, and which those are. [1]"""
    mine = {f"{p.name}.{q.number}": q.net for p in board.parts for q in p.pins}
    theirs = {f"{p.name}.{q.number}": q.net for p in known.board.parts for q in p.pins}
    found = compared(mine, theirs)
    return len(found.same), len(found.other), found.other[:20]


def plain_net(name: str) -> str:
    """A net's name with nothing in it but what may stand in one here."""
    return re.sub(r"[^A-Za-z0-9_+\-/ ]+", "_", name).strip("_ ")[:40] or "net"


def _places(pads: Sequence[Pad]) -> dict[str, tuple[float, float]]:
    found: dict[str, tuple[float, float]] = {}
    for pad in pads:
        found.setdefault(f"{pad.part}.{pad.pin}", (pad.x_mm, pad.y_mm))
    return found
