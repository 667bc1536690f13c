"""Two traces laid beside each other: how alike they are, and from when on they part.

Boards do not start to the millisecond, so time may stretch a little: dynamic time warping within a band [1]_, on the
logarithm of the watts, so that a trace at 5 V and one at 19 V can be compared and 5 mA against 10 mA counts as much as
0.5 A against 1 A.

References
----------
.. [1] H. Sakoe and S. Chiba, "Dynamic programming algorithm optimization for spoken word recognition," IEEE Trans.
   Acoust., Speech, Signal Process., vol. 26, no. 1, pp. 43-49, 1978, doi:10.1109/TASSP.1978.1163055.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ohmwright.traces.trace import Array, SupplyTrace

POINTS = 160
"""Points that both are drawn on. [1]"""
BAND = 0.08
"""How far time may stretch, as a share of the length. [1]"""
SAME = 0.22
"""Difference of the logarithm of watts up to which two readings are the same: 25 %. [1] estimate"""
LASTING = 0.025
"""Share of the length that a difference has to last. [1]"""


@dataclass(frozen=True, slots=True)
class Likeness:
    """How alike two traces are.

    Parameters
    ----------
    alike : float
        Share of the time in which they agree. [1]
    parts_at : float or None
        When they first part, on the first one's clock; None if they do not. [s]
    ratio : float
        Watts of the first over the second from there on. [1]
    """

    alike: float
    parts_at: float | None
    ratio: float

    @property
    def same(self) -> bool:
        """Whether they agree all along."""
        return self.parts_at is None


def likeness(one: SupplyTrace, other: SupplyTrace) -> Likeness:
    """Compare two traces over the time that both cover."""
    length = min(one.length, other.length)
    grid = np.linspace(0.0, length, POINTS)
    a, b = _drawn(one, grid), _drawn(other, grid)
    path = _path(a, b)
    gaps = np.zeros(POINTS)
    for i in range(POINTS):
        gaps[i] = min(abs(a[i] - b[j]) for j in path[i])
    apart = gaps > SAME
    least = max(2, math.ceil(LASTING * POINTS))
    begin = _first_run(apart, least)
    if begin is None:
        return Likeness(float(1 - apart.mean()), None, 1.0)
    stretch = slice(begin, POINTS)
    ratio = float(np.exp(np.median((a - b)[stretch])))
    return Likeness(float(1 - apart.mean()), float(grid[begin]), ratio)


def _drawn(trace: SupplyTrace, grid: Array) -> Array:
    """Logarithm of the watts on a grid, never below what the display can show. [1]"""
    floor = 1.5 * trace.step * trace.set_volts
    watts = np.interp(grid + trace.times[0], trace.times, trace.watts)
    return np.asarray(np.log(np.maximum(watts, floor)))


def _path(a: Array, b: Array) -> list[list[int]]:
    """For each point of `a` the points of `b` that it is laid on."""
    n, band = a.size, max(1, int(BAND * a.size))
    gap = (
        np.minimum(np.abs(a[:, None] - b[None, :]), 3 * SAME)
        + 1e-3 * np.abs(np.arange(n)[:, None] - np.arange(n)[None, :]) / n
    )
    far = np.abs(np.arange(n)[:, None] - np.arange(n)[None, :]) > band
    gap[far] = np.inf
    total = np.full((n + 1, n + 1), np.inf)
    total[0, 0] = 0.0
    for i in range(1, n + 1):
        for j in range(max(1, i - band), min(n, i + band) + 1):
            total[i, j] = gap[i - 1, j - 1] + min(total[i - 1, j], total[i, j - 1], total[i - 1, j - 1])
    laid: list[list[int]] = [[] for _ in range(n)]
    i = j = n
    while i > 0 and j > 0:
        laid[i - 1].append(j - 1)
        i, j = min(((i - 1, j - 1), (i - 1, j), (i, j - 1)), key=lambda at: total[at])
    return laid


def _first_run(flags: np.ndarray, least: int) -> int | None:
    run = 0
    for k, flag in enumerate(flags):
        run = run + 1 if flag else 0
        if run >= least:
            return k - least + 1
    return None
