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
from scipy.sparse.csgraph import connected_components
from scipy.special import chdtrc, log_ndtr

Array = NDArray[np.float64]
NEVER = -1e9
"""Logarithm of odds that are none. [nat]"""
AGAIN = 0.5
"""Log density of a reading that shows the same as another which strays as the map is wrong there; estimate. [nat]"""
SUSPECT = 3.0
"""Standard deviations by which readings that show the same must miss to be tried as strays together. [1]"""
MOST_STRAYS = 8
"""Readings that may be left out of one column as strays. [1]"""
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


def joint(stack: Stack, *, trusting: bool = False) -> Joint:
    """Evaluate all columns; trusting: as if no reading could be a stray."""
    n_columns = stack.y.shape[1]
    covariance = np.array(stack.covariance)
    diagonal = np.arange(len(stack.observed))
    covariance[:, diagonal, diagonal] += stack.noise**2
    numbers = np.flatnonzero(~stack.overload)
    stray, each = _each_overload(stack)
    log_likelihood = each.sum(axis=0)
    misfit = np.ones(n_columns)
    pull = np.zeros((n_columns, len(stack.observed)))
    if numbers.size:
        inner = covariance[:, numbers[:, None], numbers[None, :]]
        residual = (stack.observed[numbers, None] - stack.y[numbers]).T
        odds = np.log(stack.stray[numbers] / (1.0 - stack.stray[numbers]) / stack.width[numbers])
        if trusting:
            odds = np.full_like(odds, NEVER)
        among = np.ix_(numbers, numbers)
        again = np.full_like(stack.again[among], -np.inf) if trusting else stack.again[among]
        found = _numbers(inner, residual, _Odds.of_readings(odds, stack.twin[among] * (not trusting), again))
        log_likelihood = log_likelihood + found.log_likelihood + np.log1p(-stack.stray[numbers]).sum()
        stray[numbers] = found.stray
        misfit = found.misfit
        pull[:, numbers] = found.pull
    return Joint(log_likelihood, misfit, stray, pull)


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


@dataclass(frozen=True, slots=True, eq=False)
class _Odds:
    """Logarithm of the density of a stray over the odds against it; more for the twin of one that is out already."""

    alone: Array
    twin: NDArray[np.bool_]
    twice: Array
    again: Array

    @classmethod
    def of_readings(cls, alone: Array, twin: Array, again: Array) -> _Odds:
        """From what is known of each reading alone, shape (n,), and of each pair, shape (n, n)."""
        with np.errstate(divide="ignore"):
            twice = AGAIN + np.log(twin.max(axis=0, initial=0.0))
        return cls(alone, np.asarray(twin > 0.0), np.maximum(twice, alone), again)

    @property
    def groups(self) -> list[NDArray[np.intp]]:
        """Readings that show the same, each reading in one group; single ones in none."""
        if not self.twin.any():
            return []
        count, label = connected_components(self.twin, directed=False)
        found = (np.flatnonzero(label == k) for k in range(count))
        return [group for group in found if len(group) > 1]

    def of(self, kept: NDArray[np.bool_]) -> Array:
        """Of each reading in each column, were it left out beside those that are, shape (n_columns, n)."""
        if kept.all():
            return np.asarray(np.broadcast_to(self.alone, kept.shape))
        return self._beside(~kept, self.twin, self.again)

    def total(self, kept: NDArray[np.bool_]) -> Array:
        """Of all that is left out: the first of twins alone, the others as its twins, shape (n_columns,)."""
        earlier = np.triu(np.ones_like(self.twin), 1)
        each = self._beside(~kept, self.twin & earlier, np.where(earlier, self.again, -np.inf))
        return np.asarray(np.where(kept, 0.0, each).sum(axis=1))

    def _beside(self, out: NDArray[np.bool_], twin: NDArray[np.bool_], again: Array) -> Array:
        related = np.isfinite(again)
        level = np.where(related, again, -np.inf).max(axis=0, initial=-np.inf)
        known = np.where(out @ related > 0, np.maximum(level, self.alone), self.alone)
        return np.asarray(np.where(out @ twin > 0, self.twice, known))


