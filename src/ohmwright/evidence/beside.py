"""Covariances of readings in classes that lean as the first class does wherever they change little."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ohmwright.evidence.probe import Array
from ohmwright.evidence.roster import Index
from ohmwright.evidence.shelf import Shelf


def covariances_beside(lean: Array, shelves: Sequence[Shelf], rows: Index, weak: NDArray[np.bool_], out: Array) -> None:
    """Fill in the covariances of every class, its doubts left out.

    Parameters
    ----------
    lean : ndarray, shape (n_readings, tail)
        Slopes of the first class where its unknowns went, times the spreads of the board's unknowns.
    shelves : sequence of Shelf
        One for each reading.
    rows : ndarray of int, shape (n_classes, n_readings)
    weak : ndarray of bool, shape (n_readings, n_classes)
        Where a class leans as the first one does; elsewhere it leans as on the shelves.
    out : ndarray, shape (n_classes, n_readings, n_readings)
    """
    tail, n = lean.shape[1], len(shelves)
    out[:] = lean @ lean.T
    number = np.full(rows.shape, -1, dtype=np.intp)
    strong: list[tuple[Shelf, Index]] = []
    count = 0
    for k, shelf in enumerate(shelves):
        classes = np.flatnonzero(~weak[k])
        used, back = np.unique(rows[classes, k], return_inverse=True)
        number[classes, k] = count + back.ravel()
        count += len(used)
        strong.append((shelf, used))
        board = int(np.searchsorted(shelf.support, tail))
        mixed = (shelf.lean[used, :board] @ lean[:, shelf.support[:board]].T)[back.ravel()]
        mixed = np.where(weak[:, classes].T, mixed, out[classes, k])
        out[classes, k] = mixed
        out[classes, :, k] = mixed
    table = _stacked(strong)
    there = number >= 0
    of, one, other = np.nonzero(there[:, :, None] & there[:, None, :] & np.tri(n, dtype=bool))
    pairs, back = np.unique(number[of, one] * max(count, 1) + number[of, other], return_inverse=True)
    left, right = pairs // max(count, 1), pairs % max(count, 1)
    both = np.asarray(table[left].multiply(table[right]).sum(axis=1)).ravel()[back.ravel()]
    out[of, one, other] = both
    out[of, other, one] = both


def _stacked(strong: Sequence[tuple[Shelf, Index]]) -> sparse.csr_matrix:
    """Rows of shelves, one after another, over the unknowns of all, severities included."""
    entries, columns, counts = [np.zeros(0)], [np.zeros(0, dtype=np.intp)], [np.zeros(0, dtype=np.intp)]
    for shelf, used in strong:
        values = shelf.lean[used].astype(float)
        row, at = np.nonzero(values)
        entries.append(values[row, at])
        columns.append(shelf.support[at])
        counts.append(np.bincount(row, minlength=len(used)))
    column = np.concatenate(columns)
    starts = np.concatenate(([0], np.cumsum(np.concatenate(counts))))
    shape = (len(starts) - 1, int(column.max(initial=0)) + 1)
    return sparse.csr_matrix((np.concatenate(entries), column, starts), shape=shape)
