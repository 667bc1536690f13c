"""What millivolts along copper make of the facts. Pure."""

from __future__ import annotations

from dataclasses import replace

from ohmwright.casebook.field_events import GradientRecorded
from ohmwright.circuit import Board
from ohmwright.errors import DataError
from ohmwright.facts import Facts


def with_gradient(board: Board, facts: Facts, what: GradientRecorded, key: str) -> Facts:
    """The facts with one more run of readings along copper."""
    board.net(what.measured.net)
    if facts.state.feed is None:
        raise DataError(
            "No current passes through the copper while the supply is off.",
            hint="record the feed first, then the millivolts",
        )
    return replace(facts, gradients=(*facts.gradients, replace(what.measured, state=facts.state, key=key)))
