"""A belief over any set of exclusive cells: what is updated, asked for its entropy, and used to plan.

It knows nothing of circuits. The same class carries the suspects of a board, the fault sets of a logic
circuit and the states of a network of causes.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Belief:
    """Weights of exclusive cells.

    Parameters
    ----------
    cells : tuple of hashable
    log_weight : ndarray, shape (n_cells,)
        Natural logarithm of weights that need not sum to one; ``-inf`` for an impossible cell.
    """

    cells: tuple[Hashable, ...]
    log_weight: Array

    @staticmethod
    def of(cells: Sequence[Hashable], weights: Iterable[float]) -> Belief:
        """A belief from plain weights."""
        with np.errstate(divide="ignore"):
            return Belief(tuple(cells), np.log(np.fromiter(weights, dtype=float)))

    @property
    def probabilities(self) -> Array:
        """Weights made to sum to one, shape (n_cells,). [1]"""
        top = self.log_weight.max(initial=-np.inf)
        if not np.isfinite(top):
            return np.full(len(self.cells), 1.0 / max(len(self.cells), 1))
        weight = np.exp(self.log_weight - top)
        return np.asarray(weight / weight.sum())

    def updated(self, log_likelihood: Array) -> Belief:
        """The belief after a fact of that log likelihood per cell, shape (n_cells,)."""
        return Belief(self.cells, self.log_weight + log_likelihood)

    def gathered(self, name: Callable[[Hashable], Hashable]) -> dict[Hashable, float]:
        """Probability of each name, summed over the cells that bear it. A name of None is left out."""
        out: dict[Hashable, float] = {}
        for cell, p in zip(self.cells, self.probabilities.tolist(), strict=True):
            key = name(cell)
            if key is not None:
                out[key] = out.get(key, 0.0) + p
        return out

    @property
    def entropy(self) -> float:
        """Uncertainty left. [bit]"""
        return _entropy(self.probabilities)

    def expected_information(self, outcomes: Array) -> float:
        """What a test is expected to tell.

        Parameters
        ----------
        outcomes : ndarray, shape (n_cells, n_outcomes)
            Probability of each outcome in each cell; rows sum to one.

        Returns
        -------
        float
            Mutual information of outcome and cell. [bit]
        """
        p = self.probabilities
        within = float(p @ _row_entropy(outcomes))
        return max(_entropy(p @ outcomes) - within, 0.0)

    def after(self, likelihood: Array) -> Belief:
        """The belief after an outcome of that probability per cell, shape (n_cells,)."""
        with np.errstate(divide="ignore"):
            return self.updated(np.log(likelihood))


def minimal_sets(sets: Iterable[frozenset[Hashable]]) -> tuple[frozenset[Hashable], ...]:
    """Those sets that contain no other, smallest first: minimal diagnoses, minimal conflicts."""
    kept: list[frozenset[Hashable]] = []
    for candidate in sorted(set(sets), key=lambda s: (len(s), sorted(map(str, s)))):
        if not any(other <= candidate for other in kept):
            kept.append(candidate)
    return tuple(kept)


def _entropy(p: Array) -> float:
    positive = p[p > 0.0]
    return float(-(positive * np.log2(positive)).sum())


def _row_entropy(rows: Array) -> Array:
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = np.where(rows > 0.0, -rows * np.log2(rows), 0.0)
    return np.asarray(terms.sum(axis=1))
