"""How likely a set of readings is, all together, with the unknown strengths integrated out.

For each column of hypotheses the readings are y = y0 + J u + e with u and e Gaussian, so that readings
which lean on the same unknown (both ends of a coil, before and after) are not counted twice. Readings out
of range enter by the probability of being out of range. Some readings may be strays, slips or places where the
map is wrong: their density is then flat, and the posterior of that says which ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from ohmwright.evidence.strays import Near, Odds, numbers_of
from ohmwright.kernels.side_by_side import in_parts

Array = NDArray[np.float64]
TOGETHER = 64
"""Columns looked at together, so that what is copied of their covariances stays at hand. [1]"""
NEVER = -1e9
"""Logarithm of odds that are none. [nat]"""
LOG_2PI = float(np.log(2.0 * np.pi))


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """The answer for every column.

    Parameters
    ----------
    log_likelihood : ndarray, shape (n_columns,)
        Natural logarithm.
    misfit : ndarray, shape (n_columns,)
        Probability of numbers at least this far off, if the column were true. [1]
    stray : ndarray, shape (n_readings, n_columns)
        Probability of each reading being a stray.
    pull : ndarray, shape (n_columns, n_readings)
        Residuals times their precision; zero for readings out of range. The posterior mean of the unknowns
        is ``spread² Jᵀ pull``.
    """

    log_likelihood: Array
    misfit: Array
    stray: Array
    pull: Array

    def of_columns(self, chosen: NDArray[np.intp]) -> Joint:
        """Some columns only."""
        return Joint(self.log_likelihood[chosen], self.misfit[chosen], self.stray[:, chosen], self.pull[chosen])


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """Readings with what each column predicts of them.

    Parameters
    ----------
    observed : ndarray, shape (n_readings,)
        On the scale of comparison; ignored where out of range.
    overload : ndarray of bool, shape (n_readings,)
    limit : ndarray, shape (n_readings,)
        Where the range ends.
    noise : ndarray, shape (n_readings,)
    stray : ndarray, shape (n_readings,)
        Prior probability of a stray. [1]
    width : ndarray, shape (n_readings,)
        Length of the scale.
    twin : ndarray, shape (n_readings, n_readings)
        For readings of the same points that show the same, how likely a stray there is the map's fault and no slip;
        else zero. Where the map is wrong it is wrong for all of them, so that once one is a stray the others cost
        little. [1]
    again : ndarray, shape (n_readings, n_readings)
        Logarithm of the density of a reading (column) once another (row) of the same points, in another way, is a
        stray; -inf for readings of other points.
    y : ndarray, shape (n_readings, n_columns)
    covariance : ndarray, shape (n_columns, n_readings, n_readings)
        Of the predictions, by the unknowns they share; noise not counted.
    """

    observed: Array
    overload: NDArray[np.bool_]
    limit: Array
    noise: Array
    stray: Array
    width: Array
    twin: Array
    again: Array
    y: Array
    covariance: Array

    @property
    def slip(self) -> Array:
        """Misfit at which each reading is as likely a stray, shape (n_readings,). [nat]"""
        odds = self.stray / (1.0 - self.stray) / self.width
        return np.asarray(-np.log(odds * np.maximum(self.noise, 1e-3) * np.sqrt(2.0 * np.pi)))

    def of_columns(self, chosen: NDArray[np.intp]) -> Stack:
        """Some columns only."""
        return self.with_predictions(self.y[:, chosen], self.covariance[chosen])

    def with_predictions(self, y: Array, covariance: Array) -> Stack:
        """The same readings with other predictions."""
        return Stack(
            self.observed,
            self.overload,
            self.limit,
            self.noise,
            self.stray,
            self.width,
            self.twin,
            self.again,
            y,
            covariance,
        )


def unread(stack: Stack) -> Joint:
    """What nothing at all says of every column: the answer to start from."""
    n, n_columns = len(stack.observed), stack.y.shape[1]
    return Joint(np.zeros(n_columns), np.ones(n_columns), np.zeros((n, n_columns)), np.zeros((n_columns, n)))


def joint(stack: Stack, *, trusting: bool = False, near: Near | None = None) -> Joint:
    """Evaluate all columns; trusting: as if no reading could be a stray.

    `near` is a covariance of all readings, noise not counted, that most rows of most columns are as in.
    """
    n_columns = stack.y.shape[1]
    numbers = np.flatnonzero(~stack.overload)
    stray, each = _each_overload(stack)
    log_likelihood = each.sum(axis=0)
    misfit = np.ones(n_columns)
    pull = np.zeros((n_columns, len(stack.observed)))
    if numbers.size:
        odds = odds_of(stack, numbers, trusting=trusting)
        known = None if near is None else _near(stack, numbers, near[0])
        log_likelihood += np.log1p(-stack.stray[numbers]).sum()

        def some(part: slice) -> None:
            residual = (stack.observed[numbers, None] - stack.y[numbers, part]).T
            beside = None if known is None or near is None else (known, np.ascontiguousarray(near[1][part, numbers]))
            found = numbers_of(_inner(stack, numbers, part), residual, odds, beside)
            log_likelihood[part] += found.log_likelihood
            stray[numbers, part], misfit[part], pull[part, numbers] = found.stray, found.misfit, found.pull

        def work(part: slice) -> None:
            for first in range(part.start, part.stop, TOGETHER):
                some(slice(first, min(first + TOGETHER, part.stop)))

        in_parts(n_columns, work)
    return Joint(log_likelihood, misfit, stray, pull)


def _inner(stack: Stack, numbers: NDArray[np.intp], part: slice) -> Array:
    """Covariance of those readings in some columns, noise counted in; an array of its own."""
    inner = stack.covariance[part].take(numbers, axis=1).take(numbers, axis=2)
    diagonal = np.arange(len(numbers))
    inner[:, diagonal, diagonal] += stack.noise[numbers] ** 2
    return np.asarray(inner)


def _near(stack: Stack, numbers: NDArray[np.intp], covariance: Array) -> Array:
    known = np.ascontiguousarray(covariance[numbers[:, None], numbers[None, :]])
    known[np.arange(len(numbers)), np.arange(len(numbers))] += stack.noise[numbers] ** 2
    return known


def odds_of(stack: Stack, numbers: NDArray[np.intp], *, trusting: bool) -> Odds:
    """Odds of some readings as strays; trusting: none can be one."""
    odds = np.log(stack.stray[numbers] / (1.0 - stack.stray[numbers]) / stack.width[numbers])
    among = np.ix_(numbers, numbers)
    if trusting:
        never = np.full((len(numbers), len(numbers)), -np.inf)
        return Odds.of_readings(np.full_like(odds, NEVER), np.zeros_like(never), never)
    return Odds.of_readings(odds, stack.twin[among], stack.again[among])


def in_turn(stack: Stack, found: Joint) -> Array:
    """What each reading adds to the logarithm of the likelihood, given those before it, shape (n_readings, n_columns).

    Which readings are strays is taken from `found`, the answer for the same stack; the sums are its log likelihoods.
    """
    _, out = _each_overload(stack)
    numbers = np.flatnonzero(~stack.overload)
    if numbers.size:
        kept = found.stray[numbers].T < 0.5
        inner = stack.covariance[:, numbers[:, None], numbers[None, :]]
        inner = np.where(kept[:, :, None] & kept[:, None, :], inner, 0.0)
        diagonal = np.arange(len(numbers))
        inner[:, diagonal, diagonal] += np.where(kept, stack.noise[numbers] ** 2, 1.0)
        factor = np.linalg.cholesky(inner)
        residual = (stack.observed[numbers, None] - stack.y[numbers]).T
        step = np.linalg.solve(factor, np.where(kept, residual, 0.0)[:, :, None])[:, :, 0]
        sure = -0.5 * (step**2 + LOG_2PI) - np.log(np.einsum("cii->ci", factor))
        flat = np.log(stack.stray[numbers] / stack.width[numbers])
        out[numbers] = np.where(kept, sure + np.log1p(-stack.stray[numbers]), flat).T
    return np.asarray(out + (found.log_likelihood - out.sum(axis=0)) / max(len(out), 1))


def _each_overload(stack: Stack) -> tuple[Array, Array]:
    """For readings out of range how far each is a stray, and the log probability of its being so; zero for numbers."""
    stray, each = np.zeros_like(stack.y), np.zeros_like(stack.y)
    for i in np.flatnonzero(stack.overload):
        sd = np.sqrt(stack.covariance[:, i, i] + stack.noise[i] ** 2)
        log_out = log_ndtr((stack.y[i] - stack.limit[i]) / sd)
        log_flat = np.log(stack.stray[i] * 0.3)
        each[i] = np.logaddexp(log_out + np.log1p(-stack.stray[i]), log_flat)
        for other in np.flatnonzero((stack.twin[i, :i] > 0.0) & stack.overload[:i]):
            again = np.log(np.maximum(stray[other], 1e-300)) + np.log(np.maximum(0.9 * stack.twin[other, i], 1e-300))
            sound = np.log1p(-np.minimum(stray[other], 1.0 - 1e-12))
            each[i] = np.logaddexp(np.logaddexp(log_out + np.log1p(-stack.stray[i]), log_flat) + sound, again)
            log_flat = np.logaddexp(log_flat + sound, again)
        stray[i] = np.exp(log_flat - each[i])
    return stray, each
