"""When one fault does not explain the readings: whether a second is worth thinking of, and which could be it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import BoardState
from ohmwright.diagnosis.belief import Array
from ohmwright.facts import Deed, Facts
from ohmwright.faults import Defect, Hypothesis, pairs_with

if TYPE_CHECKING:
    from ohmwright.diagnosis.posterior import Posterior

POOR_FIT = 1e-3
"""Misfit below which the best single explanation is doubted and pairs are tried. [1]"""
STRAY_DOUBT = 0.3
BORNE = 0.02
"""Share of readings that may be strays without raising doubt, besides half the share missing from the map. [1]"""
PLAUSIBLE = 4.0
"""How far below the likeliest an explanation that fits still keeps doubt away. [nat]"""
SECOND_FAULT = 6.0
"""What the best explanation may ask of a sound board before pairs are tried: a second fault somewhere has a prior of
some 1e-4 and, where it comes out this near, a say. [nat] estimate"""
FAR = 2.5
"""Shift of an unknown, in units of its spread, from which it is out of the usual: one in eighty. [1]"""
GROWN_FROM = 3
AS_LIKELY, MOST_ALIKE = 4.0, 16
"""How far below the likeliest of its class a hypothesis is still grown, and how many of one class are. [nat], [1]"""
RULED_OUT = 12.0
"""No reading speaks against a partner by more than this; the leader may explain it. [nat]"""
MOST_PAIRS = 960
"""Pairs grown from one class. [1]"""
MOST_PARTNERS, MOST_WHEN_DEAD = 90, 320
"""Single faults tried as the second of a pair: in doubt, and where a repair is known not to have been all. [1]"""


def still_dead_at(facts: Facts) -> BoardState | None:
    """How the board stood when it was tried after the last repair and that had not cured it; else None."""
    trial = facts.trial_since_mended
    return trial.state if trial is not None and trial.deed is Deed.STILL_DEAD else None


def doubtful(result: Posterior) -> bool:
    """Whether a second fault is worth thinking of: no single one fits, or what it asks of a sound board costs as much.

    Or all that fit were cured, and the board is still dead.
    """
    if not result.lines:
        return False
    weight = result.belief.log_weight
    tried = still_dead_at(result.facts)
    if tried is not None and weight[result.roster.left(tried)].max(initial=-np.inf) < weight.max():
        return True
    return fits_poorly(result) or bool(_strain(result, _plausible(result)).min(initial=np.inf) > SECOND_FAULT)


def fits_poorly(result: Posterior) -> bool:
    """Whether no explanation of some likelihood fits the readings without leaving out too many of them."""
    if not result.lines:
        return False
    worth = _plausible(result)
    stray, on_board = result.joint.stray[:, worth] > STRAY_DOUBT, _on_board(result)
    usual = BORNE + 0.5 * result.board.unmapped_share
    # A slip, which is rarer, counts more than a gap in the map.
    counts = np.log(result.weighed.stack.stray[on_board]) / np.log(usual)
    few = (counts @ stray[on_board] <= int(on_board.sum() * usual)) & ~stray[~on_board].any(axis=0)
    return not bool(((result.joint.misfit[worth] >= POOR_FIT) & few).any())


def _plausible(result: Posterior) -> NDArray[np.intp]:
    """Classes of the likeliest hypotheses that a repair known of has not ruled out, one entry per hypothesis."""
    weight = result.belief.log_weight
    tried = still_dead_at(result.facts)
    if tried is not None:
        weight = np.where(result.roster.left(tried), weight, -np.inf)
    return np.asarray(result.class_of[np.flatnonzero(weight > weight.max() - PLAUSIBLE)])


def _on_board(result: Posterior) -> NDArray[np.bool_]:
    """Readings of the board: what a part reads by itself owes nothing to what the map lacks."""
    return np.array([not line.loose for line in result.lines])


def _strain(result: Posterior, classes: NDArray[np.intp]) -> Array:
    """What classes that were looked at closely ask of a sound board, shape (n,): about what a second fault could save.

    The strays beyond what such a map leads to expect, the power wasted, and the unknowns that lie far from where they
    were expected: many a little off are what is usual. [nat]
    """
    tangents, tail = result.weighed.tangents, result.weighed.tail
    prior = result.weighed.stack.stray
    price = -np.log(prior)
    expected = float((prior * price)[_on_board(result)].sum())
    out = [
        max(float(price @ (result.joint.stray[:, c] > STRAY_DOUBT)) - expected, 0.0)
        + 0.5 * float((far[np.abs(far) > FAR] ** 2).sum())
        + tangents[c].wasted
        for c in dict.fromkeys(classes.tolist())
        if c in tangents and (far := tangents[c].shift[:tail]).size
    ]
    return np.array(out)


def partners(result: Posterior, singles: tuple[Hypothesis, ...], second: float) -> tuple[Hypothesis, ...]:
    """Pairs (or triples) of the likeliest with every single that is not plainly ruled out."""
    most = MOST_PARTNERS if still_dead_at(result.facts) is None else MOST_WHEN_DEAD
    known = {frozenset(h.defects) for h in result.hypotheses[len(singles) :]}
    pairs: dict[frozenset[Defect], Hypothesis] = {}
    for c, leaders in _leaders(result).items():
        worth = _mends(result, c, len(singles))
        kept = [singles[k] for k in np.argsort(-worth, kind="stable")[: min(most, MOST_PAIRS // len(leaders))]]
        for pair in pairs_with(leaders, kept, second):
            pairs.setdefault(frozenset(pair.defects), pair)
    return tuple(pair for defects, pair in pairs.items() if defects not in known)


def _leaders(result: Posterior) -> dict[int, list[Hypothesis]]:
    """The likeliest hypotheses to which a fault could be added, by class.

    What no reading tells apart is grown alike: were one capacitor of a rail taken for all of them, it alone would be
    believed bad once a second fault is.
    """
    weight = result.belief.log_weight
    found: dict[int, list[Hypothesis]] = {}
    top: dict[int, float] = {}
    for h in np.argsort(-weight, kind="stable").tolist():
        hypothesis, c = result.hypotheses[h], int(result.class_of[h])
        if not hypothesis.defects or len(hypothesis.defects) > 2:
            continue
        if c not in found and len(found) == GROWN_FROM:
            if weight[h] < min(top.values()) - AS_LIKELY:
                break
            continue
        alike = found.setdefault(c, [])
        if weight[h] > top.setdefault(c, float(weight[h])) - AS_LIKELY and len(alike) < MOST_ALIKE:
            alike.append(hypothesis)
    return found


def _mends(result: Posterior, leader: int, n: int) -> Array:
    """How well each of the first n hypotheses, which are the single faults, would mend what a class leaves open.

    What it leaves open are the readings it can only call strays; a partner has to predict those.
    """
    stack, class_of = result.weighed.stack, result.class_of[:n]
    open_to = np.flatnonzero(result.joint.stray[:, leader] > 0.5)
    if not open_to.size:
        return np.asarray(0.2 * result.joint.log_likelihood[class_of] + result.roster.log_prior[:n])
    variance = np.array([stack.covariance[:, k, k] + stack.noise[k] ** 2 for k in open_to])
    off = (stack.observed[open_to, None] - stack.y[open_to]) / np.sqrt(variance)
    beyond = (stack.limit[open_to, None] - stack.y[open_to]) / np.sqrt(variance)
    fit = np.where(stack.overload[open_to, None], -0.5 * np.maximum(beyond, 0.0) ** 2, -0.5 * off**2)
    return np.asarray(np.maximum(fit, -RULED_OUT).sum(axis=0)[class_of] + result.roster.log_prior[:n])
