"""Where to read next along the copper, and whether this meter at this current can tell at all."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ohmwright.facts.gradient import Gradient, GradientPoint
from ohmwright.fields.layout import Layout, layout_of
from ohmwright.fields.network import Array
from ohmwright.fields.pointing import Bench, Pointing

SAMPLES = 160
MOST_CURRENT = 5.0
"""Currents are not advised beyond this. [A] common practice, no source"""
FINEST = 1e-7
"""No bench meter shows a finer step. [V] common practice, no source"""


@dataclass(frozen=True, slots=True)
class Worth:
    """A point, and what a reading there would tell of where the sink is. [mm], [bit]"""

    x_mm: float
    y_mm: float
    bits: float


def next_points(pointing: Pointing, candidates: Array) -> tuple[Worth, ...]:
    """Points, best first.

    Parameters
    ----------
    candidates : ndarray, shape (n, 2)
        Where red could go. [mm]
    """
    g = pointing.bench.gradient
    where = np.linspace(0.0, 1.0, SAMPLES, endpoint=False) + 0.5 / SAMPLES
    picked = np.searchsorted(np.cumsum(pointing.probability), where).clip(0, len(pointing.probability) - 1)
    sinks, theta = pointing.cells.at[picked], pointing.fit.theta[picked]
    theta_sd = pointing.fit.theta_sd[picked]
    asked = Bench(at_points(g, candidates), pointing.bench.layout)
    k, spread = asked.squares(sinks)
    k = math.copysign(1.0, g.current) * k
    own = g.noise**2 + g.resolution**2 / 12.0 + theta**2 * spread
    known, lean = _common(pointing.bench, sinks, theta, theta_sd)
    within = own + (theta_sd * (k - lean)) ** 2 + known
    # Against a mean reading, what all have in common tells nothing.
    value = theta * (k - lean)
    total = value.var(axis=1) + within.mean(axis=1)
    bits = 0.5 * np.log2(total / np.exp(np.log(within).mean(axis=1)))
    order = np.argsort(-bits, kind="stable")
    return tuple(Worth(float(candidates[n, 0]), float(candidates[n, 1]), float(bits[n])) for n in order)


def _common(bench: Bench, sinks: Array, theta: Array, theta_sd: Array) -> tuple[Array, Array]:
    """Variance of what is common to all readings, and the mean of the squares it was found from; shapes (n,)."""
    g = bench.gradient
    if g.black is not None:
        return np.full(len(sinks), g.offset**2), np.zeros(len(sinks))
    k, spread = bench.squares(sinks)
    k = math.copysign(1.0, g.current) * k
    weight = 1.0 / (g.noise**2 + g.resolution**2 / 12.0 + theta**2 * spread)
    total = weight.sum(axis=0)
    return 1.0 / total, (weight * k).sum(axis=0) / total


def at_points(gradient: Gradient, points: Array) -> Gradient:
    """The same measurement at other points, with no values yet, shape (n, 2). [mm]"""
    return replace(gradient, points=tuple(GradientPoint(float(x), float(y), 0.0) for x, y in points))


@dataclass(frozen=True, slots=True)
class Outlook:
    """What readings at some points can be expected to give.

    Parameters
    ----------
    radius_mm : float
        Half the length, or the radius of the circle, that will hold the sink in 95 of 100 cases.
    enough : bool
        Whether that is as good as wanted.
    current, resolution : float or None
        What would make it so: this current with this meter, or this meter at this current; None where
        nothing within reach would. [A], [V]
    """

    radius_mm: float
    enough: bool
    current: float | None
    resolution: float | None


def outlook(gradient: Gradient, points: Array, wanted_mm: float, sinks: Array | None = None) -> Outlook:
    """What readings at these points, shape (n, 2), can be expected to give. [mm]

    Parameters
    ----------
    sinks : ndarray, shape (n, 2), optional
        Where the sink may be; anywhere where left out. [mm]
    """
    layout = layout_of(gradient.copper)
    if sinks is None:
        cells = layout.cells(60)
        sinks = cells.at[:: max(1, len(cells.at) // 40)]
    slopes = _Slopes.of(Bench(at_points(gradient, layout.nearest(points)), layout), layout, sinks)
    now = slopes.radius(abs(gradient.current), gradient.resolution)
    if now <= wanted_mm:
        return Outlook(now, True, None, None)
    current, step = abs(gradient.current), gradient.resolution
    more = _least(lambda x: slopes.radius(x, step) <= wanted_mm, current, MOST_CURRENT)
    finer = _least(lambda x: slopes.radius(current, 1.0 / x) <= wanted_mm, 1.0 / step, 1.0 / FINEST)
    return Outlook(now, False, more, None if finer is None else 1.0 / finer)


@dataclass(frozen=True, eq=False)
class _Slopes:
    """How squares change as the sink moves, shape (m, n, dimensions) [1/mm], and squares and their variance."""

    gradient: Gradient
    turn: Array
    k: Array
    spread: Array
    size: float

    @classmethod
    def of(cls, bench: Bench, layout: Layout, sinks: Array) -> _Slopes:
        k, spread = bench.squares(sinks)
        turns = []
        for low, high in layout.around(sinks, 0.5):
            apart = np.maximum(np.hypot(*(high - low).T), 1e-9)
            turns.append((bench.squares(high)[0] - bench.squares(low)[0]) / apart)
        measure = float(layout.cells(60).measure.sum())
        size = measure / math.sqrt(12.0) if layout.dimensions == 1 else math.sqrt(measure / 12.0)
        return cls(bench.gradient, np.stack(turns, axis=2), k, spread, size)

    def radius(self, current: float, step: float) -> float:
        """Expected radius at 95 %, median over the places of the sink; linearised. [mm]"""
        g = self.gradient
        theta = current * g.copper.square_ohms
        weight = 1.0 / (g.noise**2 + step**2 / 12.0 + theta**2 * self.spread)
        columns = [theta * self.turn[:, :, d] for d in range(self.turn.shape[2])]
        rows = np.stack([*columns, theta * self.k, np.ones_like(self.k)], axis=2)
        known = np.einsum("mnp,mnq,mn->npq", rows, rows, weight)
        dims = len(columns)
        prior = [1.0 / self.size**2] * dims
        prior += [1.0 / g.copper.log_sd**2, 1e-6 if g.black is None else 1.0 / max(g.offset, 1e-9) ** 2]
        known += np.diag(prior)
        covariance = np.linalg.inv(known)[:, :dims, :dims]
        if dims == 1:
            return float(np.median(1.96 * np.sqrt(covariance[:, 0, 0])))
        return float(np.median(np.sqrt(5.991 * np.sqrt(np.maximum(np.linalg.det(covariance), 0.0)))))


def _least(good: Callable[[float], bool], start: float, most: float) -> float | None:
    """The smallest value from start to most that is good, to 5 %; None where even the most is not."""
    if start > most or not good(most):
        return None
    low, high = math.log(start), math.log(most)
    while high - low > 0.05:
        middle = (low + high) / 2
        low, high = (low, middle) if good(math.exp(middle)) else (middle, high)
    return math.exp(high)
