"""Hypotheses gathered into classes, what the readings say of each, and where its unknowns went.

The unknowns of a class are those of the board, and after them the severities of its own defects (`MOST_DEFECTS` of
them, zero where it has fewer): its own layout, short beside that of all defects of the board.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ohmwright.evidence.forward import MOST_DEFECTS
from ohmwright.evidence.joint import Array, Joint, Stack
from ohmwright.evidence.roster import Index, Register
from ohmwright.evidence.shelf import Shelf
from ohmwright.evidence.shelves import Line


@dataclass(frozen=True, slots=True, eq=False)
class Tangent:
    """A circuit with its unknowns where the readings put them, and the readings' slopes there.

    Parameters
    ----------
    y : ndarray, shape (n_readings,)
        Predictions brought back along the slopes to where every unknown is at its median.
    lean : ndarray, shape (n_readings, n_own)
        Slopes times the spread of each unknown of the class.
    pull : ndarray, shape (n_readings,)
    base : ndarray, shape (n_readings, n_own)
        Shift of the unknowns at which each reading was linearised.
    """

    y: Array
    lean: Array
    pull: Array
    base: Array

    @property
    def shift(self) -> Array:
        """Posterior mean of the unknowns, each in units of its spread, shape (n_own,). [1]"""
        return np.asarray(self.pull @ self.lean)


@dataclass(frozen=True, eq=False)
class Weighed:
    """Hypotheses gathered into classes that no reading tells apart, and what the readings say of each.

    Parameters
    ----------
    class_of : ndarray of int, shape (n_hypotheses,)
    codes : ndarray of int, shape (n_classes, n_readings)
        The circuit that each reading saw.
    rows : ndarray of int, shape (n_classes, n_readings)
        The same as rows of the shelves.
    joint : Joint
        Of the classes, at the tangents where there are any.
    stack : Stack
        The same, for looking closer.
    tangents : dict
        Class to where it was looked at again.
    weak : ndarray of bool, shape (n_readings, n_classes)
        Readings that a class without a tangent changes so little that they lean as the first class's do.
    register : Register
    tail : int
        How many unknowns the board has besides severities. [1]
    """

    lines: tuple[Line, ...]
    shelves: tuple[Shelf, ...]
    class_of: Index
    codes: Index
    rows: Index
    joint: Joint
    stack: Stack
    tangents: dict[int, Tangent]
    weak: NDArray[np.bool_]
    register: Register
    tail: int

    def own(self, c: int) -> tuple[int, ...]:
        """Electrical numbers of the defects of a class that some reading feels."""
        found = {n for code in set(self.codes[c].tolist()) for n in self.register.circuits[code]}
        return tuple(sorted(found))[:MOST_DEFECTS]

    @cached_property
    def kin(self) -> Index:
        """Equal for classes that differ in nothing but how bad their defects are, shape (n_classes,)."""
        index: dict[tuple[tuple[str, ...], ...], int] = {}
        spots = [example.electrical[:-1] for example in self.register.examples]
        keys = (tuple(sorted(spots[n] for n in self.own(c))) for c in range(len(self.codes)))
        return np.array([index.setdefault(key, len(index)) for key in keys], dtype=np.intp)

    def leans(self, c: int) -> Array:
        """Slopes of the readings in a class times the spread of each of its unknowns, shape (n_readings, n_own)."""
        if c in self.tangents:
            return self.tangents[c].lean
        out = np.zeros((len(self.lines), self.tail + MOST_DEFECTS))
        own = self.own(c)
        for k, shelf in enumerate(self.shelves):
            if self.weak[k, c]:
                out[k, : self.tail] = self.tangents[int(self.class_of[0])].lean[k, : self.tail]
                continue
            row, board = shelf.lean[self.rows[c, k]], int(np.searchsorted(shelf.support, self.tail))
            out[k, shelf.support[:board]] = row[:board]
            for slot, number in enumerate(own):
                at = int(np.searchsorted(shelf.support, self.tail + number))
                if at < len(shelf.support) and shelf.support[at] == self.tail + number:
                    out[k, self.tail + slot] = row[at]
        return out

    def doubts(self, classes: Sequence[int]) -> Array:
        """Standard deviations that no unknown accounts for, shape (n_classes, n_readings)."""
        rows = self.rows[list(classes)]
        return np.array([shelf.doubt[rows[:, k]] for k, shelf in enumerate(self.shelves)]).T.reshape(rows.shape)

    def shift(self, c: int) -> Array:
        """Posterior mean of the unknowns of a class, each in units of its spread, shape (n_own,). [1]"""
        return np.asarray(self.joint.pull[c] @ self.leans(c))

    def severity(self, c: int, number: int) -> tuple[float, float]:
        """Of a defect of a class: shift of its severity, in units of its spread, and how much of that spread is left.

        Nothing left is 0, all of it 1; a defect that no reading feels has not moved. [1]
        """
        own = self.own(c)
        if number not in own:
            return 0.0, 1.0
        unknown = self.tail + own.index(number)
        used = np.flatnonzero(~self.stack.overload & (self.joint.stray[:, c] < 0.5))
        lean = self.leans(c)[used, unknown]
        covariance = self.stack.covariance[c][np.ix_(used, used)] + np.diag(self.stack.noise[used] ** 2)
        told = float(lean @ np.linalg.solve(covariance, lean)) if used.size else 0.0
        return float(self.shift(c)[unknown]), float(np.sqrt(min(max(1.0 - told, 0.0), 1.0)))
