"""Steps and levels of a trace: the piecewise constant line that fits best at a price for every step.

The exact minimum of the sum of squares plus a price for each change, found by pruned dynamic programming [1]_. The
noise comes from the differences of neighbours, which steps hardly touch, and is never taken below the display's own
step. The price is Yao's for known variance, two logarithms of n, with room for the extra search over starts.

References
----------
.. [1] R. Killick, P. Fearnhead and I. A. Eckley, "Optimal detection of changepoints with a linear computational
   cost," J. Amer. Statist. Assoc., vol. 107, no. 500, pp. 1590-1598, 2012, doi:10.1080/01621459.2012.737745.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ohmwright.traces.trace import Array, SupplyTrace

PRICE = 3.0
"""Logarithms of n that a step costs, in squared noise. [1]"""
SHORTEST = 2
"""Readings of the shortest level. [1]"""
FINEST = 2_000
"""Readings beyond which neighbours are averaged before steps are looked for. [1]"""


@dataclass(frozen=True, slots=True)
class Level:
    """A stretch over which the current stays.

    Parameters
    ----------
    start, end : float
        [s]
    amps : float
        Mean. [A]
    noise : float
        Root mean square about the mean. [A]
    count : int
        Readings in it. [1]
    """

    start: float
    end: float
    amps: float
    noise: float
    count: int


def levels_of(trace: SupplyTrace) -> tuple[Level, ...]:
    """The levels of a trace, first to last."""
    times, amps = np.array(trace.times), np.array(trace.amps)
    step = trace.step
    if amps.size > FINEST:
        group = math.ceil(amps.size / FINEST)
        whole = amps.size // group * group
        times, amps = times[:whole].reshape(-1, group)[:, 0], amps[:whole].reshape(-1, group).mean(1)
        step = step / math.sqrt(group)
    cuts = [0, *changes(amps, noise_of(amps, step)), amps.size]
    ends = [*(float(times[c]) for c in cuts[1:-1]), trace.times[-1]]
    return tuple(
        Level(float(times[a]), end, float(amps[a:b].mean()), float(amps[a:b].std()), b - a)
        for a, b, end in zip(cuts[:-1], cuts[1:], ends, strict=True)
    )


def noise_of(values: Array, step: float) -> float:
    """Standard deviation of the noise, from differences of neighbours. Unit of the values."""
    if values.size < 3:
        return step / math.sqrt(12.0)
    spread = 1.4826 * float(np.median(np.abs(np.diff(values)))) / math.sqrt(2.0)
    return max(spread, step / math.sqrt(12.0), 1e-12)


def changes(values: Array, noise: float) -> tuple[int, ...]:
    """Where the mean of the values changes: indices at which a new level begins. [1]

    Parameters
    ----------
    values : ndarray, shape (n,)
    noise : float
        Standard deviation of each value about its level. Unit of the values.
    """
    n = values.size
    price = PRICE * math.log(max(n, 3)) * noise**2
    sums = np.concatenate(([0.0], np.cumsum(values - values.mean())))
    squares = np.concatenate(([0.0], np.cumsum((values - values.mean()) ** 2)))
    best = np.full(n + 1, np.inf)
    best[0] = -price
    before = np.zeros(n + 1, dtype=int)
    starts = np.array([0])
    for end in range(SHORTEST, n + 1):
        length = end - starts
        cost = squares[end] - squares[starts] - (sums[end] - sums[starts]) ** 2 / length
        total = best[starts] + cost + price
        k = int(np.argmin(total))
        best[end], before[end] = total[k], starts[k]
        starts = np.append(starts[best[starts] + cost <= best[end]], end - SHORTEST + 1)
    return _backwards(before, n)


def _backwards(before: np.ndarray, n: int) -> tuple[int, ...]:
    found: list[int] = []
    at = int(before[n])
    while at > 0:
        found.append(at)
        at = int(before[at])
    return tuple(reversed(found))
