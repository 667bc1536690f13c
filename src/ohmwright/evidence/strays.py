"""Which of some readings are strays, column by column, and how likely they are together."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc

from ohmwright import kernels

Array = NDArray[np.float64]
AGAIN = 0.5
"""Log density of a reading that shows the same as another which strays as the map is wrong there; estimate. [nat]"""
SUSPECT = 3.0
"""Standard deviations by which readings that show the same must miss to be tried as strays together. [1]"""
MOST_STRAYS = 8
"""Readings that may be left out of one column as strays. [1]"""
LOG_2PI = float(np.log(2.0 * np.pi))


@dataclass(frozen=True, slots=True, eq=False)
class Odds:
    """Logarithm of the density of a stray over the odds against it; more for the twin of one that is out already."""

    alone: Array
    twin: NDArray[np.bool_]
    twice: Array
    again: Array

    @classmethod
    def of_readings(cls, alone: Array, twin: Array, again: Array) -> Odds:
        """From what is known of each reading alone, shape (n,), and of each pair, shape (n, n)."""
        with np.errstate(divide="ignore"):
            twice = AGAIN + np.log(twin.max(axis=0, initial=0.0))
        return cls(alone, np.asarray(twin > 0.0), np.maximum(twice, alone), again)

    @property
    def groups(self) -> list[NDArray[np.intp]]:
        """Readings that show the same, each reading in one group; single ones in none."""
        return _groups(self.twin.tobytes(), len(self.twin))

    @property
    def label(self) -> NDArray[np.intp]:
        """Number of each reading's group, -1 for single ones, shape (n,)."""
        label = np.full(len(self.alone), -1, dtype=np.intp)
        for k, group in enumerate(self.groups):
            label[group] = k
        return label

    @property
    def laid_out(self) -> tuple[Any, tuple[NDArray[np.intp], float, int]]:
        """The odds, and the rules by which strays are looked for, as compiled code takes them."""
        related = self.twin.any(axis=0) | np.isfinite(self.again).any(axis=0)
        each = (self.alone, self.twin, self.twice, np.ascontiguousarray(self.again), related)
        return each, (self.label, SUSPECT, MOST_STRAYS)

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


@lru_cache(maxsize=64)
def _groups(twin: bytes, n: int) -> list[NDArray[np.intp]]:
    pairs = np.frombuffer(twin, dtype=bool).reshape(n, n)
    if not pairs.any():
        return []
    from scipy.sparse.csgraph import connected_components  # a tenth of a second to load, for twins only

    count, label = connected_components(pairs, directed=False)
    found = (np.flatnonzero(label == k) for k in range(count))
    return [group for group in found if len(group) > 1]


@dataclass(frozen=True, slots=True, eq=False)
class Numbers:
    """What readings that are numbers say; as in `joint.Joint`.

    Parameters
    ----------
    log_likelihood, misfit : ndarray, shape (n_columns,)
    stray : ndarray, shape (n, n_columns)
    pull : ndarray, shape (n_columns, n)
    """

    log_likelihood: Array
    misfit: Array
    stray: Array
    pull: Array


Near = tuple[Array, NDArray[np.bool_]]
"""A covariance, shape (n, n), and which rows of those of columns are not as in it, shape (n_columns, n)."""


def numbers_of(covariance: Array, residual: Array, odds: Odds, near: Near | None = None) -> Numbers:
    """Numbers that are not out of range. Those that fit a column worst are left out of it as strays, one by one.

    Where most rows of covariances are as in one that is `near`, less is to be computed.

    Whatever is left out, the precision P of all readings and alpha = P residual say the rest: the readings J left out
    have the covariance (P_JJ)^-1 given the others and miss what those foretell by (P_JJ)^-1 alpha_J, so that the others
    alone have alpha less P_J (P_JJ)^-1 alpha_J.
    """
    n_columns, n = residual.shape
    compiled = kernels.ready()
    if compiled is not None:
        beside = (np.zeros((0, 0)), np.zeros(residual.shape, dtype=bool)) if near is None else near
        # in another layout it would be compiled anew
        covariance, residual = np.ascontiguousarray(covariance), np.ascontiguousarray(residual)
        told = compiled.numbers(covariance, residual, *odds.laid_out, beside)
        log_likelihood, distance, count, stray, pull = told
        return Numbers(log_likelihood, chdtrc(np.maximum(count, 1), np.maximum(distance, 0.0)), stray.T, pull)
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
    return Numbers(part.log_density + strays + total, misfit, stray, np.where(kept, part.alpha, 0.0))


def _ratio(part: _Kept, kept: NDArray[np.bool_], odds: Odds) -> Array:
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


def _leave_out_alike(gauss: _Gauss, miss: Array, odds: Odds, kept: NDArray[np.bool_], strays: Array) -> None:
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


def _take_back(gauss: _Gauss, odds: Odds, kept: NDArray[np.bool_], strays: Array) -> None:
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
