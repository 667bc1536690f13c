"""What millivolts along copper make of the facts. Pure."""

from __future__ import annotations

from dataclasses import replace

from ohmwright.casebook.field_events import GradientRecorded
from ohmwright.circuit import Board, BoardState, Feed
from ohmwright.errors import DataError
from ohmwright.facts import Facts


def fed_state(facts: Facts, feed: Feed | None) -> BoardState | None:
    """How the board stood while it was fed: now, or under a feed that has ended and nothing was done since."""
    if facts.state.feed is not None:
        return facts.state
    last = facts.last_fed
    return last if last is not None and feed is not None and last.feed == feed else None


def with_gradient(board: Board, facts: Facts, what: GradientRecorded, key: str) -> Facts:
    """The facts with one more run of readings along copper."""
    board.net(what.measured.net)
    state = fed_state(facts, what.feed)
    if state is None:
        raise DataError(
            "No current passes through the copper while the supply is off.",
            hint="record the feed first, then the millivolts",
        )
    return replace(facts, gradients=(*facts.gradients, replace(what.measured, state=state, key=key)))