def _numbers(covariance: Array, residual: Array, odds: _Odds) -> Joint:
    """Numbers that are not out of range. Those that fit a column worst are left out of it as strays, one by one.

    Whatever is left out, the precision P of all readings and alpha = P residual say the rest: the readings J left out
    have the covariance (P_JJ)^-1 given the others and miss what those foretell by (P_JJ)^-1 alpha_J, so that the others
    alone have alpha less P_J (P_JJ)^-1 alpha_J.
    """
    n_columns, n = residual.shape
    gauss = _Gauss.of(covariance, residual)
    kept = np.ones((n_columns, n), dtype=bool)
    strays, going = np.zeros(n_columns), np.arange(n_columns)
    _leave_out_alike(gauss, residual / np.sqrt(np.einsum("cii->ci", covariance)), odds, kept, strays)
    for _ in range(min(MOST_STRAYS, n - 1) + 1):
        part = gauss.without(going, ~kept[going])
        ratio = _ratio(part, kept[going], odds)
        worst = ratio.argmax(axis=1)
        out = (ratio.max(axis=1) > 0.0) & (kept[going].sum(axis=1) > max(n - MOST_STRAYS, 1))
        if not out.any():
            break
        going, worst = going[out], worst[out]
        strays[going] += odds.of(kept[going])[np.arange(len(going)), worst]
        kept[going, worst] = False
    _take_back(gauss, odds, kept, strays)
    part = gauss.without(np.arange(n_columns), ~kept)
    ratio = _ratio(part, kept, odds)
    everything = np.concatenate((np.zeros((n_columns, 1)), ratio), axis=1)
    top = everything.max(axis=1, keepdims=True)
    total = top[:, 0] + np.log(np.exp(everything - top).sum(axis=1))
    stray = np.where(kept, np.exp(ratio - total[:, None]), 1.0).T
    misfit = np.asarray(chdtrc(np.maximum(kept.sum(axis=1), 1), np.maximum(part.distance, 0.0)))
    return Joint(part.log_density + strays + total, misfit, stray, np.where(kept, part.alpha, 0.0))


def _ratio(part: _Kept, kept: NDArray[np.bool_], odds: _Odds) -> Array:
    """Logarithm of how much likelier each reading is as a stray than beside the others that are kept."""
    own = np.where(kept, part.own, 1.0)
    log_one = -0.5 * (part.alpha**2 / own - np.log(own) + LOG_2PI)
    return np.asarray(np.where(kept, odds.of(kept) - log_one, -np.inf))


@dataclass(frozen=True, slots=True, eq=False)
class _Kept:
    """Of the readings kept: residuals times precision, the diagonal of the precision, and how likely they are.

    Parameters
    ----------
    alpha, own : ndarray, shape (n_columns, n)
        Meaningless for readings left out.
    distance, log_density : ndarray, shape (n_columns,)
    """

    alpha: Array
    own: Array
    distance: Array
    log_density: Array


