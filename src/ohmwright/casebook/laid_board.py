"""A board known from a file, laid on the pictures whole."""

from __future__ import annotations

import math
from dataclasses import replace

from ohmwright.boardmap import Chart
from ohmwright.casebook.events import BoardLaid
from ohmwright.circuit import Board, Net
from ohmwright.devices import KINDS
from ohmwright.errors import DataError, UnknownNameError
from ohmwright.facts import Facts

MOST_MM = 10_000.0
"""Farthest anything on a map may be from its corner. [mm]"""


def with_laid_board(board: Board, facts: Facts, chart: Chart, edit: BoardLaid) -> tuple[Board, Facts, Chart]:
    """Board, facts and chart with all parts, pads and nets of the file.

    Raises
    ------
    DataError
        If a part of that name was drawn already, or pads belong to no part of the file.
    """
    _check(board, edit)
    known = {net.name for net in board.nets}
    new = tuple(net for net in edit.nets if net.name not in known)
    told = {net.name: net for net in edit.nets}
    nets = tuple(_fuller(net, told.get(net.name)) for net in board.nets)
    entries = tuple(dict.fromkeys((*board.entries, *edit.entries)))
    laid = replace(
        board, nets=(*nets, *new), parts=(*board.parts, *edit.parts), entries=entries,
        unmapped_share=edit.unmapped_share,
    )  # fmt: skip
    return laid, facts, replace(
        chart, pads=(*chart.pads, *edit.pads), outline=edit.outline or chart.outline
    )


def _fuller(net: Net, told: Net | None) -> Net:
    """What is on the map stays; what only the file knows is added."""
    if told is None:
        return net
    nominal = net.nominal if net.nominal is not None else told.nominal
    return replace(net, nominal=nominal, rail=net.rail or told.rail)


def _check(board: Board, edit: BoardLaid) -> None:
    own = {part.name for part in edit.parts}
    twice = sorted(own & set(board.part_by_name))
    if twice:
        raise DataError(
            f"{', '.join(twice[:5])} {'is' if len(twice) == 1 else 'are'} on the map already.",
            why="the file brings parts of the same names",
            hint="erase what was drawn by hand, or lay the file on an empty map",
        )
    for part in edit.parts:
        if part.kind not in KINDS:
            raise UnknownNameError.among("kind of part", part.kind, KINDS)
    if not all(math.isfinite(v) and abs(v) <= MOST_MM for corner in edit.outline for v in corner):
        raise DataError("The edge of the file lies nowhere near the board.", hint="mark the points anew")
    for pad in edit.pads:
        if pad.part not in own:
            raise DataError(f"A pad belongs to {pad.part[:40]!r}, which the file does not hold.")
        sizes = (pad.x_mm, pad.y_mm, pad.width_mm, pad.height_mm)
        if not all(math.isfinite(v) and abs(v) <= MOST_MM for v in sizes):
            raise DataError(f"{pad.part}.{pad.pin} lies nowhere near the board.", hint="mark the points anew")
