"""The exact optimum on small instances, and how far the engine's own chooser is from it on the same model.

The model: one suspect is the culprit; tests may each be taken once, in any order, with outcomes independent given
the suspect; suspects may be taken off one by one at any time, between tests too, each at its own price, which tells
for certain whether it was the one. The case ends when the culprit is off. The chooser is the shipped one: every
test and every removal is weighed by `ohmwright.planning.offered` and put in order by `ohmwright.planning.in_order`,
as `ohmwright.planning.advise` does with those of a board.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from multiprocessing import get_context
from typing import Any

import numpy as np
from numpy.typing import NDArray

from judge.intervals import mean_interval
from judge.world import Random, random_of
from ohmwright.diagnosis import Belief
from ohmwright.planning import Repairs, in_order, minutes_to_go, offered
from ohmwright.planning.worth import SETTLED, WORTH_HEAT

Array = NDArray[np.float64]
SIZE = (10, 8, 3)
"""Classes, tests and outcomes of an instance. [1]"""
NOTHING = 1e-12


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
    """Least expected minutes, by dynamic programming over all results and all sets of suspects taken off. [min]

    A state is which tests were taken, what they showed, and who is off. Values are kept multiplied by the
    probability of the state, so that an expectation is a plain sum. Sets of one size are done together, the
    largest first: a removal leads from each to one that is larger by one suspect.
    """
    n = len(instance.prior)
    results = _Results(instance)
    value: Array = np.zeros((1, results.size))
    rows = {frozenset(range(n)): 0}
    for size in range(n - 1, -1, -1):
        sets = [frozenset(chosen) for chosen in combinations(range(n), size)]
        there = np.array([[c not in off for off in sets] for c in range(n)], dtype=float)
        mass = np.ascontiguousarray((results.weight @ there).T)
        best = np.full(mass.shape, np.inf)
        for suspect in range(n):
            own = [k for k, off in enumerate(sets) if suspect not in off]
            behind = [rows[sets[k] | {suspect}] for k in own]
            if own:
                best[own] = np.minimum(best[own], instance.fix[suspect] * mass[own] + value[behind])
        results.test(best, mass)
        value, rows = best, {off: k for k, off in enumerate(sets)}
    return float(value[0, 0])


class _Results:
    """All sets of tests taken with all they may have shown, one after another, nothing taken first.

    Attributes
    ----------
    weight : ndarray, shape (size, n_classes)
        Probability of each suspect together with the results. [1]
    """

    def __init__(self, instance: Instance) -> None:
        self.minutes = instance.minutes
        self.n_tests, self.n_outcomes = len(instance.outcomes), instance.outcomes[0].shape[1]
        self.at: dict[tuple[int, ...], slice] = {}
        blocks: list[Array] = []
        self.size = 0
        for k in range(self.n_tests + 1):
            for taken in combinations(range(self.n_tests), k):
                weight = instance.prior[None, :]
                for test in taken:
                    weight = (weight[:, None, :] * instance.outcomes[test].T[None, :, :]).reshape(-1, weight.shape[1])
                self.at[taken] = slice(self.size, self.size + len(weight))
                self.size += len(weight)
                blocks.append(weight)
        self.weight = np.concatenate(blocks)

    def test(self, value: Array, mass: Array) -> None:
        """Let each state take whichever test is better than what it has, those with most tests taken first."""
        for taken in sorted(self.at, key=len, reverse=True):
            here = self.at[taken]
            for test in range(self.n_tests):
                if test in taken:
                    continue
                before = sum(t < test for t in taken)
                then = value[:, self.at[tuple(sorted((*taken, test)))]]
                told = then.reshape(len(value), self.n_outcomes**before, self.n_outcomes, -1).sum(axis=2)
                cost = self.minutes[test] * mass[:, here] + told.reshape(len(value), -1)
                np.minimum(value[:, here], cost, out=value[:, here])


def chooser_minutes(instance: Instance) -> float:
    """Expected minutes when the engine's chooser picks each test and each removal. [min]"""
    return _followed(instance, instance.prior, tuple(range(len(instance.outcomes))))


