"""Nets that read alike and low, with nothing on the map between them: a coil or a bead that nobody has drawn."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

from ohmwright.circuit import Board, BoardState, Part
from ohmwright.devices import one_at_dc
from ohmwright.evidence.electrical import THROUGH
from ohmwright.facts import Facts, Quantity
from ohmwright.operation import SWITCHING

LOW = 50.0
"""Resistance to ground up to which two nets that read alike are taken to be joined. [Ω]"""
ALIKE, CONTACT = 0.08, 0.25
"""How far two readings of one resistance lie apart: as a share, and by the contacts. [1], [Ω]"""
SAME, MOST_SAME = 0.01, 20e3
"""How near two higher readings lie before it is worth asking whether the nets are one at DC. [1], [Ω]"""
HIDDEN = 0.05
"""Share of parts missing from the map from which that is thought of. [1]"""


def hidden_links(board: Board, facts: Facts) -> tuple[tuple[str, str], ...]:
    """Pairs of nets that something off the map seems to join at DC.

    Two nets that both read the same few ohms to ground are joined more often than they are both short, and two
    nets with next to nothing between them have a coil, a bead or a link there. Only where parts are missing from
    the map, and nothing on the map could be what joins them.
    """
    if board.unmapped_share < HIDDEN:
        return ()
    low = {net: ohms for net, ohms in _to_ground(board, facts).items() if ohms < LOW}
    names = sorted(low, key=lambda net: (low[net], net))
    alike = [(a, b) for a, b in itertools.pairwise(names) if low[b] - low[a] < CONTACT + ALIKE * low[a]]
    between = [pair for pair, ohms in read_across(board, facts).items() if ohms < THROUGH]
    found = dict.fromkeys((a, b) if a < b else (b, a) for a, b in (*alike, *between))
    return tuple((a, b) for a, b in found if not _mapped_between(board, a, b))


def may_be_joined(board: Board, facts: Facts) -> tuple[tuple[str, str], ...]:
    """Pairs of nets that read the same to ground though nothing on the map joins them, and nobody read across."""
    if board.unmapped_share < HIDDEN:
        return ()
    ohms = {net: value for net, value in _to_ground(board, facts).items() if value < MOST_SAME}
    across = read_across(board, facts)
    names = sorted(ohms, key=lambda net: (ohms[net], net))
    pairs = ((a, b) if a < b else (b, a) for a, b in itertools.pairwise(names) if _same(ohms[a], ohms[b]))
    return tuple((a, b) for a, b in pairs if (a, b) not in across and not _mapped_between(board, a, b))


def _same(a: float, b: float) -> bool:
    return abs(b - a) < CONTACT + SAME * a


def _to_ground(board: Board, facts: Facts) -> dict[str, float]:
    """Ohms to ground by net, as read last."""
    out: dict[str, float] = {}
    for reading in facts.readings:
        nets = {board.net_at(reading.red), board.net_at(reading.black)}
        if reading.quantity is Quantity.OHMS and board.ground in nets and len(nets) == 2 and reading.value is not None:
            out[next(iter(nets - {board.ground}))] = reading.value
    return out


def read_across(board: Board, facts: Facts) -> dict[tuple[str, str], float]:
    """Ohms between two nets of which neither is ground, as read last; infinite where the meter showed nothing."""
    out: dict[tuple[str, str], float] = {}
    for reading in facts.readings:
        a, b = sorted((board.net_at(reading.red), board.net_at(reading.black)))
        if reading.quantity is Quantity.OHMS and a != b and board.ground not in (a, b):
            out[a, b] = math.inf if reading.value is None else reading.value
    return out


def _mapped_between(board: Board, a: str, b: str) -> bool:
    """Whether something on the map may be what joins two nets, or nets that are one with them at DC.

    A converter whose coil nobody has drawn is not it where one of the nets is its switch node: the coil is.
    """
    here, there = (one_at_dc(board)[net] for net in (a, b))
    if here == there:
        return True
    shared = {part.name: part for net in here for part, _ in board.pins_on[net] if there & set(part.nets)}
    if any(part.kind == "coil" for net in (a, b) for part, _ in board.pins_on[net]):
        return bool(shared)
    return any(not _switches_into(part, here, there) for part in shared.values())


def _switches_into(part: Part, a: frozenset[str], b: frozenset[str]) -> bool:
    roles = [{pin.role for pin in part.pins if pin.net in nets} for nets in (a, b)]
    return any(one & SWITCHING and not other & (SWITCHING | {"VIN"}) for one, other in (roles, roles[::-1]))


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
