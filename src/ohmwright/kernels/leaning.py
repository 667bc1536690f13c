"""Sums over the few unknowns on which a prediction leans, of the many that there are."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Index = NDArray[np.intp]


@njit(cache=True, nogil=True, error_model="numpy")
def told(seen: Single, precision: Array, old: Index, lean: Single, column: Index, least: float) -> Array:
    """How much of the variance of predictions earlier readings have taken away.

    Parameters
    ----------
    seen : ndarray, shape (n_classes, n_readings, n_leaned)
        How the earlier readings lean, in units of the spreads.
    precision : ndarray, shape (n_classes, n_readings, n_readings)
        Of the earlier readings.
    old : ndarray of int, shape (n,)
        Class of each prediction.
    lean : ndarray, shape (n, n_support)
        How each prediction leans; less than `least` is nothing.
    column : ndarray of int, shape (n_support,)
        Where its unknowns are among those leaned on; -1 for those that no reading leans on.

    Returns
    -------
    ndarray, shape (n,)
    """
    n, readings = len(old), seen.shape[1]
    out = np.zeros(n)
    place, weight = np.zeros(len(column), dtype=np.intp), np.zeros(len(column))
    q = np.zeros(readings)
    for k in range(n):
        used = 0
        for s in range(len(column)):
            if column[s] >= 0 and abs(lean[k, s]) > least:
                place[used], weight[used] = column[s], lean[k, s]
                used += 1
        c = old[k]
        for r in range(readings):
            total = 0.0
            for i in range(used):
                total += seen[c, r, place[i]] * weight[i]
            q[r] = total
        both = 0.0
        for r in range(readings):
            row = 0.0
            for t in range(readings):
                row += precision[c, r, t] * q[t]
            both += q[r] * row
        out[k] = both
    return out
