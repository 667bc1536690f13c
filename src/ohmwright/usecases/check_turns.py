"""Which parts of the map may lie the wrong way round, by their pins' names and by what was read or heard."""

from __future__ import annotations

from dataclasses import dataclass

from ohmwright.boardmap.orientation import orientation_doubts, pins_around, ways_round
from ohmwright.boardmap.righting import righting
from ohmwright.casebook import Casebook
from ohmwright.circuit import Board
from ohmwright.facts import Facts, Quantity
from ohmwright.usecases.desk import Desk, book_of


@dataclass(frozen=True, slots=True)
class TurnToCheck:
    """A part that may lie the wrong way round, and what would bring it right.

    Parameters
    ----------
    words : str
        What does not go together, and what would.
    turn : str
        How it may lie, in words; empty where nothing explains it.
    mirror : bool
        Whether its pins would have to run the other way round.
    turn_deg : float
        How far it would have to be turned after that, counter-clockwise as seen from the top. [deg]
    moves : bool
        Whether that movement brings it right; else it is for people to see.
    """

    part: str
    words: str
    turn: str
    mirror: bool = False
    turn_deg: float = 0.0
    moves: bool = False


def turns_checked(desk: Desk, case: str) -> tuple[TurnToCheck, ...]:
    """The parts that may lie the wrong way round, each with what speaks for it."""
    book = book_of(desk, case)
    found = orientation_doubts(book.board, resistances_to_ground(book.board, book.facts), silent_to_ground(book))
    out = []
    for doubt in found:
        part, pads = book.board.part(doubt.part), book.chart.pads_of(doubt.part)
        by_pin = {pad.pin: pad for pad in pads}
        laid = [by_pin[pin.number] for pin in pins_around(part) if pin.number in by_pin]
        order = ways_round(len(part.pins)).get(doubt.turn)
        move = righting(part.place, laid, order) if order is not None and part.place is not None else None
        mirror, turn = move or (False, 0.0)
        out.append(TurnToCheck(doubt.part, doubt.words, doubt.turn, mirror, turn, move is not None))
    return tuple(out)


def silent_to_ground(book: Casebook) -> frozenset[str]:
    """Pads that a tester was held at against ground, and that stayed silent when they were last."""
    ground, last = book.board.ground, {}
    for one in book.copper.heard:
        if ground in (one.a, one.b):
            last[one.a if one.b == ground else one.b] = one.beeps
    return frozenset(pad for pad, beeps in last.items() if not beeps)


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
