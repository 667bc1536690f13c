"""Which test to take: expected minutes to the end of the case, one step ahead.

What remains after an outcome is costed as taking off the suspects one by one in the order of probability
per minute, which is the best order for independent repairs without further tests [1]_.

References
----------
.. [1] D. Heckerman, J. S. Breese, and K. Rommelse, "Decision-theoretic troubleshooting," Commun. ACM,
   vol. 38, no. 3, pp. 49-57, Mar. 1995.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ohmwright.diagnosis import Belief
from ohmwright.diagnosis.belief import Array

FUTILE = 0.005
"""Information below which a test is not worth doing. [bit]"""


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


def cost_after(belief: Belief, outcomes: Array, fix_minutes: Array) -> float:
    """Expected minutes to go after a test, itself not counted.

    Parameters
    ----------
    outcomes : ndarray, shape (n_cells, n_outcomes)
        Probability of each outcome in each cell.
    """
    p = belief.probabilities
    both = p[:, None] * outcomes
    total = both.sum(axis=0)
    seen = total > 1e-12
    return float(total[seen] @ minutes_to_go(both[:, seen] / total[seen], fix_minutes))


def best_test(prior: Array, outcomes: Sequence[Array], minutes: Array, fix_minutes: Array) -> int | None:
    """Index of the test that saves most minutes, or None where none is worth it.

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
    now = float(minutes_to_go(belief.probabilities[:, None], fix_minutes)[0])
    saves = [now - m - cost_after(belief, o, fix_minutes) for o, m in zip(outcomes, minutes, strict=True)]
    if not saves:
        return None
    best = int(np.argmax(saves))
    return best if saves[best] > 0.0 and belief.expected_information(outcomes[best]) > FUTILE else None
