"""Readings left out as strays, against the textbook's conditional Gaussian in SciPy."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from ohmwright.evidence import Stack, joint

WIDTH, PRIOR = 10.0, 0.02


def stack_of(covariance: np.ndarray, residual: np.ndarray, noise: float = 0.05) -> Stack:
    n = len(residual)
    apart = np.full((n, n), -np.inf)
    return Stack(
        residual, np.zeros(n, dtype=bool), np.full(n, 50.0), np.full(n, noise), np.full(n, PRIOR), np.full(n, WIDTH),
        np.zeros((n, n), dtype=bool), apart, np.zeros((n, 1)), covariance[None],
    )  # fmt: skip


def by_enumeration(covariance: np.ndarray, residual: np.ndarray, noise: float = 0.05) -> float:
    """Logarithm of the sum over all sets of strays, each flat over the scale."""
    n = len(residual)
    whole = covariance + noise**2 * np.eye(n)
    terms = []
    for count in range(n + 1):
        for out in itertools.combinations(range(n), count):
            kept = [k for k in range(n) if k not in out]
            log_l = count * np.log(PRIOR / WIDTH) + len(kept) * np.log1p(-PRIOR)
            if kept:
                log_l += multivariate_normal(np.zeros(len(kept)), whole[np.ix_(kept, kept)]).logpdf(residual[kept])
            terms.append(float(log_l))
    return float(np.logaddexp.reduce(terms))


@pytest.mark.parametrize("seed", range(12))
def test_the_likelihood_is_near_the_sum_over_all_sets_of_strays(seed: int) -> None:
    """One set of strays and its neighbours carry nearly all of that sum where strays stand far off."""
    rng = np.random.default_rng(seed)
    lean = rng.normal(size=(7, 3)) * 0.4
    residual = lean @ rng.normal(size=3) + 0.05 * rng.normal(size=7)
    residual[rng.choice(7, size=seed % 3, replace=False)] += 4.0
    found = float(joint(stack_of(lean @ lean.T, residual)).log_likelihood[0])
    exact = by_enumeration(lean @ lean.T, residual)
    assert found <= exact + 1e-9
    assert found > exact - 0.35


@pytest.mark.parametrize("seed", range(6))
def test_the_pull_is_that_of_the_readings_kept_alone(seed: int) -> None:
    """Two strays of twelve readings with three unknowns: few enough that none hides behind the other."""
    rng = np.random.default_rng(100 + seed)
    lean = rng.normal(size=(12, 3)) * 0.5
    residual = lean @ rng.normal(size=3) + 0.05 * rng.normal(size=12)
    wrong = rng.choice(12, size=2, replace=False)
    residual[wrong] += np.array([6.0, -7.0])
    found = joint(stack_of(lean @ lean.T, residual))
    kept = np.setdiff1d(np.arange(12), wrong)
    assert set(np.flatnonzero(found.stray[:, 0] > 0.5)) == set(wrong.tolist())
    inner = (lean @ lean.T + 0.05**2 * np.eye(12))[np.ix_(kept, kept)]
    np.testing.assert_allclose(found.pull[0, kept], np.linalg.solve(inner, residual[kept]), rtol=1e-8, atol=1e-8)
    assert not found.pull[0, wrong].any()
