"""Circuits looked at again where the readings put their unknowns, and linearised there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ohmwright.evidence.forward import MOST_DEFECTS
from ohmwright.evidence.joint import Array, Joint, Stack, joint
from ohmwright.evidence.roster import Index
from ohmwright.evidence.shelf import Shelf
from ohmwright.evidence.shelves import Line, Shelves

NEGLIGIBLE = 12.0
"""How far below the likeliest a class is not worth a second look. [nat]"""
STILL = 0.03
"""A shift below this, in units of the spread, is no move. [1]"""
FARTHEST = 3.5
"""Shifts are held within so many spreads. [1]"""


@dataclass(frozen=True, slots=True, eq=False)
class Tangent:
    """A circuit with its unknowns where the readings put them, and the readings' slopes there.

    Parameters
    ----------
    y : ndarray, shape (n_readings,)
        Predictions brought back along the slopes to where every unknown is at its median.
    lean : ndarray, shape (n_readings, n_all)
        Slopes times the spread of each unknown.
    pull : ndarray, shape (n_readings,)
    """

    y: Array
    lean: Array
    pull: Array

    @property
    def shift(self) -> Array:
        """Posterior mean of the unknowns, each in units of its spread, shape (n_all,). [1]"""
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
    """

    lines: tuple[Line, ...]
    shelves: tuple[Shelf, ...]
    class_of: Index
    codes: Index
    rows: Index
    joint: Joint
    stack: Stack
    tangents: dict[int, Tangent]

    def shift(self, c: int, n_all: int) -> Array:
        """Posterior mean of the unknowns of a class, each in units of its spread, shape (n_all,). [1]"""
        if c in self.tangents:
            found = self.tangents[c].shift
            return np.concatenate((found, np.zeros(n_all - len(found))))
        total = np.zeros(n_all)
        for k, shelf in enumerate(self.shelves):
            total[shelf.support] += self.joint.pull[c, k] * shelf.lean[self.rows[c, k]]
        return total


