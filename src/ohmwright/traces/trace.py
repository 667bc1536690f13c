"""A supply's volts and amps over time, as they were read: uneven in time, in steps of the display, finite."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ohmwright.errors import DataError

Array = NDArray[np.float64]
FEWEST, MOST = 8, 200_000
"""Samples that a trace needs and may have. [1]"""


@dataclass(frozen=True, slots=True)
class SupplyTrace:
    """Readings of one supply while it fed one board at one setting.

    Parameters
    ----------
    times : tuple of float
        Since the output went on. [s]
    amps, volts : tuple of float
        At the terminals. [A], [V]
    set_volts, limit : float
        The setting. [V], [A]
    step : float
        Smallest step of the current display. [A]
    """

    times: tuple[float, ...]
    amps: tuple[float, ...]
    volts: tuple[float, ...]
    set_volts: float
    limit: float
    step: float = 1e-3

    @property
    def rate(self) -> float:
        """Readings in a second, by the median of their distances. [Hz]"""
        return 1.0 / float(np.median(np.diff(self.times)))

    @property
    def length(self) -> float:
        """[s]"""
        return self.times[-1] - self.times[0]

    @property
    def watts(self) -> Array:
        """Volts times amps, shape (n,). [W]"""
        return np.asarray(np.array(self.volts) * np.array(self.amps))


def trace_of(
    times: Sequence[float],
    amps: Sequence[float],
    volts: Sequence[float],
    set_volts: float,
    limit: float,
    step: float = 1e-3,
) -> SupplyTrace:
    """A trace, checked. [s], [A], [V]

    Raises
    ------
    DataError
        If it is too short, uneven in length, not finite or not in the order of time.
    """
    arrays = [np.asarray(a, dtype=float) for a in (times, amps, volts)]
    if len({a.size for a in arrays}) != 1 or not FEWEST <= arrays[0].size <= MOST:
        raise DataError(
            f"A trace of {arrays[0].size} readings.",
            why=f"it takes {FEWEST} to {MOST}, with a current and a voltage each",
            hint="log for longer; a second at ten readings a second is the least that shows steps",
        )
    if not all(np.isfinite(a).all() for a in arrays):
        raise DataError("A trace holds readings that are no numbers.", hint="leave the failed readings out")
    if (np.diff(arrays[0]) <= 0).any():
        raise DataError("The times of a trace do not grow.", hint="sort it by time, and drop what is there twice")
    if set_volts <= 0 or limit <= 0 or step <= 0:
        raise DataError("A trace needs volts, limit and display step above zero.", hint="enter the supply's setting")
    kept = [tuple(float(v) for v in a) for a in arrays]
    return SupplyTrace(kept[0], kept[1], kept[2], float(set_volts), float(limit), float(step))
