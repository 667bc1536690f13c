"""Leave for work with iron, hot air or solvent: the board has to be unfed."""

from __future__ import annotations

from ohmwright.errors import RefusedError
from ohmwright.safety import Refusal, entry_volts, hand_work
from ohmwright.usecases.desk import Desk, book_of

WORK = {"take off": "iron", "refit": "iron", "replace": "iron", "reflow": "hot air", "clean": "solvent"}
"""Acts, and what they are done with."""


def may_work(desk: Desk, case: str, act: str) -> None:
    """Raise why an act has to wait; other acts than those with iron, hot air or solvent never do.

    Raises
    ------
    RefusedError
        Naming the gate, and what to do first.
    """
    refusal = hand_work(book_of(desk, case).facts, WORK[act]) if act in WORK else None
    if refusal is not None:
        raise refused(refusal)


def may_enter(label_volts: float | None) -> None:
    """Raise why a board with such volts at its entry is not worked on here. [V]

    Raises
    ------
    RefusedError
        For mains, and above 60 V DC.
    """
    refusal = entry_volts(label_volts)
    if refusal is not None:
        raise refused(refusal)


def refused(refusal: Refusal) -> RefusedError:
    """A refusal as the user is told of it."""
    return RefusedError(f"Not permitted: {refusal.reason}", where=f"gate {refusal.gate}", hint=refusal.hint)
