"""What a net has at least while the board is up: told, or following from what feeds it and what it feeds.

Nobody labels every rail of a board without a schematic. What is known of a few goes a long way: metal joins,
switches pass what they get, a step-down converter runs from no less than it gives, a rectifier gives up one drop.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache

from ohmwright.circuit import Board
from ohmwright.devices import one_at_dc
from ohmwright.devices.power import Flow, flows

ENTRY_VOLTS = 5.0
"""Least volts that come in where nobody has told how many. [V] USB, barrel jacks bring more;
common practice, no source"""
SUPPLIED = frozenset({"VIN", "VCC", "SYS", "IN"})
"""Roles of pins that a regulator runs from; load switches, which have such pins too, pass any volts."""
REGULATED = 2.5
"""Volts a regulator needs at such a pin. [V] common practice"""
DROP = 0.7
"""Most that a rectifier takes. [V] common practice"""


def volts_at_least(board: Board, net: str) -> float | None:
    """What a net is told to have, or what at least it must have once the board is up; None if neither. [V]

    Parameters
    ----------
    board : Board
    net : str
    """
    known = volts_known(board).get(net)
    if board.net(net).nominal is not None:
        return known
    on = board.pins_on[net]
    supplied = any(pin.role in SUPPLIED and part.kind != "load-switch" for part, pin in on)
    return max(known or 0.0, REGULATED) if supplied else known


@lru_cache(maxsize=32)
def volts_known(board: Board) -> Mapping[str, float]:
    """For each net whose volts are told or follow from told ones, the least it has once the board is up. [V]

    A told value is never changed by what follows from another.
    """
    told = {net.name: net.nominal for net in board.nets if net.nominal is not None}
    least = dict.fromkeys(board.entries, ENTRY_VOLTS) | told
    fixed = {board.ground, *told}
    steps = tuple(_steps(board))
    risen = True
    while risen:
        risen = False
        for source, sink, drop in steps:
            volts = least.get(source, 0.0) - drop
            if sink not in fixed and volts > least.get(sink, 0.0):
                least[sink], risen = volts, True
    return least


def _steps(board: Board) -> Iterator[tuple[str, str, float]]:
    """From which net's volts those of which follow, and what is lost on the way [V]; ground apart."""
    for net, whole in one_at_dc(board).items():
        for other in whole - {net}:
            yield net, other, 0.0
    for part in board.parts:
        for flow, source, sink in flows(part):
            if board.ground in (source, sink):
                continue
            if flow is Flow.STEPS_DOWN:
                yield sink, source, 0.0
            elif flow is Flow.RECTIFIES and board.net(sink).rail:
                yield source, sink, DROP
            elif flow is Flow.PASSES and _both_feed(board, part.name, source, sink):
                yield source, sink, 0.0
                yield sink, source, 0.0


def _both_feed(board: Board, part: str, *nets: str) -> bool:
    """Whether both ends of a switch are rails, and neither is the middle of two switches from a rail to ground."""
    return all(board.net(net).rail or net in board.entries for net in nets) and not any(
        flow is Flow.PASSES and board.ground in ends
        for net in nets
        for other, _ in board.pins_on[net]
        if other.name != part
        for flow, *ends in flows(other)
        if net in ends
    )