@dataclass(frozen=True, slots=True, eq=False)
class _Gauss:
    """All readings of every column as one Gaussian.

    Parameters
    ----------
    precision : ndarray, shape (n_columns, n, n)
    alpha : ndarray, shape (n_columns, n)
        Precision times residual.
    distance, log_density : ndarray, shape (n_columns,)
    """

    precision: Array
    alpha: Array
    distance: Array
    log_density: Array

    @staticmethod
    def of(covariance: Array, residual: Array) -> _Gauss:
        """From the covariance, noise counted, and the residuals."""
        precision = np.asarray(np.linalg.inv(covariance), dtype=float)
        alpha = np.matmul(precision, residual[:, :, None])[:, :, 0]
        distance = np.einsum("ci,ci->c", alpha, residual)
        log_det = 2.0 * np.log(np.einsum("cii->ci", np.linalg.cholesky(covariance))).sum(axis=1)
        return _Gauss(precision, alpha, distance, -0.5 * (distance + log_det + residual.shape[1] * LOG_2PI))

    def among(self, columns: NDArray[np.intp], out: NDArray[np.bool_]) -> tuple[NDArray[np.intp], Array, Array]:
        """Readings left out of some columns, as seen from the others.

        Parameters
        ----------
        out : ndarray of bool, shape (n_chosen, n)

        Returns
        -------
        ndarray of int, shape (n_chosen, n_most)
            Which they are; columns with fewer than the most are filled up with readings that are kept.
        ndarray, shape (n_chosen, n_most, n_most)
            Precision among them; of what fills up, one.
        ndarray, shape (n_chosen, n_most)
            Their alpha; of what fills up, zero.
        """
        most = int(out.sum(axis=1).max(initial=0))
        which = np.argsort(~out, axis=1, kind="stable")[:, :most]
        real = np.take_along_axis(out, which, axis=1)
        inner = self.precision[columns[:, None, None], which[:, :, None], which[:, None, :]]
        inner = np.where(real[:, :, None] & real[:, None, :], inner, np.eye(most))
        return which, inner, np.where(real, self.alpha[columns[:, None], which], 0.0)

    def without(self, columns: NDArray[np.intp], out: NDArray[np.bool_]) -> _Kept:
        """Some columns with some readings left out, those given by `out`, shape (n_chosen, n)."""
        alpha, own = self.alpha[columns], np.einsum("cii->ci", self.precision)[columns]
        distance, log_density = self.distance[columns], self.log_density[columns]
        some = np.flatnonzero(out.any(axis=1))
        if not some.size:
            return _Kept(alpha, own, distance, log_density)
        which, inner, left = self.among(columns[some], out[some])
        count = out[some].sum(axis=1)
        real = np.arange(which.shape[1]) < count[:, None]
        across = self.precision[columns[some][:, None], which] * real[:, :, None]
        inverse = np.linalg.inv(inner)
        miss = np.matmul(inverse, left[:, :, None])[:, :, 0]
        alpha[some] -= np.matmul(miss[:, None, :], across)[:, 0]
        own = np.array(own)
        own[some] -= np.einsum("cji,cji->ci", across, np.matmul(inverse, across))
        told = (left * miss).sum(axis=1)
        log_det = np.linalg.slogdet(inner)[1]
        distance[some] -= told
        log_density[some] += 0.5 * (told - log_det + count * LOG_2PI)
        return _Kept(alpha, own, distance, log_density)


def _leave_out_alike(gauss: _Gauss, miss: Array, odds: _Odds, kept: NDArray[np.bool_], strays: Array) -> None:
    """Leave out, in place, readings that show the same and miss by far together: each alone is borne out by the others.

    Parameters
    ----------
    miss : ndarray, shape (n_columns, n)
        Residuals in units of their standard deviations, as if each were the only reading. [1]
    """
    for group in odds.groups:
        chosen = np.flatnonzero(np.abs(miss[:, group]).min(axis=1) > SUSPECT)
        if not chosen.size or len(group) == kept.shape[1]:
            continue
        without = kept[chosen]
        without[:, group] = False
        now = gauss.without(chosen, ~kept[chosen]).log_density + strays[chosen]
        told = odds.total(without)
        better = gauss.without(chosen, ~without).log_density + told > now
        kept[chosen[better]], strays[chosen[better]] = without[better], told[better]


def _take_back(gauss: _Gauss, odds: _Odds, kept: NDArray[np.bool_], strays: Array) -> None:
    """Keep, in place, what was left out only because a worse stray still stood beside it.

    `strays` are the logarithms of the odds of all that is left out, shape (n_columns,).
    """
    chosen = np.flatnonzero(~kept.all(axis=1))
    for _ in range(MOST_STRAYS):
        if not chosen.size:
            return
        which, inner, left = gauss.among(chosen, ~kept[chosen])
        covariance = np.linalg.inv(inner)
        variance = np.maximum(np.einsum("cii->ci", covariance), 1e-12)
        off = np.matmul(covariance, left[:, :, None])[:, :, 0]
        log_in = -0.5 * (off**2 / variance + np.log(variance) + LOG_2PI)
        still_out = ~np.take_along_axis(kept[chosen], which, axis=1)
        gain = log_in - np.take_along_axis(odds.of(kept[chosen]), which, axis=1)
        gain = np.where(still_out, gain, -np.inf)
        better = np.flatnonzero(gain.max(axis=1) > 0.0)
        chosen = chosen[better]
        kept[chosen, which[better, gain[better].argmax(axis=1)]] = True
        strays[chosen] = odds.total(kept[chosen])
        chosen = chosen[~kept[chosen].all(axis=1)]


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
