"""Whether a trace repeats, and how often: autocorrelation of what is left after the slow drift is taken off.

A period is believed only where the trace holds at least three of them and the peak stands out of what noise of that
length gives; shorter than three readings nothing can be said, and the answer says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ohmwright.traces.trace import Array, SupplyTrace

LEAST_ROUNDS = 3.0
"""Periods that a trace has to hold. [1]"""
LEAST_READINGS = 3.0
"""Readings that a period has to hold. [1]"""
STRONG = 0.5
"""Autocorrelation from which a trace repeats. [1]"""


@dataclass(frozen=True, slots=True)
class Period:
    """How a trace repeats; false in a condition where it does not.

    Parameters
    ----------
    seconds : float
        0 where no period was found. [s]
    strength : float
        Autocorrelation at one period, bias of the shrinking overlap taken out. [1]
    shortest, longest : float
        What this rate and this length could have shown. [s]
    """

    seconds: float
    strength: float
    shortest: float
    longest: float

    def __bool__(self) -> bool:
        return self.seconds > 0.0


def period_of(trace: SupplyTrace) -> Period:
    """The period of a trace's current."""
    step = 1.0 / trace.rate
    shortest, longest = LEAST_READINGS * step, trace.length / LEAST_ROUNDS
    count = int(trace.length / step) + 1
    grid = trace.times[0] + step * np.arange(count)
    values = np.interp(grid, trace.times, trace.amps)
    nothing = Period(0.0, 0.0, shortest, longest)
    if count < 12:
        return nothing
    x = grid - grid.mean()
    values = values - values.mean() - x * (x @ values) / (x @ x)
    spread = float(values.std())
    if spread < 1.5 * trace.step / math.sqrt(12.0):
        return nothing
    correlation = _autocorrelation(values)
    low, high = math.ceil(LEAST_READINGS), int(count / LEAST_ROUNDS)
    lag = _first_peak(correlation, low, high)
    if lag is None:
        return nothing
    strength = float(correlation[lag])
    if strength < max(STRONG, 4.5 / math.sqrt(count - lag)):
        return Period(0.0, strength, shortest, longest)
    return Period(_refined(correlation, lag) * step, strength, shortest, longest)


def _autocorrelation(values: Array) -> Array:
    """Correlation with itself at each lag, each by its own overlap. [1]"""
    n = values.size
    power = np.abs(np.fft.rfft(values, 2 * n)) ** 2
    sums = np.fft.irfft(power)[:n]
    return np.asarray(sums / np.arange(n, 0, -1) / max(float(values.var()), 1e-300))


def _first_peak(correlation: Array, low: int, high: int) -> int | None:
    """The first peak nearly as high as the highest: later ones are its multiples."""
    inner = correlation[low - 1 : high + 2]
    if inner.size < 3:
        return None
    # A dip has to come first: near lag zero everything that is slow correlates with itself.
    dips = np.flatnonzero(correlation[1 : high + 1] < 0.35)
    if not dips.size:
        return None
    start = max(low, int(dips[0]) + 1)
    peaks = [
        k for k in range(start, high + 1)
        if correlation[k] >= correlation[k - 1] and (k + 1 >= correlation.size or correlation[k] > correlation[k + 1])
    ]  # fmt: skip
    if not peaks:
        return None
    top = max(float(correlation[k]) for k in peaks)
    if top <= 0.0:
        return None
    # A period of few readings falls between them and peaks lower than a multiple that does not.
    return next(k for k in peaks if correlation[k] > (0.85 if k > 14 else 0.55) * top)


def _refined(correlation: Array, lag: int) -> float:
    """The peak of the parabola through three lags; more rounds, a finer answer. [readings]"""
    best = float(lag) + _offset(correlation, lag)
    rounds = 2
    while best * rounds < 0.6 * correlation.size:
        near = round(best * rounds)
        window = range(max(1, near - 2), min(correlation.size - 1, near + 3))
        peak = max(window, key=lambda k: correlation[k])
        if correlation[peak] < 0.6 * correlation[lag]:
            break
        best = (peak + _offset(correlation, peak)) / rounds
        rounds += 1
    return best


def _offset(correlation: Array, k: int) -> float:
    if not 0 < k < correlation.size - 1:
        return 0.0
    a, b, c = correlation[k - 1], correlation[k], correlation[k + 1]
    bend = a - 2 * b + c
    return float(np.clip(0.5 * (a - c) / bend, -0.5, 0.5)) if bend < 0 else 0.0
