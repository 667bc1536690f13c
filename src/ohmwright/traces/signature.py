"""What is worth keeping of a trace: its levels, period, drift, noise, and how the limit was reached."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from ohmwright.traces.levels import Level, levels_of, noise_of
from ohmwright.traces.periods import Period, period_of
from ohmwright.traces.trace import SupplyTrace

AT_LIMIT = 0.97
"""Share of the limit from which a supply holds the current. [1]"""
HELD = 0.93
"""Share of the set volts from which they are held. [1]"""
DRIFTS = 4.0
"""Standard errors from which a drift is one. [1]"""


class AtLimit(StrEnum):
    """How a supply stood at its limit."""

    NEVER = "below the limit"
    HELD = "at the limit, volts held"
    """The board asks for more than the limit: no short is proven."""
    COLLAPSED = "at the limit, volts collapsed"
    """Volts over amps is a resistance that draws whatever it is given."""


@dataclass(frozen=True, slots=True)
class Signature:
    """A trace in a few figures.

    Parameters
    ----------
    set_volts, limit : float
        [V], [A]
    levels : tuple of Level
    period : Period
    mean, last, peak : float
        Current over all, of the last level, and the largest. [A]
    slope : float
        Drift over the last level. [A/s]
    drifting : bool
        Whether that is more than noise.
    noise : float
        Root mean square about the levels. [A]
    restless : float
        Noise over what the display and neighbours explain. [1]
    volts_at_limit : float or None
        Mean volts while the supply held the limit. [V]
    at_limit : AtLimit
    limit_share : float
        Share of the time at the limit. [1]
    """

    set_volts: float
    limit: float
    levels: tuple[Level, ...]
    period: Period
    mean: float
    last: float
    peak: float
    slope: float
    drifting: bool
    noise: float
    restless: float
    volts_at_limit: float | None
    at_limit: AtLimit
    limit_share: float
    seconds: float
    rate: float

    @property
    def last_watts(self) -> float:
        """Power of the last level, at the volts that stood there. [W]"""
        volts = self.set_volts if self.volts_at_limit is None or self.at_limit is AtLimit.HELD else self.volts_at_limit
        return self.last * volts


def signature_of(trace: SupplyTrace) -> Signature:
    """The few figures of a trace."""
    times, amps, volts = (np.array(a) for a in (trace.times, trace.amps, trace.volts))
    levels = levels_of(trace)
    last = levels[-1]
    tail = times >= last.start
    slope, error = _drift(times[tail], amps[tail], trace.step)
    inside = np.concatenate([amps[(times >= v.start) & (times < v.end)] - v.amps for v in levels] or [amps])
    noise = float(np.sqrt(np.mean(inside**2))) if inside.size else 0.0
    limited = amps >= AT_LIMIT * trace.limit
    at_limit, mean_volts = _limit(limited, volts, trace.set_volts)
    return Signature(
        trace.set_volts, trace.limit, levels, period_of(trace), float(amps.mean()), last.amps, float(amps.max()),
        slope, abs(slope) > DRIFTS * error and abs(slope) * (last.end - last.start) > 2 * trace.step,
        noise, noise / noise_of(amps, trace.step), mean_volts, at_limit, float(limited.mean()), trace.length,
        trace.rate,
    )  # fmt: skip


def _drift(times: np.ndarray, amps: np.ndarray, step: float) -> tuple[float, float]:
    """Slope by least squares and its standard error. [A/s]"""
    if times.size < 4:
        return 0.0, math.inf
    x = times - times.mean()
    spread = float(x @ x)
    slope = float(x @ amps) / spread
    rest = amps - amps.mean() - slope * x
    error = math.sqrt(max(float(rest @ rest) / (times.size - 2), step**2 / 12) / spread)
    return slope, error


def _limit(limited: np.ndarray, volts: np.ndarray, set_volts: float) -> tuple[AtLimit, float | None]:
    if np.count_nonzero(limited) < 2:
        return AtLimit.NEVER, None
    mean = float(volts[limited].mean())
    return (AtLimit.HELD if mean >= HELD * set_volts else AtLimit.COLLAPSED), mean
