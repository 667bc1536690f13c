"""Where the readings of a circuit stand linearised, and predictions with the unknowns shifted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ohmwright.evidence.joint import Array
from ohmwright.evidence.roster import Index
from ohmwright.evidence.shelves import Shelves
from ohmwright.evidence.shifted import predict_at
from ohmwright.evidence.weighed import Weighed

STRAIGHT = 0.02
"""A reading moved by less than this since it was linearised, on the scale of comparison, is still straight. [1]"""
UNTOUCHED = 0.02
"""A reading that a class changes by less than this, on the scale of comparison, is what it is without. [1]"""


@dataclass(eq=False)
class Points:
    """Where the readings of some classes stand linearised; arrays over (n_classes, n_readings, n_own).

    `own` are the electrical numbers of each class's defects, -1 for none, `spreads` the spreads of its unknowns,
    shape (n_classes, n_own), `doubt` what is unsure of each reading besides, shape (n_classes, n_readings), and
    `covariance` that of the readings, noise not counted, shape (n_classes, n_readings, n_readings).
    """

    y: Array
    lean: Array
    base: Array
    stale: NDArray[np.bool_]
    own: Index
    spreads: Array
    doubt: Array
    bending: NDArray[np.bool_]
    covariance: Array

    def of(self, chosen: Index) -> Points:
        """Those of some classes, in arrays of their own: what was kept of a place is not moved along."""
        return Points(
            self.y[chosen],
            self.lean[chosen],
            self.base[chosen],
            self.stale[chosen],
            self.own[chosen],
            self.spreads[chosen],
            self.doubt[chosen],
            self.bending[chosen],
            self.covariance[chosen],
        )

    def take(self, own: Index, others: Points, theirs: Index) -> None:
        """Take over where some classes stand in other points."""
        self.y[own], self.lean[own], self.base[own] = others.y[theirs], others.lean[theirs], others.base[theirs]
        self.covariance[own] = others.covariance[theirs]

    def move(self, shelves: Shelves, weighed: Weighed, moving: Sequence[int], at: Array) -> None:
        """Linearise anew at given shifts every reading that the way there may have bent."""
        which, reading = np.nonzero((self._bent(at) | self.stale) & self.bending)
        if which.size:
            codes = weighed.codes[np.array(moving, dtype=np.intp)[which], reading]
            asked = [(weighed.shelves[k], code) for k, code in zip(reading.tolist(), codes.tolist(), strict=True)]
            y, lean = predict_at(shelves, asked, at[which], self.own[which])
            self.lean[which, reading] = lean
            self.base[which, reading] = at[which]
            self.y[which, reading] = y - (lean * at[which]).sum(axis=1)
        self.stale[:] = False

    def _bent(self, at: Array) -> NDArray[np.bool_]:
        """Readings that the way from where they were linearised has bent, shape (n_classes, n_readings)."""
        spreads = self.spreads[:, None, :]
        # Unknowns are logarithms: an element that hardly counts may come to count as it grows.
        grown = np.expm1(np.minimum(spreads * np.abs(at[:, None, :] - self.base), 6.0)) / spreads
        return np.asarray(np.abs(self.lean * grown).max(axis=2, initial=0.0) > STRAIGHT)


def starts(shelves: Shelves, weighed: Weighed, moving: Sequence[int]) -> Points:
    """Classes as they stand on the shelves, or beside the first class where they differ little from it."""
    lean = weighed.leans_of(moving)
    base = np.zeros_like(lean)
    stale = np.zeros(lean.shape[:2], dtype=bool)
    first = weighed.tangents.get(int(weighed.class_of[0]))
    if first is not None:
        nominal = [float(shelf.y[weighed.rows[weighed.class_of[0], k]]) for k, shelf in enumerate(weighed.shelves)]
        for k, c in enumerate(moving):
            if c in weighed.tangents:
                base[k] = weighed.tangents[c].base
                continue
            weak = weighed.weak[:, c]
            base[k, weak] = first.base[weak]
            own = [shelf.y[weighed.rows[c, j]] for j, shelf in enumerate(weighed.shelves)]
            stale[k] = weak & (np.abs(np.array(own) - nominal) > UNTOUCHED)
    own_numbers = weighed.own_of(moving)
    board = np.broadcast_to(shelves.forward.spread[: shelves.tail], (len(moving), shelves.tail))
    severities = np.append(shelves.register.log_sds, 0.0)[own_numbers]
    spreads = np.maximum(np.concatenate((board, severities), axis=1), 1e-3)
    y, covariance = np.array(weighed.stack.y[:, list(moving)].T), weighed.stack.covariance[list(moving)]
    return Points(y, lean, base, stale, own_numbers, spreads, weighed.doubts(moving), np.ones_like(stale), covariance)
