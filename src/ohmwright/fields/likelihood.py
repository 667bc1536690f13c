"""How likely millivolt readings are for a sink at given places, with all that is not known integrated out.

For a sink at h a display shows theta k(h) + c + error, rounded to a step: k is known from the copper alone
(in squares), theta is the current times what a square has, c is common to all readings. The chance of a
display value is that of the whole step, so that a level stretch read ten times is not known ten times as well.
theta and c are summed over numerically.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from ohmwright.facts.gradient import Gradient
from ohmwright.fields.network import Array

FIRST, NODES, COMMON = 17, 25, 11
"""Values of ln theta in the first look and in the second, and of c. [1]"""
MOST = 1_500_000
"""Chances worked out at once. [1]"""
GRAIN = 0.03
"""No reading is sharper at its edges than this share of a step: converters are not. [1] estimate"""


@dataclass(frozen=True, eq=False)
class Fit:
    """What the readings say for each place of the sink, all of shape (n,).

    Parameters
    ----------
    log_likelihood : ndarray
    theta, theta_sd : ndarray
        Current times resistance of a square. [V]
    misfit : ndarray
        Squared residuals over variance, summed, at the likeliest theta. [1]
    """

    log_likelihood: Array
    theta: Array
    theta_sd: Array
    misfit: Array


def fitted(k: Array, wander: Array, y: Array, gradient: Gradient) -> Fit:
    """For each place of the sink, what the readings say.

    Parameters
    ----------
    k, wander : ndarray, shape (m, n)
        Squares that each reading sees, and their variance from where the probe and the sink may stand.
    y : ndarray, shape (m,)
        [V]
    """
    m, n = k.shape
    block = max(16, MOST // max(m * NODES * (1 if _steady(gradient) else COMMON), 1))
    parts = [_block(k[:, at : at + block], wander[:, at : at + block], y, gradient) for at in range(0, n, block)]
    if not parts:
        return Fit(*(np.empty(0) for _ in range(4)))
    return Fit(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def screened(k: Array, wander: Array, y: Array, g: Gradient) -> Array:
    """A quick and somewhat blunt log likelihood for each place, shape (n,): to tell which places are worth a look."""
    middle, spread = math.log(abs(g.current) * g.copper.square_ohms), g.copper.log_sd
    common = None if g.black is None else g.offset**2
    u = np.full(k.shape[1], middle)
    for _ in range(3):
        variance = g.noise**2 + g.resolution**2 / 4.0 + np.exp(2.0 * u) * wander
        a, b = _slope_sums(k, y[:, None], 1.0 / variance, common)
        u = _peak(a, b, middle, spread, u)
    total = (1.0 / variance).sum(axis=0)
    pull = 1.0 / total if common is None else common / (1.0 + common * total)
    left = (y[:, None] ** 2 / variance).sum(axis=0) - pull * (y[:, None] / variance).sum(axis=0) ** 2
    theta = np.exp(u)
    bend = a * theta**2 + 1.0 / spread**2
    square = left - 2.0 * b * theta + a * theta**2 + ((u - middle) / spread) ** 2
    return np.asarray(-0.5 * square - 0.5 * np.log(bend) - 0.5 * np.log(variance).sum(axis=0))


def _steady(gradient: Gradient) -> bool:
    """Whether what is common is too small against a step to be told from noise."""
    return gradient.black is not None and gradient.offset < 0.15 * gradient.resolution


def _block(k: Array, wander: Array, y: Array, g: Gradient) -> tuple[Array, Array, Array, Array]:
    middle, spread = math.log(abs(g.current) * g.copper.square_ohms), g.copper.log_sd
    still = g.noise**2 + (GRAIN * g.resolution) ** 2 + (g.offset**2 if _steady(g) else 0.0)
    u = np.full(k.shape[1], middle)
    for _ in range(2):
        variance = still + g.resolution**2 / 12.0 + np.exp(2.0 * u) * wander
        a, b = _slope_sums(k, y[:, None], 1.0 / variance, None if g.black is None else g.offset**2)
        u = _peak(a, b, middle, spread, u)
    bend = a * np.exp(2.0 * u) + 1.0 / spread**2
    reach = np.minimum(6.0 * np.sqrt(len(y)) / np.sqrt(bend), 5.0 * spread)
    weak = a * np.exp(2.0 * u) < 4.0 * len(y) / spread**2
    low, high = (
        np.where(weak, middle - 5 * spread, u - reach),
        np.where(weak, np.maximum(middle + 4 * spread, u), u + reach),
    )
    first, _, _ = _over_theta(low, high, FIRST, k, wander, y, g, still)
    good = first > first.max(axis=0) - 18.0
    at = np.arange(FIRST)[:, None]
    step = (high - low) / (FIRST - 1)
    lowest, highest = np.where(good, at, FIRST).min(axis=0), np.where(good, at, -1).max(axis=0)
    low, high = low + step * (lowest - 1), low + step * (highest + 1)
    log, nodes, misfit = _over_theta(low, high, NODES, k, wander, y, g, still)
    top = log.max(axis=0)
    weight = np.exp(log - top)
    mass = weight.sum(axis=0)
    theta = np.exp(nodes)
    mean = (weight * theta).sum(axis=0) / mass
    sd = np.sqrt(np.maximum((weight * theta**2).sum(axis=0) / mass - mean**2, 0.0))
    best = np.take_along_axis(misfit, log.argmax(axis=0)[None], axis=0)[0]
    return top + np.log(mass * (high - low) / (NODES - 1)), mean, sd, best


def _over_theta(
    low: Array, high: Array, count: int, k: Array, wander: Array, y: Array, g: Gradient, still: float
) -> tuple[Array, Array, Array]:
    """Log weight at so many values of ln theta from low to high, those values, and the misfit; shape (count, n)."""
    middle, spread = math.log(abs(g.current) * g.copper.square_ohms), g.copper.log_sd
    nodes = low + (high - low) * np.linspace(0.0, 1.0, count)[:, None]
    theta = np.exp(nodes)
    off = y[:, None, None] - theta * k[:, None, :]
    sd = np.sqrt(still + theta**2 * wander[:, None, :])
    weight = 1.0 / (sd**2 + g.resolution**2 / 12.0)
    prior = -0.5 * ((nodes - middle) / spread) ** 2
    if _steady(g):
        return prior + _log_step(off, sd, g.resolution).sum(axis=0), nodes, (weight * off**2).sum(axis=0)
    total = weight.sum(axis=0)
    if g.black is None:
        centre = (weight * off).sum(axis=0) / total
        width = 5.0 / np.sqrt(total) + 0.5 * g.resolution
    else:
        pull = g.offset**2 / (1.0 + g.offset**2 * total)
        centre = pull * (weight * off).sum(axis=0)
        width = np.minimum(5.0 * np.sqrt(pull) + 0.5 * g.resolution, 5.0 * g.offset + np.abs(centre))
    log = []
    for t in np.linspace(-1.0, 1.0, COMMON):
        common = centre + t * width
        known = 0.0 if g.black is None else -0.5 * (common / g.offset) ** 2
        log.append(_log_step(off - common, sd, g.resolution).sum(axis=0) + known)
    together = np.logaddexp.reduce(np.array(log), axis=0) + np.log(2.0 * width / (COMMON - 1))
    if g.black is not None:
        together -= math.log(g.offset * math.sqrt(2.0 * math.pi))
    return prior + together, nodes, (weight * (off - centre) ** 2).sum(axis=0)


def _log_step(off: Array, sd: Array, step: float) -> Array:
    """Logarithm of the chance that a value so far off is shown as it is."""
    high = (step / 2.0 - np.abs(off)) / sd
    low = high - step / sd
    # The far tail, where the chance is below what a number can hold, goes on as its exponent does.
    chance = ndtr(high) - ndtr(low)
    return np.asarray(np.log(np.maximum(chance, 1e-280)) - 0.5 * np.maximum(high**2 - 1260.0, 0.0) * (high < 0.0))


def _slope_sums(k: Array, y: Array, weight: Array, common: float | None) -> tuple[Array, Array]:
    """Weighted k k and k y with the common offset integrated out, each of shape (n,)."""
    total = weight.sum(axis=0)
    k1, y1 = (weight * k).sum(axis=0), (weight * y).sum(axis=0)
    # None: nothing is known of the offset. Else its variance.
    pull = 1.0 / total if common is None else common / (1.0 + common * total)
    a = (weight * k * k).sum(axis=0) - pull * k1 * k1
    b = (weight * k * y).sum(axis=0) - pull * k1 * y1
    return np.maximum(a, 0.0), b


def _peak(a: Array, b: Array, middle: float, spread: float, u: Array) -> Array:
    """Where the weight of ln theta is highest: Newton, held in by the prior."""
    both = (a > 0.0) & (b > 0.0)
    start = np.where(both, np.log(np.where(both, b, 1.0) / np.where(both, a, 1.0)), u)
    u = np.clip(start, middle - 4.0 * spread, middle + 4.0 * spread)
    for _ in range(12):
        theta = np.exp(u)
        slope = a * theta**2 - b * theta + (u - middle) / spread**2
        bend = np.maximum(2.0 * a * theta**2 - b * theta, a * theta**2) + 1.0 / spread**2
        u = u - np.clip(slope / bend, -0.7, 0.7)
    return np.asarray(u)
