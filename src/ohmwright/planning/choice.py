"""Which test to take: the one that tells most for each minute it takes, of those that are worth their time.

What remains after an outcome is costed as settling the suspects one by one in the order of probability
per minute, which is the best order for independent repairs without further tests [1]_. What a test saves of
that says whether it is worth doing. In what order is another question: on a board with many places, each
hardly believed in, reading any of them seems to save hours of work that would never be done, as each could be
read then. Information counts no such hours, so that it decides which is first.

References
----------
.. [1] D. Heckerman, J. S. Breese, and K. Rommelse, "Decision-theoretic troubleshooting," Commun. ACM,
   vol. 38, no. 3, pp. 49-57, Mar. 1995.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ohmwright.diagnosis import Belief
from ohmwright.diagnosis.belief import Array

FUTILE = 0.02
"""Information below which a test is not worth doing. [bit]"""
LEAST_MINUTES = 1e-3
"""What takes less is taken for that. [min]"""
LIKELIER_THAN_NOT = 0.5
"""Belief in a part from which work on it is due. [1]"""


@dataclass(frozen=True, eq=False)
class Repairs:
    """What would settle each suspect. One repair may settle several: a chip comes off once, whatever is wrong in it.

    Parameters
    ----------
    unit : ndarray of int, shape (n_cells,)
        The repair that settles each suspect.
    minutes : ndarray, shape (n_units,)
        [min]
    """

    unit: NDArray[np.intp]
    minutes: Array

    @classmethod
    def of(cls, names: Sequence[Hashable], minutes: Sequence[float]) -> Repairs:
        """Repairs with the name and the minutes told for each suspect; the same name is the same repair."""
        index: dict[Hashable, int] = {}
        unit = np.array([index.setdefault(name, len(index)) for name in names], dtype=np.intp)
        cost = np.zeros(len(index))
        cost[unit] = minutes
        return cls(unit, cost)

    def done(self, cells: NDArray[np.bool_], minutes: float) -> Repairs:
        """The same with the repairs of some suspects as good as done: so many minutes are left of each. [min]"""
        cost = self.minutes.copy()
        cost[np.unique(self.unit[cells])] = minutes
        return Repairs(self.unit, cost)

    def to_go(self, probabilities: Array) -> Array:
        """Expected minutes to the end for each column of probabilities, shape (n_cells, n_cases). [min]"""
        by_unit = np.zeros((len(self.minutes), probabilities.shape[1]))
        np.add.at(by_unit, self.unit, probabilities)
        return minutes_to_go(by_unit, self.minutes)

    def to_go_after(self, probabilities: Array, outcomes: Array) -> float:
        """Expected minutes to go after a test, itself not counted. [min]

        Parameters
        ----------
        probabilities : ndarray, shape (n_cells,)
        outcomes : ndarray, shape (n_cells, n_outcomes)
            Probability of each outcome for each suspect.
        """
        both = probabilities[:, None] * outcomes
        total = both.sum(axis=0)
        seen = total > 1e-12
        return float(total[seen] @ self.to_go(both[:, seen] / total[seen]))


@dataclass(frozen=True, slots=True)
class Offer:
    """Something that could be done, as the chooser sees it: nothing else about it matters to the order.

    Parameters
    ----------
    bits : float
        Expected information. [bit]
    saves : float
        Expected minutes saved, itself taken off. [min]
    minutes : float
        Its own, risk included. [min]
    share : float
        For work on a part, the belief that it is bad; 0 for all else. [1]
    name : str
        Decides between equals.
    """

    bits: float
    saves: float
    minutes: float
    share: float = 0.0
    name: str = ""

    @property
    def bits_a_minute(self) -> float:
        """Information for each minute taken. [bit/min]"""
        return self.bits / max(self.minutes, LEAST_MINUTES)

    @property
    def rate(self) -> float:
        """Minutes saved for each minute taken; below one it is not worth its time. [1]"""
        return (self.saves + self.minutes) / max(self.minutes, LEAST_MINUTES)


def offered(
    belief: Belief,
    outcomes: Array,
    minutes: float,
    fix: Repairs,
    then: Repairs | None = None,
    share: float = 0.0,
    name: str = "",
) -> Offer:
    """Weigh one thing that could be done.

    Parameters
    ----------
    outcomes : ndarray, shape (n_cells, n_outcomes)
        Probability of each outcome for each suspect.
    minutes : float
        Its own, risk included. [min]
    then : Repairs or None
        What is left to do afterwards where it is itself part of the repair.
    """
    p = belief.probabilities
    now = float(fix.to_go(p[:, None])[0])
    after = (fix if then is None else then).to_go_after(p, outcomes)
    return Offer(belief.expected_information(outcomes), now - after - minutes, minutes, share, name)


def in_order(offers: Sequence[Offer]) -> list[int]:
    """Which of some offers are worth doing, the first to do in front.

    Work on a part that is more likely bad than not has to be done in any case. It ranks with at least the odds that it
    is: against nine to one a reading has to tell nine bits for each of its minutes to go first.
    """
    keys = []
    for k, offer in enumerate(offers):
        due = offer.share > LIKELIER_THAN_NOT
        if due or offer.bits > FUTILE or (offer.saves > 0.0 and offer.bits > FUTILE / 4.0):
            least = offer.share / max(1.0 - offer.share, 1e-3)
            told = offer.bits_a_minute
            keys.append((-max(told, least) if due else -told, offer.name, k))
    return [k for _, _, k in sorted(keys)]


def minutes_to_go(probabilities: Array, fix_minutes: Array) -> Array:
    """Expected minutes of removing suspects in the best order until the culprit is off.

    Parameters
    ----------
    probabilities : ndarray, shape (n_cells, n_cases)
        Columns sum to one. [1]
    fix_minutes : ndarray, shape (n_cells,)
        [min]

    Returns
    -------
    ndarray, shape (n_cases,)
        [min]
    """
    order = np.argsort(-(probabilities / fix_minutes[:, None]), axis=0, kind="stable")
    p = np.take_along_axis(probabilities, order, axis=0)
    cost = fix_minutes[order]
    before = np.cumsum(p, axis=0) - p
    return np.asarray((cost * np.maximum(1.0 - before, 0.0)).sum(axis=0))


def best_test(prior: Array, outcomes: Sequence[Array], minutes: Array, fix_minutes: Array) -> int | None:
    """Index of the test to take first, or None where none is worth it.

    Parameters
    ----------
    prior : ndarray, shape (n_cells,)
    outcomes : sequence of ndarray, shape (n_cells, n_outcomes)
    minutes : ndarray, shape (n_tests,)
        [min]
    fix_minutes : ndarray, shape (n_cells,)
        [min]
    """
    belief = Belief.of(range(len(prior)), prior)
    fix = Repairs.of(range(len(prior)), fix_minutes.tolist())
    order = in_order([offered(belief, o, float(m), fix) for o, m in zip(outcomes, minutes, strict=True)])
    return order[0] if order else None