def look_again(shelves: Shelves, weighed: Weighed, log_prior: Array, most: int) -> None:
    """Gauss-Newton: move the likeliest classes to where the readings put their unknowns, and linearise there."""
    result, tangents = weighed.joint, weighed.tangents
    always = int(weighed.class_of[0])
    moving: set[int] | None = None
    for count in (most, most // 2, 8, 8):
        score = result.log_likelihood + log_prior
        best = np.argsort(-score, kind="stable")[:count]
        best = best[score[best] > score[best[0]] - NEGLIGIBLE]
        near = list(dict.fromkeys([*best.tolist(), always]))
        chosen = [c for c in near if moving is None or c in moving or c not in tangents]
        if not chosen:
            break
        before = [weighed.shift(c, shelves.n_all) for c in chosen]
        fresh = _tangents(shelves, weighed, chosen, np.clip(np.array(before), -FARTHEST, FARTHEST))
        stack = weighed.stack.with_predictions(
            np.array([t.y for t in fresh]).T, np.array([t.lean @ t.lean.T for t in fresh])
        )
        better = joint(stack)
        index = np.array(chosen, dtype=np.intp)
        result.log_likelihood[index] = better.log_likelihood
        result.misfit[index] = better.misfit
        result.stray[:, index] = better.stray
        result.pull[index] = better.pull
        weighed.stack.y[:, index] = stack.y
        weighed.stack.covariance[index] = stack.covariance
        moving = set() if moving is None else moving
        for k, c in enumerate(chosen):
            tangents[c] = Tangent(fresh[k].y, fresh[k].lean, better.pull[k])
            moved = np.abs(tangents[c].shift - before[k]).max(initial=0.0)
            moving.add(c) if moved > STILL else moving.discard(c)


def _tangents(shelves: Shelves, weighed: Weighed, chosen: Sequence[int], shifts: Array) -> list[Tangent]:
    """Classes linearised at given shifts of the unknowns, in units of their spreads."""
    n = len(weighed.lines)
    y = np.empty((len(chosen), n))
    lean = np.zeros((len(chosen), n, shelves.n_all))
    orders: dict[int, list[tuple[int, int]]] = {}
    for k, line in enumerate(weighed.lines):
        orders.setdefault(id(line.forward), []).extend((k, c) for c in range(len(chosen)))
    for order in orders.values():
        _solve_at(shelves, weighed, chosen, shifts, order, y, lean)
    y -= np.einsum("cru,cu->cr", lean, shifts)
    return [Tangent(y[c], lean[c], np.zeros(n)) for c in range(len(chosen))]


def _solve_at(
    shelves: Shelves,
    weighed: Weighed,
    chosen: Sequence[int],
    shifts: Array,
    order: Sequence[tuple[int, int]],
    y: Array,
    lean: Array,
) -> None:
    forward = weighed.lines[order[0][0]].forward
    asked, starts = [], []
    offsets = np.zeros((forward.n_unknowns, len(order)))
    for position, (k, c) in enumerate(order):
        shelf, code = weighed.shelves[k], int(weighed.codes[chosen[c], k])
        asked.append((shelf.probe, [shelf.column(shelves.register, code)]))
        starts.append(shelf.volts[weighed.rows[chosen[c], k]])
        _offset(shelves, shelf, code, shifts[c], offsets[:, position])
    predicted = forward.predict_all(asked, offsets, np.array(starts, dtype=float).T)
    own = forward.severity_at
    scaled = predicted.lean[:own] * forward.spread[:own, None]
    for position, (k, c) in enumerate(order):
        shelf = weighed.shelves[k]
        y[c, k] = predicted.y[position]
        lean[c, k, shelf.place] = scaled[:, position]
        for slot, number in enumerate(shelves.register.circuits[int(weighed.codes[chosen[c], k])][:MOST_DEFECTS]):
            slope = predicted.lean[own + slot, position]
            lean[c, k, shelves.tail + number] += slope * shelves.register.log_sd(number)


def _offset(shelves: Shelves, shelf: Shelf, code: int, shift: Array, out: Array) -> None:
    """Offsets of a network's own unknowns for a shift of all unknowns in units of their spreads."""
    own = shelf.forward.severity_at
    out[:own] = shift[shelf.place] * shelf.forward.spread[:own]
    for slot, number in enumerate(shelves.register.circuits[code][:MOST_DEFECTS]):
        out[own + slot] = shift[shelves.tail + number] * shelves.register.log_sd(number)


def predict_at(shelves: Shelves, wanted: Sequence[tuple[Shelf, int, Array]]) -> list[tuple[float, Array]]:
    """Predictions with the unknowns shifted.

    Parameters
    ----------
    wanted : sequence of (Shelf, int, ndarray)
        Of one network: shelf, code, and shift of all unknowns in units of their spreads, shape (n_all,).

    Returns
    -------
    list of (float, ndarray)
        Prediction, and its slopes times the spreads, shape (n_all,).
    """
    if not wanted:
        return []
    forward = wanted[0][0].forward
    offsets = np.zeros((forward.n_unknowns, len(wanted)))
    for k, (shelf, code, shift) in enumerate(wanted):
        _offset(shelves, shelf, code, shift, offsets[:, k])
    groups = [(shelf.probe, [shelf.column(shelves.register, code)]) for shelf, code, _ in wanted]
    start = np.array([shelf.volts[shelf.row_of[code]] for shelf, code, _ in wanted], dtype=float).T
    predicted = forward.predict_all(groups, offsets, start)
    own = forward.severity_at
    scaled = predicted.lean[:own] * forward.spread[:own, None]
    out = []
    for k, (shelf, code, _) in enumerate(wanted):
        lean = np.zeros(shelves.n_all)
        lean[shelf.place] = scaled[:, k]
        for slot, number in enumerate(shelves.register.circuits[code][:MOST_DEFECTS]):
            lean[shelves.tail + number] += predicted.lean[own + slot, k] * shelves.register.log_sd(number)
        out.append((float(predicted.y[k]), lean))
    return out
