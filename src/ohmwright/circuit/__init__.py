"""The circuit as a value: nets, parts, pins, and the state of the board around them."""

from ohmwright.circuit.board import Board, Net, Part, Pin, Place, Rating, Spread
from ohmwright.circuit.elements import Element, ElementKind
from ohmwright.circuit.state import BoardState, Feed

__all__ = [
    "Board",
    "BoardState",
    "Element",
    "ElementKind",
    "Feed",
    "Net",
    "Part",
    "Pin",
    "Place",
    "Rating",
    "Spread",
]
