"""Which pass devices a feed switches on.

The answer is that of a sound board: a switch closes when its source reaches the volts it needs. On a
shorted board the switch would open again at once and try anew; the readings that matter are those of
the attempt, in which the supply shows its limit.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import BoardState, ElementKind
from ohmwright.operation.wiring import WIRE, Wiring
from ohmwright.solver import Port, Shunts, Sources, Strengths, solve_columns


def switched_on(wiring: Wiring, state: BoardState) -> frozenset[str]:
    """Parts whose pass path a feed closes on a sound board.

    Parameters
    ----------
    wiring : Wiring
    state : BoardState
        With its feed; without one nothing is switched on.

    Returns
    -------
    frozenset of str
        Names of parts.
    """
    feed = state.feed
    if feed is None or not wiring.switches:
        return frozenset()
    needed = min(switch.needs for switch in wiring.switches)
    on: frozenset[str] = frozenset()
    if feed.volts < needed:
        return on
    board = wiring.board
    port = Port(board.net_at(feed.plus), board.net_at(feed.minus), feed.limit, feed.volts, max(feed.leads, 1e-3))
    for _ in range(len(wiring.switches) + 1):
        volts = _volts(wiring, replace(state, switched_on=on), port)
        more = on | {
            s.part
            for s in wiring.switches
            if s.part not in state.off and volts[wiring.network.node_of[s.source]] >= s.needs
        }
        if more == on:
            break
        on = more
    return on


def _volts(wiring: Wiring, state: BoardState, port: Port) -> NDArray[np.float64]:
    network = wiring.network
    strengths = Strengths(network)
    present = wiring.present(state)
    kinds = {kind: np.array(index, dtype=np.intp) for kind, index in _by_kind(wiring).items()}
    conductance = strengths.conductance * present[kinds[ElementKind.RESISTIVE]]
    saturation = strengths.saturation * present[kinds[ElementKind.JUNCTION]]
    wires = [(network.node_of[a], network.node_of[b]) for a, b in wiring.wires(state)]
    shunts = Shunts(
        np.array([a for a, _ in wires], dtype=np.intp),
        np.array([b for _, b in wires], dtype=np.intp),
        np.zeros(len(wires), dtype=np.intp),
        np.full(len(wires), 1.0 / WIRE),
    )
    solved = solve_columns(strengths, Sources.of(network, port, 1), conductance[:, None], saturation[:, None], shunts)
    return np.asarray(solved.volts[:, 0])


def _by_kind(wiring: Wiring) -> dict[ElementKind, tuple[int, ...]]:
    network = wiring.network
    return {ElementKind.RESISTIVE: network.resistive, ElementKind.JUNCTION: network.junctions}
