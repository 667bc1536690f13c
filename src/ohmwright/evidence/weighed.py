"""Hypotheses gathered into classes, what the readings say of each, and where its unknowns went.

The unknowns of a class are those of the board, and after them the severities of its own defects (`MOST_DEFECTS` of
them, zero where it has fewer): its own layout, short beside that of all defects of the board.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
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
    wasted : float
        What speaks against it for the power it would waste. [nat]
    """

    y: Array
    lean: Array
    pull: Array
    base: Array
    wasted: float = 0.0

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
    _own: dict[int, tuple[int, ...]] = field(default_factory=dict)
    _severities: dict[tuple[int, int], tuple[float, float]] = field(default_factory=dict)

    def own(self, c: int) -> tuple[int, ...]:
        """Electrical numbers of the defects of a class that some reading feels."""
        known = self._own.get(c)
        if known is None:
            found = {n for code in set(self.codes[c].tolist()) for n in self.register.circuits[code]}
            known = self._own[c] = tuple(sorted(found))[:MOST_DEFECTS]
        return known

    def own_of(self, classes: Sequence[int]) -> Index:
        """The same for several classes, filled up with -1, shape (n_classes, MOST_DEFECTS)."""
        out = np.full((len(classes), MOST_DEFECTS), -1, dtype=np.intp)
        for k, c in enumerate(classes):
            own = self.own(c)
            out[k, : len(own)] = own
        return out

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
        return np.asarray(self.leans_of([c])[0])

    def leans_of(self, classes: Sequence[int]) -> Array:
        """The same for several classes, shape (n_classes, n_readings, n_own)."""
        out = np.zeros((len(classes), len(self.lines), self.tail + MOST_DEFECTS))
        fresh = np.array([k for k, c in enumerate(classes) if c not in self.tangents], dtype=np.intp)
        for k, c in enumerate(classes):
            if c in self.tangents:
                out[k] = self.tangents[c].lean
        if not fresh.size:
            return out
        chosen = np.asarray(classes, dtype=np.intp)[fresh]
        numbers = self.own_of(chosen.tolist())
        first = self.tangents.get(int(self.class_of[0]))
        for k, shelf in enumerate(self.shelves):
            weak = self.weak[k, chosen]
            if first is not None and weak.any():
                out[fresh[weak], k, : self.tail] = first.lean[k, : self.tail]
            board = int(np.searchsorted(shelf.support, self.tail))
            own, rows = fresh[~weak], self.rows[chosen[~weak], k]
            out[own[:, None], k, shelf.support[:board]] = shelf.lean[rows, :board]
            if board < len(shelf.support):
                unknown = self.tail + numbers[~weak]
                at = np.minimum(np.searchsorted(shelf.support, unknown), len(shelf.support) - 1)
                there = (numbers[~weak] >= 0) & (shelf.support[at] == unknown)
                out[own, k, self.tail :] = np.where(there, shelf.lean[rows[:, None], at], 0.0)
        return out

    def doubts(self, classes: Sequence[int]) -> Array:
        """Standard deviations that no unknown accounts for, shape (n_classes, n_readings).

        Where a class leans as the first one does it is as unsure.
        """
        chosen = list(classes)
        rows = np.where(self.weak[:, chosen].T, self.rows[self.class_of[0]], self.rows[chosen])
        return np.array([shelf.doubt[rows[:, k]] for k, shelf in enumerate(self.shelves)]).T.reshape(rows.shape)

    def severity(self, c: int, number: int) -> tuple[float, float]:
        """Of a defect of a class: shift of its severity, in units of its spread, and how much of that spread is left.

        Nothing left is 0, all of it 1; a defect that no reading feels has not moved. [1]
        """
        known = self._severities.get((c, number))
        if known is None:
            known = self._severities[c, number] = self._severity(c, number)
        return known

    def _severity(self, c: int, number: int) -> tuple[float, float]:
        own = self.own(c)
        if number not in own:
            return 0.0, 1.0
        at = self._by_severity(c, number, own.index(number))
        used = np.flatnonzero(~self.stack.overload & (self.joint.stray[:, c] < 0.5))
        lean = at[used]
        covariance = self.stack.covariance[c][np.ix_(used, used)] + np.diag(self.stack.noise[used] ** 2)
        told = float(lean @ np.linalg.solve(covariance, lean)) if used.size else 0.0
        return float(self.joint.pull[c] @ at), float(np.sqrt(min(max(1.0 - told, 0.0), 1.0)))

    def _by_severity(self, c: int, number: int, slot: int) -> Array:
        """That column of the slopes of a class which belongs to one of its severities, shape (n_readings,)."""
        if c in self.tangents:
            return self.tangents[c].lean[:, self.tail + slot]
        out = np.zeros(len(self.lines))
        for k in np.flatnonzero(~self.weak[:, c]).tolist():
            shelf = self.shelves[k]
            at = int(np.searchsorted(shelf.support, self.tail + number))
            if at < len(shelf.support) and shelf.support[at] == self.tail + number:
                out[k] = shelf.lean[self.rows[c, k], at]
        return out
