"""Many points in one go: the order in which two hands reach them soonest.

An open path through all stops, so a travelling salesman who need not come home. Up to `EXACT` stops the best order is
found by dynamic programming over sets [1]_; beyond that a path is grown from several starts and mended by turning a
stretch round (2-opt [2]_) and by moving one to three stops elsewhere (Or-opt [3]_) until neither helps.

References
----------
.. [1] M. Held and R. M. Karp, "A dynamic programming approach to sequencing problems," J. SIAM, vol. 10, no. 1,
   pp. 196-210, 1962, doi:10.1137/0110015.
.. [2] G. A. Croes, "A method for solving traveling-salesman problems," Operations Research, vol. 6, no. 6, pp. 791-812,
   1958, doi:10.1287/opre.6.6.791.
.. [3] I. Or, "Traveling salesman-type combinatorial problems and their relation to the logistics of regional blood
   banking," Ph.D. thesis, Northwestern University, 1976.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
HAND_PACE_MM = 150.0
"""How far a probe is carried in a second without haste. [mm/s] estimate"""
LEAD_MOVE = 1.2
"""What it costs to lift a second probe that could have stayed: eyes leave the first. [s] estimate"""
DIAL = 3.0
"""To turn the meter to another mode. [s] estimate"""
TURN_OVER = 8.0
"""To turn the board over. [s] estimate"""
UNKNOWN_MM = 40.0
"""Carried to a point whose place nobody knows. [mm] estimate"""
EXACT = 11
"""Stops up to which the best order is found for certain; each more doubles the work. [1]"""
STARTS = 6
"""Paths that are grown and mended; the best is kept. [1]"""
LEAST_GAIN = 1e-9
"""Seconds below which a change is rounding. [s]"""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the board. [mm]"""

    x_mm: float
    y_mm: float
    side: str = "top"


@dataclass(frozen=True, slots=True)
class Stop:
    """One reading of a round.

    Parameters
    ----------
    quantity : str
        As in `ohmwright.facts.Quantity`.
    red, black : str
        Points.
    red_at, black_at : Spot or None
        Where they are, if that is known.
    """

    quantity: str
    red: str
    black: str
    red_at: Spot | None = None
    black_at: Spot | None = None


def seconds_between(before: Stop, after: Stop) -> float:
    """How long two hands take from one stop to the next. [s]"""
    red = 0.0 if before.red == after.red else _carried(before.red_at, after.red_at)
    black = 0.0 if before.black == after.black else _carried(before.black_at, after.black_at) + LEAD_MOVE
    dial = DIAL if before.quantity != after.quantity else 0.0
    return max(red, black) + 0.25 * min(red, black) + dial + (TURN_OVER if _other_side(before, after) else 0.0)


def round_seconds(stops: Sequence[Stop]) -> float:
    """How long the hands are on their way through a round. [s]"""
    return sum(seconds_between(a, b) for a, b in itertools.pairwise(stops))


def round_order(stops: Sequence[Stop], begin: Stop | None = None) -> tuple[Stop, ...]:
    """The stops in the order that takes the hands least time.

    Parameters
    ----------
    begin : Stop or None
        Where the probes are now; the round then begins from there.
    """
    if len(stops) < 2:
        return tuple(stops)
    costs = np.array([[seconds_between(a, b) for b in stops] for a in stops])
    first = np.array([0.0 if begin is None else seconds_between(begin, s) for s in stops])
    order = _best(costs, first) if len(stops) <= EXACT else _mended(costs, first)
    return tuple(stops[k] for k in order)


def _carried(a: Spot | None, b: Spot | None) -> float:
    far = UNKNOWN_MM if a is None or b is None else math.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm)
    return far / HAND_PACE_MM


def _other_side(before: Stop, after: Stop) -> bool:
    return before.red_at is not None and after.red_at is not None and before.red_at.side != after.red_at.side


def _best(costs: Array, first: Array) -> list[int]:
    """Held and Karp: the cheapest way to have visited a set and to stand at its last stop."""
    n = len(costs)
    least = np.full((1 << n, n), math.inf)
    came = np.full((1 << n, n), -1, dtype=np.int64)
    for k in range(n):
        least[1 << k, k] = first[k]
    for seen in range(1, 1 << n):
        here = least[seen]
        if not np.isfinite(here).any():
            continue
        ways = here[:, None] + costs
        nearest, by = ways.min(axis=0), ways.argmin(axis=0)
        for k in range(n):
            wider = seen | 1 << k
            if wider != seen and nearest[k] < least[wider, k]:
                least[wider, k], came[wider, k] = nearest[k], by[k]
    seen, at = (1 << n) - 1, int(least[-1].argmin())
    order = [at]
    while came[seen, at] >= 0:
        seen, at = seen & ~(1 << at), int(came[seen, at])
        order.append(at)
    return order[::-1]


def _mended(costs: Array, first: Array) -> list[int]:
    """The best of several grown paths after mending."""
    starts = np.argsort(first, kind="stable")[:STARTS] if first.any() else np.linspace(0, len(costs) - 1, STARTS)
    found = [_mend(_grown(costs, int(start)), costs, first) for start in starts]
    return min(found, key=lambda order: _length(order, costs, first))


def _grown(costs: Array, start: int) -> list[int]:
    """From each stop to the nearest that is left."""
    order, left = [start], set(range(len(costs))) - {start}
    while left:
        order.append(min(sorted(left), key=lambda k: costs[order[-1], k]))
        left.discard(order[-1])
    return order


def _length(order: Sequence[int], costs: Array, first: Array) -> float:
    path = np.asarray(order)
    return float(first[path[0]] + costs[path[:-1], path[1:]].sum())


def _mend(order: list[int], costs: Array, first: Array) -> list[int]:
    length = _length(order, costs, first)
    while True:
        better = _turned(order, costs, first, length) or _moved(order, costs, first, length)
        if better is None:
            return order
        order, length = better, _length(better, costs, first)


def _turned(order: list[int], costs: Array, first: Array, length: float) -> list[int] | None:
    """A shorter path with one stretch turned round."""
    for i in range(len(order) - 1):
        for j in range(i + 1, len(order)):
            tried = order[:i] + order[i : j + 1][::-1] + order[j + 1 :]
            if _length(tried, costs, first) < length - LEAST_GAIN:
                return tried
    return None


def _moved(order: list[int], costs: Array, first: Array, length: float) -> list[int] | None:
    """A shorter path with one to three stops moved elsewhere, either way round."""
    for size in (1, 2, 3):
        for i in range(len(order) - size + 1):
            piece, rest = order[i : i + size], order[:i] + order[i + size :]
            for j in range(len(rest) + 1):
                for part in (piece, piece[::-1]):
                    tried = rest[:j] + part + rest[j:]
                    if _length(tried, costs, first) < length - LEAST_GAIN:
                        return tried
    return None
