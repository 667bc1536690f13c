"""The exact optimum on small instances, and how far the engine's own chooser is from it on the same model.

The model is the chooser's: tests that may each be taken once, with outcomes independent given the suspect;
at any moment one may stop testing and take suspects off in the best order (`minutes_to_go`). Going back to
tests between two removals is not in the model, on either side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from judge.world import Random, random_of
from ohmwright.planning import best_test, minutes_to_go

Array = NDArray[np.float64]
SIZE = (10, 8, 3)
"""Classes, tests and outcomes of an instance. [1]"""


@dataclass(frozen=True)
class Instance:
    """A small diagnosis problem.

    Parameters
    ----------
    prior : ndarray, shape (n_classes,)
        [1]
    outcomes : tuple of ndarray, each shape (n_classes, n_outcomes)
        Rows sum to one. [1]
    minutes : ndarray, shape (n_tests,)
        [min]
    fix : ndarray, shape (n_classes,)
        Minutes of taking a suspect off. [min]
    """

    prior: Array
    outcomes: tuple[Array, ...]
    minutes: Array
    fix: Array


def drawn(random: Random, size: tuple[int, int, int] = SIZE) -> Instance:
    """A random instance: skew priors, dull and sharp tests, cheap probes and dear removals."""
    n_classes, n_tests, n_outcomes = size
    prior = random.dirichlet(np.full(n_classes, 0.7))
    sharpness = random.choice([0.15, 0.5, 3.0], size=n_tests)
    outcomes = tuple(random.dirichlet(np.full(n_outcomes, s), size=n_classes) for s in sharpness)
    minutes = np.exp(random.uniform(np.log(0.15), np.log(8.0), size=n_tests))
    fix = np.exp(random.uniform(np.log(3.0), np.log(60.0), size=n_classes))
    return Instance(np.maximum(prior, 1e-6) / np.maximum(prior, 1e-6).sum(), outcomes, minutes, fix)


def optimum(instance: Instance) -> float:
    """Least expected minutes, by dynamic programming over all sets of results. [min]

    A state says of each test which outcome it had, or that it was not taken; values are kept multiplied by
    the probability of the state, so that an expectation is a plain sum.
    """
    n_outcomes = instance.outcomes[0].shape[1]
    n_tests, base = len(instance.outcomes), n_outcomes + 1
    weight = instance.prior[None, :]
    for table in instance.outcomes:
        rows = np.concatenate((table.T, np.ones((1, len(instance.prior)))))
        weight = (weight[:, None, :] * rows[None, :, :]).reshape(-1, len(instance.prior))
    mass = weight.sum(axis=1)
    posterior = (weight / np.maximum(mass, 1e-300)[:, None]).T
    shape = (base,) * n_tests
    stop = (mass * minutes_to_go(posterior, instance.fix)).reshape(shape)
    mass = mass.reshape(shape)
    value = stop.copy()
    for _ in range(n_tests):
        best = stop.copy()
        for test in range(n_tests):
            told = np.moveaxis(value, test, 0)
            untaken = np.moveaxis(best, test, 0)
            cost = instance.minutes[test] * np.moveaxis(mass, test, 0)[n_outcomes] + told[:n_outcomes].sum(axis=0)
            untaken[n_outcomes] = np.minimum(untaken[n_outcomes], cost)
        value = best
    return float(value[(n_outcomes,) * n_tests])


def chooser_minutes(instance: Instance) -> float:
    """Expected minutes when the engine's chooser picks each test until it picks none. [min]"""
    return _followed(instance, instance.prior, tuple(range(len(instance.outcomes))))


def _followed(instance: Instance, prior: Array, left: tuple[int, ...]) -> float:
    stop = float(minutes_to_go(prior[:, None], instance.fix)[0])
    if not left:
        return stop
    chosen = best_test(prior, [instance.outcomes[t] for t in left], instance.minutes[list(left)], instance.fix)
    if chosen is None:
        return stop
    test = left[chosen]
    rest = tuple(t for t in left if t != test)
    both = prior[:, None] * instance.outcomes[test]
    total = both.sum(axis=0)
    after = sum(float(p) * _followed(instance, both[:, o] / p, rest) for o, p in enumerate(total.tolist()) if p > 1e-12)
    return float(instance.minutes[test]) + after


def distances(count: int, seed: str, size: tuple[int, int, int] = SIZE) -> Array:
    """Excess of the chooser over the optimum, as a share of the optimum, instance by instance. [1]"""
    found = []
    for k in range(count):
        instance = drawn(random_of("optimum", seed, k), size)
        best = optimum(instance)
        found.append(chooser_minutes(instance) / best - 1.0)
    return np.asarray(found)


def report(count: int, seed: str, size: tuple[int, int, int] = SIZE) -> dict[str, Any]:
    """Mean and 90th percentile of the distance."""
    excess = distances(count, seed, size)
    return {
        "instances": count, "classes, tests, outcomes": list(size), "mean": float(excess.mean()),
        "90th percentile": float(np.quantile(excess, 0.9)), "worst": float(excess.max()),
        "optimal": float(np.mean(excess < 1e-9)),
    }  # fmt: skip


def brute_force(instance: Instance, prior: Array | None = None, left: Sequence[int] | None = None) -> float:
    """The optimum by plain recursion, for tiny instances: the check of `optimum`. [min]"""
    p = instance.prior if prior is None else prior
    tests = list(range(len(instance.outcomes))) if left is None else list(left)
    best = float(minutes_to_go(p[:, None], instance.fix)[0])
    for test in tests:
        both = p[:, None] * instance.outcomes[test]
        total = both.sum(axis=0)
        cost = float(instance.minutes[test])
        for o, q in enumerate(total.tolist()):
            if q > 1e-12:
                cost += q * brute_force(instance, both[:, o] / q, [t for t in tests if t != test])
        best = min(best, cost)
    return best
