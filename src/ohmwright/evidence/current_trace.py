"""What a trace of the supply's current says about each hypothesis.

A rough table: what boards with a fault of each kind usually do when they are fed. Estimates, no source; rows sum to
one, so that a trace can only shift belief by the ratio of two estimates. Traces of one feed repeat each other, so the
first of each counts. Where volts and amps of the same feed are on record as readings, the limit is left to them.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum

import numpy as np

from ohmwright.circuit import Board, BoardState
from ohmwright.evidence.joint import Array
from ohmwright.evidence.roster import Roster
from ohmwright.facts import Quantity, Reading
from ohmwright.facts.trace import Behaviour, TraceSeen
from ohmwright.faults import Defect, DefectKind
from ohmwright.safety import reached_from


class Place(IntEnum):
    """Where a defect lies as the supply sees it; the first that fits counts."""

    AT_FEED = 0
    """A path from copper that the feed reaches by metal alone."""
    IN_SERIES = 1
    """Something open on the way in."""
    BEHIND = 2
    """A path behind a switch, a regulator or a junction."""
    ELSEWHERE = 3
    SOUND = 4


USUAL = {
    Behaviour.NOTHING: (0.01, 0.45, 0.02, 0.08, 0.02),
    Behaviour.SHORT: (0.70, 0.005, 0.06, 0.01, 0.003),
    Behaviour.HELD: (0.04, 0.01, 0.05, 0.02, 0.05),
    Behaviour.RETRIES: (0.08, 0.05, 0.30, 0.12, 0.02),
    Behaviour.ABORTED: (0.04, 0.10, 0.20, 0.13, 0.03),
    Behaviour.PLATEAU: (0.03, 0.15, 0.15, 0.30, 0.10),
    Behaviour.RUNS: (0.02, 0.05, 0.05, 0.12, 0.65),
    Behaviour.OTHER: (0.08, 0.185, 0.17, 0.22, 0.127),
}
"""Share of boards with a fault at each `Place` that behave so. [1] estimates, no source"""
SUPPLY = frozenset({Quantity.SUPPLY_VOLTS, Quantity.SUPPLY_AMPS})


def trace_log_likelihood(
    board: Board, traces: Sequence[TraceSeen], readings: Sequence[Reading], roster: Roster
) -> Array:
    """Natural logarithm of how likely the traces are, shape (n_hypotheses,)."""
    total = np.zeros(len(roster.hypotheses))
    seen: set[tuple[str, frozenset[str]]] = set()
    for trace in traces:
        feed = trace.state.feed
        if feed is None or trace.behaviour is Behaviour.OTHER:
            continue  # what fits no stage, as on a rail fed away from the entry, may have any cause
        if (board.net_at(feed.plus), trace.state.off) in seen:
            continue
        seen.add((board.net_at(feed.plus), trace.state.off))
        if trace.behaviour in (Behaviour.SHORT, Behaviour.HELD) and _on_record(trace.state, readings):
            continue
        shares = np.array(USUAL[trace.behaviour])
        total += np.log(shares[_places(board, trace.state, roster)])
    return total


def _on_record(state: BoardState, readings: Sequence[Reading]) -> bool:
    return any(r.quantity in SUPPLY and r.state == state for r in readings)


def _places(board: Board, state: BoardState, roster: Roster) -> np.ndarray:
    """The place of each hypothesis, shape (n_hypotheses,)."""
    feed = state.feed
    plus = board.net_at(feed.plus) if feed else board.ground
    reached = reached_from(board, state, plus, {})
    metal = {net.net for net in reached if net.drop == 0.0}
    way = {net.net for net in reached}
    there = roster.still_there(state)
    own = np.array(
        [_place(d, metal, way) if on and not d.harmless else Place.SOUND
         for d, on in zip(roster.defects, there.tolist(), strict=True)] + [Place.SOUND]
    )  # fmt: skip
    return np.asarray(own[roster.slots].min(axis=1))


def _place(defect: Defect, metal: set[str], way: set[str]) -> Place:
    nets = set(defect.nets)
    if defect.kind is DefectKind.PATH:
        if defect.mode == "leak":
            return Place.ELSEWHERE
        return Place.AT_FEED if nets & metal else Place.BEHIND
    if defect.kind is DefectKind.OPEN and nets <= way and nets & metal:
        return Place.IN_SERIES
    return Place.ELSEWHERE
