"""A voltage sweep and its knee: below it one conductance, above it a steeper one.

Two straight lines that meet are fitted for every place where they may meet, by least squares; the best place is the
knee, and those places whose misfit is not distinguishable from it are its interval. A knee is named only where two
lines fit so much better than one that noise would do so once in a thousand times (F test). TVS parts, Zener diodes
and capacitors that conduct above some volts show one; a resistance does not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc, fdtri

from ohmwright.errors import DataError
from ohmwright.quantities import Interval
from ohmwright.traces.trace import Array

FEWEST = 6
"""Points that a sweep needs. [1]"""
CHANCE = 1e-3
"""How often noise alone may show a knee. [1]"""
STEEPER = 1.5
"""How much steeper the current has to rise above the knee than below it. [1]"""


@dataclass(frozen=True, slots=True)
class Knee:
    """Where the current begins to rise faster; false in a condition where it does not.

    Parameters
    ----------
    volts : float
        [V]
    between : Interval or None
        95 % interval. [V]
    below, above : float
        Conductance on either side. [S]
    chance : float
        How often noise alone would look like it. [1]
    """

    volts: float = 0.0
    between: Interval | None = None
    below: float = 0.0
    above: float = 0.0
    chance: float = 1.0

    def __bool__(self) -> bool:
        return self.between is not None


def knee_of(points: Sequence[tuple[float, float]]) -> Knee:
    """The knee in (volts, amps) points. [V], [A]

    Raises
    ------
    DataError
        If there are too few points or they do not span any volts.
    """
    volts, amps = (np.array([p[k] for p in points], dtype=float) for k in (0, 1))
    if volts.size < FEWEST or not (np.isfinite(volts).all() and np.isfinite(amps).all()):
        raise DataError(f"A sweep of {volts.size} points.", hint=f"step the volts at least {FEWEST} times")
    order = np.argsort(volts, kind="stable")
    volts, amps = volts[order], amps[order]
    if volts[-1] - volts[0] <= 0:
        raise DataError("All points of the sweep are at one voltage.", hint="step the volts")
    places, misfits = _searched(volts, amps)
    flat = _line(volts, amps)
    best = int(np.argmin(misfits))
    misfit, below, bend = _misfit(volts, amps, float(places[best]))
    free = volts.size - 4
    if free < 1 or bend <= 0:
        return Knee(chance=1.0)
    floor = 1e-24 * float(amps @ amps) + 1e-30
    ratio = (flat - misfit) / 2 / ((misfit + floor) / free)
    chance = float(fdtrc(2, free, max(ratio, 0.0)))
    above = below + bend
    if chance > CHANCE or above < STEEPER * max(below, 0.0):
        return Knee(chance=chance)
    limit = (misfit + floor) * (1 + float(fdtri(1, free, 0.95)) / free)
    near = places[misfits <= limit]
    return Knee(float(places[best]), Interval(float(near.min()), float(near.max())), below, above, chance)


def _searched(volts: Array, amps: Array) -> tuple[Array, Array]:
    """Places for the knee and their misfits, fine about the best. [V], [A²]"""
    places = np.linspace(volts[1], volts[-2], 160)
    misfits = np.array([_misfit(volts, amps, place)[0] for place in places])
    best, step = places[int(np.argmin(misfits))], places[1] - places[0]
    fine = np.linspace(max(places[0], best - 4 * step), min(places[-1], best + 4 * step), 240)
    both = np.concatenate((places, fine))
    return both, np.concatenate((misfits, [_misfit(volts, amps, place)[0] for place in fine]))


def _misfit(volts: Array, amps: Array, place: float) -> tuple[float, float, float]:
    """Sum of squares, conductance below, and what is added above. [A²], [S], [S]"""
    shape = np.column_stack((np.ones_like(volts), volts, np.maximum(volts - place, 0.0)))
    found, *_ = np.linalg.lstsq(shape, amps, rcond=None)
    rest = amps - shape @ found
    return float(rest @ rest), float(found[1]), float(found[2])


def _line(volts: Array, amps: Array) -> float:
    shape = np.column_stack((np.ones_like(volts), volts))
    found, *_ = np.linalg.lstsq(shape, amps, rcond=None)
    rest = amps - shape @ found
    return float(rest @ rest)
