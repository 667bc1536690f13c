"""Shelves filled by compiled code."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ohmwright.errors import NoConvergenceError
from ohmwright.evidence.laid import Laid
from ohmwright.evidence.shelf import EMISSION_SD, Found, Shelf
from ohmwright.kernels import Compiled
from ohmwright.solver import LEAK, ROUNDS, THERMAL_VOLTAGE, TOLERANCE

LIMITS = (LEAK, 0.1 * TOLERANCE, ROUNDS)
"""Leak of every node, largest step of one at rest, rounds. [S], [V], [1]

The compiled code takes no step more, so slopes are those of one step before: 1e-5 of themselves off at most.
"""
BLOCK = 4e6
"""Numbers of one block of slopes, before those that are nothing are left out. [1]"""


def shelve(compiled: Compiled, laid: Laid, orders: Sequence[tuple[Shelf, list[int]]]) -> None:
    """Solve circuits that shelves do not hold, and put them there.

    Raises
    ------
    NoConvergenceError
        If some circuit does not settle.
    """
    for shelf, missing in orders:
        lines = laid.lines((shelf,))
        many = max(1, int(BLOCK / (shelf.tail + 1)))
        for codes in (missing[k : k + many] for k in range(0, len(missing), many)):
            n = shelf.forward.network.n_nodes + 1
            volts = np.zeros((len(codes), laid.board[2][0] + 1))
            volts[:, :n] = shelf.first_guess()
            of = (np.zeros(len(codes), dtype=np.intp), laid.circuits(np.array(codes, dtype=np.intp)))
            y, current, bent, worst, lean = compiled.shelved(laid.board, lines, laid.table, of, volts, LIMITS)
            raise_unsettled(worst)
            doubt = EMISSION_SD * THERMAL_VOLTAGE * bent
            shelf.put(laid.register, codes, Found(y, current, doubt, lean, volts[:, :n].astype(np.float32)))


def raise_unsettled(worst: np.ndarray) -> None:
    """Raise `NoConvergenceError` where the last change of some circuits is not zero."""
    if worst.any():
        raise NoConvergenceError(np.flatnonzero(worst).tolist(), worst=float(worst.max()))