def _followed(instance: Instance, p: Array, left: tuple[int, ...]) -> float:
    belief = Belief.of(range(len(p)), p)
    fix = Repairs.of(range(len(p)), instance.fix.tolist())
    offers = [offered(belief, instance.outcomes[t], float(instance.minutes[t]), fix, name=f"test {t}") for t in left]
    suspects = [c for c in range(len(p)) if p[c] >= WORTH_HEAT]
    for c in suspects:
        own = np.arange(len(p)) == c
        table = np.stack([own, ~own], axis=1).astype(float)
        then = fix.done(own, SETTLED)
        offers.append(offered(belief, table, float(instance.fix[c]), fix, then, float(p[c]), f"work {c}"))
    order = in_order(offers)
    if not order:
        # It stops there; whoever has to repair the board goes on by taking off, the best first.
        return float(minutes_to_go(p[:, None], instance.fix)[0])
    first = order[0]
    if first < len(left):
        return _after_test(instance, p, left, left[first])
    chosen = suspects[first - len(left)]
    rest = np.where(np.arange(len(p)) == chosen, 0.0, p)
    total = float(rest.sum())
    return float(instance.fix[chosen]) + (total * _followed(instance, rest / total, left) if total > NOTHING else 0.0)


def _after_test(instance: Instance, p: Array, left: tuple[int, ...], test: int) -> float:
    rest = tuple(t for t in left if t != test)
    both = p[:, None] * instance.outcomes[test]
    after = sum(
        float(q) * _followed(instance, both[:, o] / q, rest)
        for o, q in enumerate(both.sum(axis=0).tolist())
        if q > NOTHING
    )
    return float(instance.minutes[test]) + after


def distances(count: int, seed: str, size: tuple[int, int, int] = SIZE, jobs: int = 1) -> Array:
    """Excess of the chooser over the optimum, as a share of the optimum, instance by instance. [1]"""
    asked = [(k, seed, size) for k in range(count)]
    if jobs <= 1:
        return np.asarray([_distance(one) for one in asked])
    with get_context("spawn").Pool(jobs) as pool:
        return np.asarray(pool.map(_distance, asked, chunksize=1))


def _distance(asked: tuple[int, str, tuple[int, int, int]]) -> float:
    k, seed, size = asked
    instance = drawn(random_of("optimum", seed, k), size)
    return chooser_minutes(instance) / optimum(instance) - 1.0


def report(count: int, seed: str, size: tuple[int, int, int] = SIZE, jobs: int = 1) -> dict[str, Any]:
    """Mean with its interval, and 90th percentile, of the distance."""
    excess = distances(count, seed, size, jobs)
    middle = mean_interval(excess.tolist())
    return {
        "instances": count, "classes, tests, outcomes": list(size), "mean": float(excess.mean()),
        "mean interval": [middle["low"], middle["high"]], "90th percentile": float(np.quantile(excess, 0.9)),
        "worst": float(excess.max()), "optimal": float(np.mean(excess < 1e-9)),
    }  # fmt: skip


def brute_force(
    instance: Instance, p: Array | None = None, left: Sequence[int] | None = None, off: frozenset[int] = frozenset()
) -> float:
    """The optimum by plain recursion, for tiny instances: the check of `optimum`. [min]"""
    p = instance.prior if p is None else p
    tests = list(range(len(instance.outcomes))) if left is None else list(left)
    ways = []
    for c in range(len(p)):
        if c not in off:
            rest = np.where(np.arange(len(p)) == c, 0.0, p)
            total = float(rest.sum())
            on = total * brute_force(instance, rest / total, tests, off | {c}) if total > NOTHING else 0.0
            ways.append(float(instance.fix[c]) + on)
    for test in tests:
        both = p[:, None] * instance.outcomes[test]
        cost = float(instance.minutes[test])
        for o, q in enumerate(both.sum(axis=0).tolist()):
            if q > NOTHING:
                cost += q * brute_force(instance, both[:, o] / q, [t for t in tests if t != test], off)
        ways.append(cost)
    return min(ways)
