"""Readings of circuits as they stand at the medians, with all that is kept of them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ohmwright.kernels.moving import line_of
from ohmwright.kernels.predicting import of_network, predicted, room_to_predict

Array = NDArray[np.float64]
MOST, LEAST = 1e-3, 1e-9
"""Current at which the drops of junctions are known, and the least at which it is told how they bend. [A]"""


@njit(cache=True, nogil=True, error_model="numpy")
def _doubt(network: Any, carried: Array, lean: Array) -> float:
    """By how much a reading may be off as nobody knows how junctions bend, for each unit of emission. [1/V]

    As `_doubts` of `ohmwright.evidence.shelf`: the slope by each drop times how many times its current is e times less
    than a milliampere.
    """
    j_unsure, place, spread = network[3][1], network[3][4], network[3][5]
    nr, total = len(network[3][0]), 0.0
    for i in range(len(j_unsure)):
        slope = lean[place[nr + i]] / spread[nr + i]
        if slope != 0.0:
            folds = np.log(MOST / min(max(carried[j_unsure[i]], LEAST), MOST))
            total += (slope * folds) ** 2
    return float(np.sqrt(total))


@njit(cache=True, nogil=True, error_model="numpy")
def shelved(board: Any, lines: Any, table: Any, of: Any, volts: Array, limits: Any) -> Any:
    """Readings of circuits with their unknowns at the medians.

    Parameters
    ----------
    board, lines, table, limits : tuple
        As for `moving.asked`.
    of : tuple of ndarray
        The line asked for, and the electrical numbers of its circuit (n, 3).
    volts : ndarray, shape (n, n_nodes + 1)
        First guess; overwritten. [V]

    Returns
    -------
    tuple of ndarray
        Readings, source currents [A], what is unsure for each unit of emission, and last changes where circuits did
        not settle, (n,) each; slopes times the spreads, (n, n_board + 3), in single precision.
    """
    flat, cuts, sizes, steep = board
    which, numbers = of
    n = len(which)
    y, current, doubt, worst = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    at, one, factor = np.zeros(len(steep) + 3), np.zeros(len(steep) + 3), np.ones(len(steep))
    lean = np.zeros((n, len(at)), dtype=np.float32)
    room = room_to_predict(sizes)
    for i in range(n):
        line = line_of(lines, which[i])
        network = of_network(flat, cuts, line[0])
        v = volts[i, : sizes[4][line[0]] + 1]
        defects = (numbers[i], numbers[i])
        y[i], worst[i], current[i] = predicted(network, line, table, defects, at, factor, room, v, one, limits)
        doubt[i] = _doubt(network, room[3][6], one)
        for u in range(len(one)):
            lean[i, u] = one[u]
    return y, current, doubt, worst, lean
