"""What a supply's current did over time after the output went on, in one word."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ohmwright.circuit import BoardState


class Behaviour(StrEnum):
    """What the current did."""

    NOTHING = "draws nothing"
    SHORT = "volts collapse at the limit"
    HELD = "at the limit, volts held"
    RETRIES = "tries again and again"
    ABORTED = "begins and gives up"
    PLATEAU = "a plateau without life"
    RUNS = "runs"
    OTHER = "something else"


@dataclass(frozen=True, slots=True)
class TraceSeen:
    """A trace of the supply while it fed the board.

    Parameters
    ----------
    behaviour : Behaviour
    watts : float
        Power of the last level. [W]
    period : float
        Of what repeats; 0 for nothing. [s]
    words : str
        What the trace was judged to be, for people.
    state : BoardState
        With its feed.
    """

    behaviour: Behaviour
    watts: float
    period: float = 0.0
    words: str = ""
    state: BoardState = BoardState()
    key: str = ""
