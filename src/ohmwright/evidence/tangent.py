"""Circuits looked at again where the readings put their unknowns, and linearised there."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ohmwright.evidence.beside import covariances_beside
from ohmwright.evidence.joint import Array, Joint, Stack, joint
from ohmwright.evidence.points import UNTOUCHED
from ohmwright.evidence.roster import Index
from ohmwright.evidence.settling import ANEW, FIRST, ON, ROUGH, Way, covariances, settled
from ohmwright.evidence.shelves import Shelves
from ohmwright.evidence.waste import against
from ohmwright.evidence.weighed import Tangent, Weighed

NEGLIGIBLE = 9.0
"""How far below the likeliest a class is not worth a second look. [nat]"""
NEGLIGIBLE_YET, ROUGHLY = 40.0, 10
"""The same for a class that changes some reading much and is known by nominal slopes alone; how many times more of them
are looked at roughly first. [nat], [1]"""
KINDRED = 6.0
"""How far below the likeliest a class is whose like, with other severities, is looked at too. [nat]"""
WAVES = 3
"""How often classes are chosen anew. [1]"""
RELIEF, TRIED, SECOND = 4.0, 6, 24
"""What a class may gain by each reading that it need not leave out after all, how many are tried, and how many where
one of those gained. [nat], [1]"""
BETTER = 0.5
"""By how much a place must be likelier to count as gained. [nat]"""
WEAK = 0.7
"""Change of a reading by a defect, on the scale of comparison, below which it leans as without the defect. [1]"""
MOVED = 0.5
"""A shift below this, as what it adds to a strength for each spread, changes too little to ask what it does. [1]"""


def look_again(shelves: Shelves, weighed: Weighed, log_prior: Array, most: int, before: Weighed | None = None) -> None:
    """Gauss-Newton: move the likeliest classes to where the readings put their unknowns, and linearise there.

    Parameters
    ----------
    before : Weighed, optional
        The same readings weighed over fewer hypotheses: what was looked at there is not looked at again.
    """
    always = int(weighed.class_of[0])
    if before is None:
        _settle_first(shelves, weighed, always)
        _follow(shelves, weighed, always, np.delete(np.arange(len(weighed.codes)), always))
    else:
        _follow(shelves, weighed, always, _taken_over(weighed, before))
    change = _change(weighed, always)
    strong = change > WEAK
    settled = set(weighed.tangents)
    score = weighed.joint.log_likelihood + log_prior
    kin = weighed.kin
    hopeful = strong & (score > score.max() - NEGLIGIBLE_YET)
    rough = _likeliest(score, hopeful, ROUGHLY * most) - settled
    if rough:
        _settle(shelves, weighed, sorted(rough), ROUGH)
    for wave in range(WAVES):
        score = weighed.joint.log_likelihood + log_prior
        worth = (change > UNTOUCHED) & (score > score.max() - NEGLIGIBLE)
        share = most if wave == 0 else most // 2
        fresh = _likeliest(score, worth, share // 2) | _likeliest(score, worth & strong, share // 2)
        fresh |= _likeliest(*_akin(kin, score, settled, change > UNTOUCHED), share)
        fresh -= settled
        if not fresh:
            break
        _settle(shelves, weighed, sorted(fresh))
        settled |= fresh
    _other_way(shelves, weighed, weighed.joint.log_likelihood + log_prior, strong)


def _settle_first(shelves: Shelves, weighed: Weighed, always: int) -> None:
    """Settle the class that all others start from in several ways; the likeliest place is kept.

    What many readings have in common looks like so many strays from afar.
    """
    covariance = covariances(weighed.leans(always)[None], weighed.doubts([always]))
    at_median = weighed.stack.with_predictions(weighed.stack.y[:, [always]], covariance)
    ways: list[tuple[float, dict[int, Tangent]]] = []
    for way in FIRST:
        weighed.tangents.clear()
        _put(weighed, np.array([always]), at_median, joint(at_median, trusting=way.held > 0))
        _settle(shelves, weighed, [always], way)
        ways.append((float(weighed.joint.log_likelihood[always]), dict(weighed.tangents)))
    best = max(ways, key=lambda found: found[0])
    if best is not ways[-1]:
        weighed.tangents.clear()
        _keep(shelves, weighed, best[1])


def _other_way(shelves: Shelves, weighed: Weighed, score: Array, strong: NDArray[np.bool_]) -> None:
    """Try classes that left readings out on their way once more with all of them; the likelier place is kept.

    A reading left out early, where the slopes were not yet those of the place, never pulls its unknowns there.
    """
    always, best = int(weighed.class_of[0]), int(score.argmax())
    stray = (weighed.joint.stray > 0.5) & ~weighed.stack.overload[:, None]
    # what the likeliest leaves out too is a slip, or beyond the map
    left_out = (stray & ~stray[:, [best]]).sum(axis=0)
    left_out[best] = stray[:, best].sum()
    known = np.zeros(len(score), dtype=bool)
    known[list(weighed.tangents)] = True
    hopeful = known & strong & (left_out > 0) & (score + RELIEF * left_out > score.max() - NEGLIGIBLE)
    hopeful[always] = False
    first = _likeliest(score + RELIEF * left_out, hopeful, TRIED)
    if first and _with_all(shelves, weighed, sorted(first)):
        _with_all(shelves, weighed, sorted(_likeliest(score + RELIEF * left_out, hopeful, SECOND) - first))


def _with_all(shelves: Shelves, weighed: Weighed, again: list[int]) -> bool:
    """Settle classes once more from all readings; whether that found a likelier place for any of them."""
    if not again:
        return False
    before = {c: weighed.tangents[c] for c in again}
    reached = weighed.joint.log_likelihood[again]
    _settle(shelves, weighed, again, ANEW)
    worse = [c for c, was in zip(again, reached.tolist(), strict=True) if weighed.joint.log_likelihood[c] < was]
    gained = bool((weighed.joint.log_likelihood[again] > np.array(reached) + BETTER).any())
    _keep(shelves, weighed, {c: before[c] for c in worse})
    return gained


def _akin(
    kin: Index, score: Array, settled: set[int], among: NDArray[np.bool_]
) -> tuple[Array, NDArray[np.bool_]]:
    """Classes not looked at that differ by how bad their faults are only from a likely one that was.

    How bad a fault is runs on without steps: from afar one range may look bad between two that turned out well.

    Returns
    -------
    ndarray, shape (n_classes,)
        The likeliest of each one's like. [nat]
    ndarray of bool, shape (n_classes,)
        Which they are.
    """
    seen = np.zeros(len(score), dtype=bool)
    seen[sorted(settled)] = True
    best = np.full(int(kin.max()) + 1, -np.inf)
    np.maximum.at(best, kin[seen], score[seen])
    return best[kin], among & ~seen & (best[kin] > score.max() - KINDRED)


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


def _keep(shelves: Shelves, weighed: Weighed, known: dict[int, Tangent]) -> None:
    """Put classes back to where they stood before."""
    if not known:
        return
    lean = np.array([tangent.lean for tangent in known.values()])
    stack = weighed.stack.with_predictions(
        np.array([t.y for t in known.values()]).T, covariances(lean, weighed.doubts(list(known)))
    )
    shift = np.array([tangent.shift for tangent in known.values()])
    _put(weighed, np.array(list(known), dtype=np.intp), stack, joint(stack), _wasted(shelves, shift))
    weighed.tangents.update(known)


def _taken_over(weighed: Weighed, before: Weighed) -> Index:
    """Take over all that is known of classes that were weighed before, under the same readings; which are new."""
    place = {code.tobytes(): c for c, code in enumerate(before.codes)}
    known = np.array([place.get(code.tobytes(), -1) for code in weighed.codes], dtype=np.intp)
    here, there = np.flatnonzero(known >= 0), known[known >= 0]
    _put(weighed, here, before.stack.of_columns(there), before.joint.of_columns(there))
    weighed.weak[:, here] = before.weak[:, there]
    to = dict(zip(there.tolist(), here.tolist(), strict=True))
    weighed.tangents.update({to[c]: tangent for c, tangent in before.tangents.items() if c in to})
    return np.flatnonzero(known < 0)


def _follow(shelves: Shelves, weighed: Weighed, first: int, others: Index) -> None:
    """Let classes start from where the readings put the unknowns of the first.

    A reading that a class hardly changes is as far from its nominal value there as in the first class, and
    leans on the same unknowns; only what the class changes much keeps its own nominal predictions.
    """
    if not others.size:
        return
    tangent, rows = weighed.tangents[first], weighed.rows[others]
    y = weighed.stack.y[:, others]
    nominal = [float(shelf.y[weighed.rows[first, k]]) for k, shelf in enumerate(weighed.shelves)]
    change = y - np.array(nominal)[:, None]
    weak = (np.abs(change) < WEAK) & (_bent(shelves, weighed, first, rows) < WEAK)
    weighed.weak[:, others] = weak
    y = np.where(weak, tangent.y[:, None] + change, y)
    covariance = np.empty((len(others), *weighed.stack.covariance.shape[1:]))
    covariances_beside(tangent.lean[:, : weighed.tail], weighed.shelves, rows, weak, covariance)
    diagonal = np.arange(len(weighed.lines))
    covariance[:, diagonal, diagonal] += weighed.doubts(others.tolist()) ** 2
    stack = weighed.stack.with_predictions(y, covariance)
    better = joint(stack, near=(weighed.stack.covariance[first], ~weak.T))
    _put(weighed, others, stack, better, _wasted(shelves, tangent.shift[None])[0])


def _bent(shelves: Shelves, weighed: Weighed, first: int, rows: Index) -> Array:
    """How much more a reading may differ from the first class's where its unknowns went, (n_readings, n_classes).

    The classes are given by their rows of the shelves, shape (n_classes, n_readings).

    A path between two rails hardly shows on one of them while the other carries next to nothing; it shows once the
    load of the other has grown.
    """
    spread = np.maximum(shelves.forward.spread[: weighed.tail], 1e-3)
    shift = weighed.tangents[first].shift[: weighed.tail]
    grown = np.expm1(np.minimum(spread * np.abs(shift), 6.0)) / spread
    out = np.zeros(rows.T.shape)
    for k, shelf in enumerate(weighed.shelves):
        at = np.flatnonzero(shelf.support < weighed.tail)
        at = at[grown[shelf.support[at]] > MOVED]
        used, of = np.unique(rows[:, k], return_inverse=True)
        apart = np.abs(shelf.lean[np.ix_(used, at)] - shelf.lean[weighed.rows[first, k], at])
        out[k] = (apart * grown[shelf.support[at]]).max(axis=1, initial=0.0)[of.ravel()]
    return out


def _settle(shelves: Shelves, weighed: Weighed, moving: list[int], way: Way = ON) -> None:
    """Move classes until they stand still, and take over where each fitted best."""
    points = settled(shelves, weighed, moving, way)
    stack = weighed.stack.with_predictions(points.y.T, points.covariance)
    better = joint(stack)
    wasted = _wasted(shelves, np.einsum("cr,cru->cu", better.pull, points.lean))
    _put(weighed, np.array(moving, dtype=np.intp), stack, better, wasted)
    for k, c in enumerate(moving):
        weighed.tangents[c] = Tangent(points.y[k], points.lean[k], better.pull[k], points.base[k], float(wasted[k]))


def _wasted(shelves: Shelves, shift: Array) -> Array:
    """What speaks against classes whose unknowns are shifted so, for the power it would waste, shape (n_classes,)."""
    forward = shelves.forward
    return against(shift, forward.spread, forward.budgets)


def _put(weighed: Weighed, index: Index, stack: Stack, better: Joint, wasted: Array | float = 0.0) -> None:
    """What readings say of some classes, and what those predict."""
    result = weighed.joint
    result.log_likelihood[index] = better.log_likelihood - wasted
    result.misfit[index] = better.misfit
    result.stray[:, index] = better.stray
    result.pull[index] = better.pull
    weighed.stack.y[:, index] = stack.y
    weighed.stack.covariance[index] = stack.covariance
