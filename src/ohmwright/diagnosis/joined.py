"""Nets that read alike and low, with nothing on the map between them: a coil or a bead that nobody has drawn."""

from __future__ import annotations

import itertools
from dataclasses import replace

from ohmwright.circuit import Board, BoardState
from ohmwright.facts import Facts, Quantity

LOW = 50.0
"""Resistance to ground up to which two nets that read alike are taken to be joined. [Ω]"""
ALIKE, CONTACT = 0.08, 0.25
"""How far two readings of one resistance lie apart: as a share, and by the contacts. [1], [Ω]"""
HIDDEN = 0.05
"""Share of parts missing from the map from which that is thought of. [1]"""


def hidden_links(board: Board, facts: Facts) -> tuple[tuple[str, str], ...]:
    """Pairs of nets that something off the map seems to join at DC.

    Two nets that both read the same few ohms to ground are joined more often than they are both short. Only where
    parts are missing from the map, and no part of the map lies between the two.
    """
    if board.unmapped_share < HIDDEN:
        return ()
    low: dict[str, float] = {}  # as read last
    for reading in facts.readings:
        nets = {board.net_at(reading.red), board.net_at(reading.black)}
        alone = reading.quantity is Quantity.OHMS and board.ground in nets and len(nets) == 2
        if alone and reading.value is not None:
            low[next(iter(nets - {board.ground}))] = reading.value
    names = sorted((net for net in low if low[net] < LOW), key=lambda net: (low[net], net))
    return tuple(
        (a, b)
        for a, b in itertools.pairwise(names)
        if low[b] - low[a] < CONTACT + ALIKE * low[a] and not _mapped_between(board, a, b)
    )


def _mapped_between(board: Board, a: str, b: str) -> bool:
    return bool({part.name for part, _ in board.pins_on[a]} & {part.name for part, _ in board.pins_on[b]})


def as_joined(facts: Facts, links: tuple[tuple[str, str], ...]) -> Facts:
    """The facts with those nets bridged in every state of the board."""
    if not links:
        return facts

    def joined(state: BoardState) -> BoardState:
        return replace(state, bridges=state.bridges | set(links))

    return replace(
        facts,
        readings=tuple(replace(reading, state=joined(reading.state)) for reading in facts.readings),
        heats=tuple(replace(heat, state=joined(heat.state)) for heat in facts.heats),
        gradients=tuple(replace(one, state=joined(one.state)) for one in facts.gradients),
        acts=tuple(replace(act, state=joined(act.state)) for act in facts.acts),
        state=joined(facts.state),
    )
