"""Classes moved until they stand still: Gauss-Newton with steps that shorten along unknowns that turn back.

At first no reading counts as a stray, and none pulls by more than a few of its deviations [1]_; only from there are
strays looked for. What is left out early, where the slopes are not yet those of the place, would never pull its
unknowns there, and what pulls with all its weight drags them off.

References
----------
.. [1] P. J. Huber, "Robust estimation of a location parameter," Ann. Math. Statist., vol. 35, no. 1, pp. 73-101, 1964.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ohmwright import kernels
from ohmwright.evidence.joint import Array, Stack, joint
from ohmwright.evidence.moving import move_all
from ohmwright.evidence.points import STRAIGHT, Points, starts
from ohmwright.evidence.roster import Index
from ohmwright.evidence.shelves import Shelves
from ohmwright.evidence.weighed import Weighed

STILL = 0.1
"""A shift below this, in units of the spread, is no move. [1]"""
STRIDE, LONGER, SHORTER = 1.5, 1.5, 0.5
"""How far an unknown moves at a time, in units of its spread; by how much that grows again while it goes on, and what
is left of it where it turns back. [1]"""
FARTHEST = 4.0
"""Shifts are held within so many spreads. [1]"""
WORSE = 1.0
"""By how much readings and unknowns may fit worse after a step that is not taken back. [nat]"""


@dataclass(frozen=True, slots=True)
class Way:
    """How classes are moved.

    Parameters
    ----------
    held : int
        Rounds at first in which no reading is taken for a stray. [1]
    most : float
        By how many of its deviations a reading pulls at most in those. [1]
    rounds : int
        All rounds. [1]
    strong : bool
        Whether only what a class changes is linearised anew.
    """

    held: int
    most: float
    rounds: int
    strong: bool = False


FIRST = (Way(0, 2.0, 7), Way(10, 1.0, 17), Way(10, 2.0, 17), Way(10, 4.0, 17))
"""Ways for the class that all others start from; the likeliest place is kept."""
ROUGH = Way(0, 2.0, 2, strong=True)
ON, ANEW = Way(4, 2.0, 11), Way(10, 2.0, 17)


def settled(shelves: Shelves, weighed: Weighed, moving: list[int], way: Way) -> Points:
    """Move classes until they stand still; they are left where each fitted best.

    A step after which the readings fit worse than before is taken back halfway.
    """
    points = starts(shelves, weighed, moving)
    points.bending = ~weighed.weak[:, moving].T | points.stale if way.strong else np.ones_like(points.stale)
    walk = _Walk.begun(_anchor(weighed, points), _aimed(weighed.joint.pull[moving], points), way)
    compiled = kernels.ready()
    if compiled is not None:
        rules = (STRAIGHT, FARTHEST, STRIDE, STILL, WORSE, way.rounds)
        begun = (walk.at, walk.step, walk.reach)
        move_all(compiled, shelves, weighed, moving, points, begun, rules, (way.most, way.held))
        return points
    best, going = points.of(np.arange(len(moving))), np.arange(len(moving))
    for turn in range(way.rounds):
        points.move(shelves, weighed, [moving[k] for k in going.tolist()], walk.at)
        points.covariance = covariances(points.lean, points.doubt)
        fit, held = misfits(weighed.stack, points, walk.at, way.most)
        good = np.flatnonzero(fit < walk.kept)
        best.take(going[good], points, good)
        walk.kept = np.minimum(walk.kept, fit)
        stack = weighed.stack.with_predictions(points.y.T, points.covariance)
        aims = _aimed(_held_pull(stack, points, walk.at, way.most), points), _aimed(joint(stack).pull, points)
        left = np.flatnonzero(~walk.on(fit, held, aims, turn + 1 >= way.held))
        if not left.size:
            break
        points, going, walk = points.of(left), going[left], walk.of(left)
    return best


@dataclass(eq=False)
class _Walk:
    """Where classes are on their way; arrays over (n_classes, n_own), or (n_classes,).

    `at` are the shifts, `step` the last step and `reach` how far the next may go along each unknown; `least` is the
    misfit before, `kept` the least so far, and `holding` where no reading is taken for a stray yet.
    """

    at: Array
    step: Array
    reach: Array
    least: Array
    kept: Array
    holding: NDArray[np.bool_]

    @classmethod
    def begun(cls, at: Array, aim: Array, way: Way) -> _Walk:
        step, reach = _towards(at, aim, np.zeros_like(at), np.full_like(at, STRIDE))
        never = np.full(len(at), np.inf)
        return cls(at + step, step, reach, never, never.copy(), np.full(len(at), way.held > 0))

    def of(self, chosen: Index) -> _Walk:
        return _Walk(
            self.at[chosen],
            self.step[chosen],
            self.reach[chosen],
            self.least[chosen],
            self.kept[chosen],
            self.holding[chosen],
        )

    def on(self, fit: Array, held: Array, aims: tuple[Array, Array], last: bool) -> NDArray[np.bool_]:
        """Take the next step towards the aims, held and with strays left out; which classes stand still."""
        worse = ~self.holding & (fit > self.least + WORSE)
        self.least = np.where(worse, self.least, np.where(self.holding, held, fit))
        onward, further = _towards(self.at, aims[0], self.step, self.reach)
        through = self.holding & (last | (np.abs(onward).max(axis=1, initial=0.0) < STILL))
        self.least = np.where(through, fit, self.least)
        self.holding = self.holding & ~through
        anew = through[:, None]
        fresh = np.where(anew, 0.0, self.step), np.where(anew, STRIDE, self.reach)
        searched, beyond = _towards(self.at, aims[1], *fresh)
        still = np.abs(searched).max(axis=1, initial=0.0) < STILL
        # halfway back where it got worse, and no farther from there
        back, hold, halfway = worse[:, None], self.holding[:, None], -SHORTER * self.step
        self.reach = np.where(back, np.minimum(self.reach, np.abs(halfway)), np.where(hold, further, beyond))
        self.step = np.where(back, halfway, np.where(hold, onward, searched))
        self.at = self.at + self.step
        return np.asarray(still & ~self.holding & ~worse)


def misfits(stack: Stack, points: Points, at: Array, most: float) -> tuple[Array, Array]:
    """How badly readings and unknowns together fit at given shifts, shape (n_classes,) each. [nat]

    Once as readings are that may be slips, and once as they are that pull by no more than so many deviations.
    """
    shown = points.y + np.einsum("cru,cu->cr", points.lean, at)
    off = np.where(stack.overload, np.maximum(stack.limit - shown, 0.0), np.abs(stack.observed - shown))
    off = off / np.maximum(stack.noise, 1e-3)
    own = 0.5 * (at**2).sum(axis=1)
    held = np.where(off < most, 0.5 * off**2, most * (off - 0.5 * most))
    return (
        np.asarray(own + np.minimum(0.5 * off**2, stack.slip).sum(axis=1)),
        np.asarray(own + np.where(stack.overload, 0.0, held).sum(axis=1)),
    )


def covariances(lean: Array, doubt: Array) -> Array:
    """Of the readings, by the unknowns they share and by doubts of their own, (n_classes, n_readings, n_readings)."""
    used = lean[:, :, (lean != 0.0).any(axis=(0, 1))]
    out = np.asarray(used @ used.transpose(0, 2, 1))
    diagonal = np.arange(out.shape[1])
    out[:, diagonal, diagonal] += doubt**2
    return out


def _aimed(pull: Array, points: Points) -> Array:
    return np.asarray(np.clip(np.einsum("cr,cru->cu", pull, points.lean), -FARTHEST, FARTHEST))


def _towards(at: Array, aim: Array, step: Array, reach: Array) -> tuple[Array, NDArray[np.float64]]:
    """The next step from the last, shorter along unknowns that turn back, and how far it may go along each."""
    way = aim - at
    shorter, longer = np.minimum(reach, SHORTER * np.abs(step)), np.minimum(STRIDE, LONGER * reach)
    reach = np.where(way * step < 0.0, shorter, longer)
    return np.clip(way, -reach, reach), reach


def _held_pull(stack: Stack, points: Points, at: Array, most: float) -> Array:
    """Residuals times their precision where no reading pulls by more than so many of its deviations."""
    numbers = np.flatnonzero(~stack.overload)
    pull = np.zeros_like(points.y)
    if not numbers.size:
        return pull
    residual = (stack.observed[numbers, None] - stack.y[numbers]).T
    off = np.abs(residual - np.einsum("cru,cu->cr", points.lean[:, numbers], at)) / stack.noise[numbers]
    inner = np.array(stack.covariance[:, numbers[:, None], numbers[None, :]])
    diagonal = np.arange(len(numbers))
    inner[:, diagonal, diagonal] += stack.noise[numbers] ** 2 * np.maximum(1.0, off / most)
    pull[:, numbers] = np.linalg.solve(inner, residual[:, :, None])[:, :, 0]
    return pull


def _anchor(weighed: Weighed, points: Points) -> Array:
    """Where classes set out from: where the first class came to rest, and that one from the medians."""
    out = np.zeros((len(points.y), points.lean.shape[2]))
    first = weighed.tangents.get(int(weighed.class_of[0]))
    if first is not None:
        out[:, : weighed.tail] = np.clip(first.shift[: weighed.tail], -FARTHEST, FARTHEST)
    return out
