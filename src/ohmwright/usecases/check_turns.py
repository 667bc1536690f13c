"""Which parts of the map may lie the wrong way round, by their pins' names and by what was read."""

from __future__ import annotations

from ohmwright.boardmap.orientation import TurnDoubt, orientation_doubts
from ohmwright.circuit import Board
from ohmwright.facts import Facts, Quantity
from ohmwright.usecases.desk import Desk, book_of


def check_turns(desk: Desk, case: str) -> tuple[TurnDoubt, ...]:
    """The parts that may lie the wrong way round, each with what speaks for it."""
    book = book_of(desk, case)
    return orientation_doubts(book.board, resistances_to_ground(book.board, book.facts))


def resistances_to_ground(board: Board, facts: Facts) -> dict[str, float]:
    """Ohms from pads to ground as read, the last reading of each; an overload is a megohm. [ohm]"""
    by_point: dict[str, float] = {}
    for reading in facts.readings:
        if reading.quantity is Quantity.OHMS and board.ground in (reading.red, reading.black):
            point = reading.black if reading.red == board.ground else reading.red
            by_point[point] = 1e6 if reading.value is None else reading.value
    out = {}
    for part in board.parts:
        for pin in part.pins:
            pad = f"{part.name}.{pin.number}"
            value = by_point.get(pad, by_point.get(pin.net) if pin.net else None)
            if value is not None:
                out[pad] = value
    return out
