"""How likely a set of readings is, all together, with the unknown strengths integrated out.

For each column of hypotheses the readings are y = y0 + J u + e with u and e Gaussian, so that readings
which lean on the same unknown (both ends of a coil, before and after) are not counted twice. Readings out
of range enter by the probability of being out of range. One reading may be a stray: its density is then
flat, and the posterior of that says which one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr
from scipy.stats import chi2

Array = NDArray[np.float64]
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
    shift : ndarray, shape (n_unknowns, n_columns)
        Posterior mean of the unknowns.
    """

    log_likelihood: Array
    misfit: Array
    stray: Array
    shift: Array


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
    y : ndarray, shape (n_readings, n_columns)
    lean : ndarray, shape (n_readings, n_unknowns, n_columns)
    spread : ndarray, shape (n_unknowns, n_columns)
    """

    observed: Array
    overload: NDArray[np.bool_]
    limit: Array
    noise: Array
    stray: Array
    width: Array
    y: Array
    lean: Array
    spread: Array


def joint(stack: Stack, block: int = 128) -> Joint:
    """Evaluate all columns, a block at a time."""
    n_columns = stack.y.shape[1]
    parts = [_block(stack, slice(k, min(k + block, n_columns))) for k in range(0, n_columns, block)]
    return Joint(
        np.concatenate([p.log_likelihood for p in parts]),
        np.concatenate([p.misfit for p in parts]),
        np.concatenate([p.stray for p in parts], axis=1),
        np.concatenate([p.shift for p in parts], axis=1),
    )


def _block(stack: Stack, cols: slice) -> Joint:
    y, spread = stack.y[:, cols], stack.spread[:, cols]
    n_columns = y.shape[1]
    scaled = np.moveaxis(stack.lean[:, :, cols] * spread[None], 2, 0)
    covariance = scaled @ np.swapaxes(scaled, 1, 2)
    diagonal = np.arange(len(stack.observed))
    covariance[:, diagonal, diagonal] += stack.noise**2
    numbers = np.flatnonzero(~stack.overload)
    log_likelihood, stray = _overloads(stack, y, covariance)
    misfit = np.ones(n_columns)
    shift = np.zeros((spread.shape[0], n_columns))
    if numbers.size:
        inner = covariance[:, numbers[:, None], numbers[None, :]]
        residual = (stack.observed[numbers, None] - y[numbers]).T
        precision = np.linalg.inv(inner)
        alpha = np.einsum("cij,cj->ci", precision, residual)
        distance = np.einsum("ci,ci->c", alpha, residual)
        _, log_det = np.linalg.slogdet(inner)
        own = np.einsum("cii->ci", precision)
        log_gauss = -0.5 * (distance + log_det + numbers.size * LOG_2PI)
        log_one = -0.5 * (alpha**2 / own - np.log(own) + LOG_2PI)
        odds = np.log(stack.stray[numbers] / (1.0 - stack.stray[numbers]) / stack.width[numbers])
        ratio = np.minimum(odds - log_one, 600.0)
        everything = np.concatenate((np.zeros((n_columns, 1)), ratio), axis=1)
        top = everything.max(axis=1, keepdims=True)
        total = top[:, 0] + np.log(np.exp(everything - top).sum(axis=1))
        log_likelihood = log_likelihood + log_gauss + total + np.log1p(-stack.stray[numbers]).sum()
        stray[numbers] = np.exp(ratio - total[:, None]).T
        misfit = chi2.sf(distance, numbers.size)
        shift = np.einsum("cri,cr->ic", scaled[:, numbers], alpha) * spread
    return Joint(log_likelihood, misfit, stray, shift)


def _overloads(stack: Stack, y: Array, covariance: Array) -> tuple[Array, Array]:
    """Log probability of what is out of range being so, and how far each such reading is a stray."""
    log_likelihood = np.zeros(y.shape[1])
    stray = np.zeros_like(y)
    for i in np.flatnonzero(stack.overload):
        sd = np.sqrt(covariance[:, i, i])
        log_out = log_ndtr((y[i] - stack.limit[i]) / sd)
        log_flat = np.log(stack.stray[i] * 0.3)
        both = np.logaddexp(log_out + np.log1p(-stack.stray[i]), log_flat)
        log_likelihood += both
        stray[i] = np.exp(log_flat - both)
    return log_likelihood, stray


def relinearised(stack: Stack, at: Array) -> Stack:
    """A stack whose predictions were made at offsets `at`, brought back to offsets of zero mean."""
    y = stack.y - np.einsum("ruc,uc->rc", stack.lean, at)
    return Stack(
        stack.observed, stack.overload, stack.limit, stack.noise, stack.stray, stack.width, y, stack.lean, stack.spread
    )
