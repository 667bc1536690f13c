"""Resistance from two or more currents: the slope, leads taken out; the intercept names a junction in the path.

One pair of volts and amps cannot tell 0.3 V over a diode from 0.3 V over a resistance. The slope of volts over amps
holds no junction and no offset, and the intercept holds nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ohmwright.errors import DataError
from ohmwright.quantities import Interval

JUNCTION = 0.15
"""Intercept from which a junction is in the path. [V] below it no silicon or Schottky junction carries an ampere"""
SPAN = 1.4
"""Least ratio of the largest to the smallest current. [1]"""


@dataclass(frozen=True, slots=True)
class Slope:
    """A straight line through volts over amps.

    Parameters
    ----------
    ohms : Interval
        95 % interval of the path's resistance, leads taken out. [Ω]
    best : float
        The most likely resistance, leads taken out, not below zero. [Ω]
    offset : float
        Volts at no current. [V]
    junction : bool
        Whether the offset speaks for a junction in the path.
    fits : bool
        Whether the points lie on a line within their errors; always true for two.
    """

    ohms: Interval
    best: float
    offset: float
    junction: bool
    fits: bool


def slope_of(
    points: Sequence[tuple[float, float]],
    leads: float = 0.0,
    leads_error: float = 0.0,
    volts_error: float = 2e-3,
    amps_error: float = 2e-3,
) -> Slope:
    """The slope through (amps, volts) points. [A], [V]

    Parameters
    ----------
    leads, leads_error : float
        Resistance of leads and clips, and its standard uncertainty. [Ω]
    volts_error, amps_error : float
        Standard uncertainty of each reading. [V], [A]

    Raises
    ------
    DataError
        If there are fewer than two currents, or they lie too close together.
    """
    amps, volts = (np.array([p[k] for p in points], dtype=float) for k in (0, 1))
    if amps.size < 2 or not (np.isfinite(amps).all() and np.isfinite(volts).all()):
        raise DataError("A slope needs readings at two currents.", hint="take volts and amps at 0.5 A and at 1 A")
    if amps.min() <= 0 or amps.max() < SPAN * amps.min():
        raise DataError(
            f"The currents {amps.min():.3g} A and {amps.max():.3g} A are too close for a slope.",
            hint=f"let the larger be at least {SPAN:g} times the smaller",
        )
    middle = amps - amps.mean()
    raw = float(middle @ volts / (middle @ middle))
    offset = float(volts.mean() - raw * amps.mean())
    error = math.sqrt(volts_error**2 + (raw * amps_error) ** 2)
    spread = math.hypot(error / math.sqrt(float(middle @ middle)), leads_error)
    offset_error = error * math.sqrt(1 / amps.size + float(amps.mean()) ** 2 / float(middle @ middle))
    rest = volts - offset - raw * amps
    fits = amps.size < 3 or float(rest @ rest) / error**2 < (amps.size - 2) + 3 * math.sqrt(2.0 * (amps.size - 2))
    best = max(raw - leads, 0.0)
    low, high = max(raw - leads - 1.96 * spread, 0.0), max(raw - leads + 1.96 * spread, 0.0)
    return Slope(Interval(low, high), best, offset, offset > max(JUNCTION, 2 * offset_error), bool(fits))
