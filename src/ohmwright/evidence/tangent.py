"""Circuits looked at again where the readings put their unknowns, and linearised there.

The unknowns of a class are those of the board, and after them the severities of its own defects (`MOST_DEFECTS` of
them, zero where it has fewer): its own layout, short beside that of all defects of the board.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ohmwright.evidence.forward import MOST_DEFECTS
from ohmwright.evidence.joint import Array, Joint, Stack, joint
from ohmwright.evidence.roster import Index, Register
from ohmwright.evidence.shelf import Shelf
from ohmwright.evidence.shelves import Line, Shelves

NEGLIGIBLE = 9.0
"""How far below the likeliest a class is not worth a second look. [nat]"""
NEGLIGIBLE_YET, ROUGHLY, ROUGH_ROUNDS = 40.0, 2, 2
"""The same for a class that changes some reading much and is known by nominal slopes alone; how many times more of them
are looked at roughly first, and in how many steps. [nat], [1], [1]"""
STILL = 0.1
"""A shift below this, in units of the spread, is no move. [1]"""
WAVES, ROUNDS = 3, 7
"""How often classes are chosen anew, and how often each is moved. [1]"""
STRIDE = 1.5
"""How far an unknown moves at a time, in units of its spread. [1]"""
WEAK = 0.7
"""Change of a reading by a defect, on the scale of comparison, below which it leans as without the defect. [1]"""
FARTHEST = 4.0
"""Shifts are held within so many spreads. [1]"""
STRAIGHT = 0.02
"""A reading moved by less than this since it was linearised, on the scale of comparison, is still straight. [1]"""
WORSE = 1.0
"""By how much readings and unknowns may fit worse after a step that is not taken back. [nat]"""
UNTOUCHED = 0.02
"""A reading that a class changes by less than this, on the scale of comparison, is what it is without. [1]"""


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


def look_again(shelves: Shelves, weighed: Weighed, log_prior: Array, most: int, before: Weighed | None = None) -> None:
    """Gauss-Newton: move the likeliest classes to where the readings put their unknowns, and linearise there.

    Parameters
    ----------
    before : Weighed, optional
        The same readings weighed over fewer hypotheses: what was looked at there is not looked at again.
    """
    always = int(weighed.class_of[0])
    known = {} if before is None else {before.codes[c].tobytes(): t for c, t in before.tangents.items()}
    first = known.get(weighed.codes[always].tobytes())
    if first is None:
        at_median = weighed.stack.with_predictions(
            weighed.stack.y[:, [always]], _covariances(weighed.leans(always)[None])
        )
        _put(weighed, np.array([always]), at_median, joint(at_median))
        _settle(shelves, weighed, [always])
    else:
        _keep(weighed, {always: first})
    _follow(shelves, weighed, always)
    _keep(weighed, {c: known[key] for c in range(len(weighed.codes)) if (key := weighed.codes[c].tobytes()) in known})
    change = _change(weighed, always)
    strong = change > WEAK
    settled = set(weighed.tangents)
    score = weighed.joint.log_likelihood + log_prior
    rough = _likeliest(score, strong & (score > score.max() - NEGLIGIBLE_YET), ROUGHLY * most) - settled
    if rough:
        _settle(shelves, weighed, sorted(rough), roughly=True)
    for wave in range(WAVES):
        score = weighed.joint.log_likelihood + log_prior
        worth = (change > UNTOUCHED) & (score > score.max() - NEGLIGIBLE)
        share = most if wave == 0 else most // 2
        fresh = _likeliest(score, worth, share // 2) | _likeliest(score, worth & strong, share // 2)
        fresh -= settled
        if not fresh:
            return
        _settle(shelves, weighed, sorted(fresh))
        settled |= fresh


def _likeliest(score: Array, among: NDArray[np.bool_], most: int) -> set[int]:
    chosen = np.flatnonzero(among)
    return set(chosen[np.argsort(-score[chosen], kind="stable")[:most]].tolist())


def _change(weighed: Weighed, first: int) -> Array:
    """How far some reading differs from the first class's, on the scale of comparison, shape (n_classes,).

    A class that changes nothing is as good as the first; one that changes much is only roughly known yet.
    """
    change = np.zeros(len(weighed.codes))
    for k, shelf in enumerate(weighed.shelves):
        change = np.maximum(change, np.abs(shelf.y[weighed.rows[:, k]] - shelf.y[weighed.rows[first, k]]))
    return change


def _keep(weighed: Weighed, known: dict[int, Tangent]) -> None:
    """Take over classes that were looked at before, under the same readings."""
    if not known:
        return
    index = np.array(list(known), dtype=np.intp)
    lean = np.array([tangent.lean for tangent in known.values()])
    stack = weighed.stack.with_predictions(np.array([t.y for t in known.values()]).T, _covariances(lean))
    _put(weighed, index, stack, joint(stack))
    weighed.tangents.update(known)


def _follow(shelves: Shelves, weighed: Weighed, first: int) -> None:
    """Let every class start from where the readings put the unknowns of the first.

    A reading that a class hardly changes is as far from its nominal value there as in the first class, and
    leans on the same unknowns; only what the class changes much keeps its own nominal predictions.
    """
    tangent, n = weighed.tangents[first], len(weighed.lines)
    y = np.array(weighed.stack.y)
    nominal = [float(shelf.y[weighed.rows[first, k]]) for k, shelf in enumerate(weighed.shelves)]
    change = y - np.array(nominal)[:, None]
    weighed.weak[:] = np.abs(change) < WEAK
    weighed.weak[:, first] = False
    y = np.where(weighed.weak, tangent.y[:, None] + change, y)
    covariance = weighed.stack.covariance
    covariance[:] = tangent.lean @ tangent.lean.T
    for k, shelf in enumerate(weighed.shelves):
        strong = np.flatnonzero(~weighed.weak[k])
        used, of = np.unique(weighed.rows[strong, k], return_inverse=True)
        board = int(np.searchsorted(shelf.support, weighed.tail))
        mixed = (shelf.lean[used, :board] @ tangent.lean[:, shelf.support[:board]].T)[of.ravel()]
        for other in range(n):
            weak = weighed.weak[other, strong]
            where = strong[weak]
            covariance[where, k, other] = covariance[where, other, k] = mixed[weak, other]
            where = strong[~weak]
            if other <= k and where.size:
                both = shelves.covariance(
                    shelf, weighed.rows[where, k], weighed.shelves[other], weighed.rows[where, other]
                )
                covariance[where, k, other] = covariance[where, other, k] = both
    covariance[first] = tangent.lean @ tangent.lean.T
    index = np.array([c for c in range(y.shape[1]) if c not in weighed.tangents], dtype=np.intp)
    stack = weighed.stack.with_predictions(y[:, index], covariance[index])
    _put(weighed, index, stack, joint(stack))


def _settle(shelves: Shelves, weighed: Weighed, moving: list[int], *, roughly: bool = False) -> None:
    """Move classes until they stand still; no unknown goes farther than a stride at a time.

    A step after which the readings fit worse than before is taken back halfway; where a class does not come to
    rest, the place that fitted best is kept. Roughly: in a few steps, and only what a class changes much is
    linearised anew.
    """
    points = _starts(shelves, weighed, moving)
    points.bending = ~weighed.weak[:, moving].T if roughly else np.ones_like(points.stale)
    at = np.clip(np.array([weighed.shift(c) for c in moving]), -STRIDE, STRIDE)
    before, least = np.zeros_like(at), np.full(len(moving), np.inf)
    kept = np.full(len(moving), np.inf)
    for _ in range(ROUGH_ROUNDS if roughly else ROUNDS):
        points.move(shelves, weighed, moving, at)
        now = _misfit(weighed.stack, points, at)
        stack = weighed.stack.with_predictions(points.y.T, _covariances(points.lean))
        better = joint(stack)
        aim = np.clip(np.einsum("cr,cru->cu", better.pull, points.lean), -FARTHEST, FARTHEST)
        step = np.clip(aim - at, -STRIDE, STRIDE)
        worse = now > least + WORSE
        still = (np.abs(step).max(axis=1, initial=0.0) < STILL) & ~worse
        best = np.flatnonzero(still | (now < kept))
        _put(weighed, np.array(moving, dtype=np.intp)[best], stack.of_columns(best), better.of_columns(best))
        for k in best.tolist():
            weighed.tangents[moving[k]] = Tangent(points.y[k], points.lean[k], better.pull[k], points.base[k])
        kept = np.minimum(kept, now)
        going = np.flatnonzero(~still)
        if not going.size:
            return
        back = worse[:, None]
        before, at, least = (
            np.where(back, before, at),
            np.where(back, 0.5 * (before + at), at + step),
            np.where(worse, least, now),
        )
        before, at, least, kept, points = before[going], at[going], least[going], kept[going], points.of(going)
        moving = [moving[k] for k in going.tolist()]


def _misfit(stack: Stack, points: _Points, at: Array) -> Array:
    """How badly readings and unknowns together fit at given shifts, shape (n_classes,). [nat]"""
    shown = points.y + np.einsum("cru,cu->cr", points.lean, at)
    off = np.where(stack.overload, np.maximum(stack.limit - shown, 0.0), stack.observed - shown)
    noise = np.maximum(stack.noise, 1e-3)
    slip = -np.log(stack.stray / (1.0 - stack.stray) / stack.width * noise * np.sqrt(2.0 * np.pi))
    return np.asarray(0.5 * (at**2).sum(axis=1) + np.minimum(0.5 * (off / noise) ** 2, slip).sum(axis=1))


def _covariances(lean: Array) -> Array:
    """Of the readings, by the unknowns they share, shape (n_classes, n_readings, n_readings)."""
    used = lean[:, :, (lean != 0.0).any(axis=(0, 1))]
    return np.asarray(used @ used.transpose(0, 2, 1))


@dataclass(eq=False)
class _Points:
    """Where the readings of some classes stand linearised; arrays over (n_classes, n_readings, n_own).

    `own` are the electrical numbers of each class's defects, -1 for none, and `spreads` the spreads of its unknowns,
    shape (n_classes, n_own).
    """

    y: Array
    lean: Array
    base: Array
    stale: NDArray[np.bool_]
    own: Index
    spreads: Array
    bending: NDArray[np.bool_]

    def of(self, chosen: Index) -> _Points:
        return _Points(
            self.y[chosen],
            self.lean[chosen],
            self.base[chosen],
            self.stale[chosen],
            self.own[chosen],
            self.spreads[chosen],
            self.bending[chosen],
        )

    def move(self, shelves: Shelves, weighed: Weighed, moving: Sequence[int], at: Array) -> None:
        """Linearise anew at given shifts every reading that the way there may have bent."""
        spreads = self.spreads[:, None, :]
        # Unknowns are logarithms: an element that hardly counts may come to count as it grows.
        grown = np.expm1(np.minimum(spreads * np.abs(at[:, None, :] - self.base), 6.0)) / spreads
        bent = np.abs(self.lean * grown).max(axis=2, initial=0.0) > STRAIGHT
        which, reading = np.nonzero((bent | self.stale) & self.bending)
        if which.size:
            codes = weighed.codes[np.array(moving, dtype=np.intp)[which], reading]
            asked = [(weighed.shelves[k], code) for k, code in zip(reading.tolist(), codes.tolist(), strict=True)]
            y, lean = predict_at(shelves, asked, at[which], self.own[which])
            self.lean[which, reading] = lean
            self.base[which, reading] = at[which]
            self.y[which, reading] = y - (lean * at[which]).sum(axis=1)
        self.stale[:] = False


def _starts(shelves: Shelves, weighed: Weighed, moving: Sequence[int]) -> _Points:
    """Classes as they stand on the shelves, or beside the first class where they differ little from it."""
    lean = np.array([weighed.leans(c) for c in moving])
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
    own_numbers = np.full((len(moving), MOST_DEFECTS), -1, dtype=np.intp)
    for k, c in enumerate(moving):
        numbers = weighed.own(c)
        own_numbers[k, : len(numbers)] = numbers
    board = np.broadcast_to(shelves.forward.spread[: shelves.tail], (len(moving), shelves.tail))
    severities = np.append(shelves.register.log_sds, 0.0)[own_numbers]
    spreads = np.maximum(np.concatenate((board, severities), axis=1), 1e-3)
    y = np.array(weighed.stack.y[:, list(moving)].T)
    return _Points(y, lean, base, stale, own_numbers, spreads, np.ones_like(stale))


def _put(weighed: Weighed, index: Index, stack: Stack, better: Joint) -> None:
    result = weighed.joint
    result.log_likelihood[index] = better.log_likelihood
    result.misfit[index] = better.misfit
    result.stray[:, index] = better.stray
    result.pull[index] = better.pull
    weighed.stack.y[:, index] = stack.y
    weighed.stack.covariance[index] = stack.covariance


def predict_at(shelves: Shelves, asked: Sequence[tuple[Shelf, int]], shift: Array, own: Index) -> tuple[Array, Array]:
    """Predictions with the unknowns shifted.

    Parameters
    ----------
    asked : sequence of (Shelf, int)
        Shelf and code.
    shift : ndarray, shape (n_asked, n_own)
        Of the board's unknowns and of up to `MOST_DEFECTS` severities, each in units of its spread. [1]
    own : ndarray of int, shape (n_asked, MOST_DEFECTS)
        Electrical numbers of those severities, -1 for none.

    Returns
    -------
    ndarray, shape (n_asked,)
        Predictions.
    ndarray, shape (n_asked, n_own)
        Their slopes times the spreads.
    """
    by_network: dict[int, list[int]] = {}
    for k, (shelf, _) in enumerate(asked):
        by_network.setdefault(id(shelf.forward), []).append(k)
    y, lean = np.zeros(len(asked)), np.zeros((len(asked), shelves.tail + MOST_DEFECTS))
    for places in by_network.values():
        y[places], lean[places] = _predict_in(shelves, [asked[k] for k in places], shift[places], own[places])
    return y, lean


def _predict_in(shelves: Shelves, asked: Sequence[tuple[Shelf, int]], shift: Array, own: Index) -> tuple[Array, Array]:
    """The same for shelves of one network, solved together."""
    forward, place, tail = asked[0][0].forward, asked[0][0].place, shelves.tail
    board, log_sds = forward.severity_at, shelves.register.log_sds
    offsets = np.zeros((forward.n_unknowns, len(asked)))
    offsets[:board] = (shift[:, place] * forward.spread[:board]).T
    where: list[tuple[int, int, int, float]] = []
    for k, (_, code) in enumerate(asked):
        mine = own[k].tolist()
        for slot, number in enumerate(shelves.register.circuits[code][:MOST_DEFECTS]):
            where.append((k, board + slot, tail + mine.index(number), log_sds[number]))
    k_, theirs, ours = (np.array([w[i] for w in where], dtype=np.intp) for i in range(3))
    log_sd = np.array([w[3] for w in where])
    offsets[theirs, k_] = shift[k_, ours] * log_sd
    groups = [(shelf.probe, [shelf.column(shelves.register, code)]) for shelf, code in asked]
    start = np.array([shelf.volts[shelf.row_of[code]] for shelf, code in asked], dtype=float).T
    predicted = forward.predict_all(groups, offsets, start)
    lean = np.zeros((len(asked), tail + MOST_DEFECTS))
    lean[:, place] = (predicted.lean[:board] * forward.spread[:board, None]).T
    lean[k_, ours] += predicted.lean[theirs, k_] * log_sd
    return predicted.y, lean
