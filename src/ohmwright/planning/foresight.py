"""What each possible reading is expected to show, suspect by suspect, given all that was read before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.special import ndtr

from ohmwright import kernels
from ohmwright.diagnosis import Posterior
from ohmwright.diagnosis.belief import Array, Belief
from ohmwright.evidence import MOST_DEFECTS, Line, Roster, Shelf, predict_at
from ohmwright.facts import Reading
from ohmwright.faults import Defect, DefectKind, Hypothesis
from ohmwright.kernels.side_by_side import in_parts

MASS = 0.998
MOST_HYPOTHESES = 700
MOST_CELLS = 120
N_BINS = 26
LEAST_SD = 0.02
LEAST_LEAN = 1e-4
"""A lean below this on the scale of comparison tells nothing. [1]"""
WORTH_EXACT = 1e-4
"""Belief in a circuit below which leaning is exact enough. [1]"""
FARTHEST = 3.5
"""Shifts are held within so many spreads. [1]"""
STRAIGHT = 0.05
"""A lean below this on the scale of comparison is taken as straight. [1]"""


@dataclass(frozen=True, eq=False)
class Foresight:
    """The likeliest hypotheses gathered into suspects, with what is known of their circuits.

    Parameters
    ----------
    roster : Roster
        The hypotheses looked at.
    weight : ndarray, shape (n,)
        Their probabilities made to sum to one.
    cell_of : ndarray of int, shape (n,)
        Suspect of each.
    belief : Belief
        Over the suspects.
    leaders : ndarray of int, shape (n_cells,)
        The likeliest hypothesis of each suspect.
    class_of : ndarray of int, shape (n,)
        Class of each hypothesis in the posterior.
    """

    posterior: Posterior
    roster: Roster
    weight: Array
    cell_of: NDArray[np.intp]
    belief: Belief
    leaders: NDArray[np.intp]
    class_of: NDArray[np.intp]
    _past: _Past

    @property
    def examples(self) -> tuple[Hypothesis, ...]:
        """The likeliest hypothesis of each suspect."""
        return tuple(self.roster.hypotheses[h] for h in self.leaders.tolist())


@dataclass(frozen=True, eq=False)
class _Past:
    """What the readings so far say of the unknowns of each class in view.

    Parameters
    ----------
    of : ndarray of int, shape (n_hypotheses,)
        Class of each hypothesis in view.
    column : ndarray of int, shape (n_all,)
        Where an unknown is in `shift` and `lean`; -1 where no reading leans on it.
    shift : ndarray, shape (n_classes, n_leaned + 1)
        Posterior mean of the unknowns, each in units of its spread; the last is zero, for those that none leans on.
    lean : ndarray, shape (n_classes, n_readings, n_leaned)
        Sensitivities times the spreads.
    precision : ndarray, shape (n_classes, n_readings, n_readings)
    """

    of: NDArray[np.intp]
    column: NDArray[np.intp]
    shift: NDArray[np.float32]
    lean: NDArray[np.float32]
    precision: Array


@dataclass(frozen=True, eq=False)
class Expected:
    """What a reading may show.

    Parameters
    ----------
    outcomes : ndarray, shape (n_cells, n_bins)
        Probability of each bin for each suspect; the last bin is OL.
    edges : ndarray, shape (n_bins,)
        Edges of the bins that are not OL, on the scale of comparison.
    mean, sd, overload : ndarray, shape (n_cells,)
        Summary for each suspect.
    """

    line: Line
    outcomes: Array
    edges: Array
    mean: Array
    sd: Array
    overload: Array


def suspicion(hypothesis: Hypothesis) -> str:
    """What tells suspects apart for planning: part, pins and nature, whatever the severity."""
    return " + ".join(sorted(_suspicion(d) for d in hypothesis.faults)) or "none"


def _suspicion(d: Defect) -> str:
    nature = "path" if d.kind is DefectKind.PATH else d.kind.value
    return f"{d.part or 'unmapped'}:{nature}:{'/'.join(d.where)}{d.cure}"


def foresee(posterior: Posterior) -> Foresight:
    """Gather the likeliest hypotheses."""
    p = posterior.probabilities
    order = np.argsort(-p, kind="stable")
    enough = int(np.searchsorted(np.cumsum(p[order]), MASS)) + 1
    chosen = order[: min(enough, MOST_HYPOTHESES)]
    if 0 not in chosen:
        chosen = np.append(chosen, 0)
    names: dict[str, int] = {}
    leaders: list[int] = []
    cell_of = np.empty(len(chosen), dtype=np.intp)
    for k, h in enumerate(chosen.tolist()):
        name = suspicion(posterior.hypotheses[h])
        if name not in names:
            names[name] = len(names)
            leaders.append(k)
        cell_of[k] = names[name]
    weight = p[chosen] / p[chosen].sum()
    totals = np.bincount(cell_of, weight, len(names))
    belief = Belief.of(tuple(names), totals.tolist())
    roster = posterior.roster.subset(chosen)
    class_of = posterior.class_of[chosen]
    return Foresight(posterior, roster, weight, cell_of, belief, np.array(leaders), class_of, _past(posterior, chosen))


def _past(posterior: Posterior, chosen: NDArray[np.intp]) -> _Past:
    weighed, tail = posterior.weighed, posterior.electrical.tail
    classes, of = np.unique(posterior.class_of[chosen], return_inverse=True)
    stack = weighed.stack.of_columns(classes)
    usable = np.flatnonzero(~stack.overload)
    covariance = np.array(stack.covariance[:, usable[:, None], usable[None, :]])
    diagonal = np.arange(len(usable))
    covariance[:, diagonal, diagonal] += stack.noise[usable] ** 2
    leans = weighed.leans_of(classes.tolist())[:, usable]
    defects = [weighed.own(c) for c in classes.tolist()]
    board = np.flatnonzero((leans[:, :, :tail] != 0.0).any(axis=(0, 1)))
    several = np.unique([number for own in defects for number in own]).astype(np.intp)
    column = np.full(posterior.electrical.n_all, -1, dtype=np.intp)
    column[np.concatenate((board, tail + several))] = np.arange(len(board) + len(several))
    lean = np.zeros((len(classes), len(usable), len(board) + len(several)), dtype=np.float32)
    for j, (own, numbers) in enumerate(zip(leans, defects, strict=True)):
        lean[j, :, : len(board)] = own[:, board]
        lean[j][:, column[tail + np.array(numbers, dtype=np.intp)]] = own[:, tail : tail + len(numbers)]
    pull = weighed.joint.pull[classes][:, usable].astype(np.float32)
    shift = np.pad(np.matmul(pull[:, None, :], lean)[:, 0], ((0, 0), (0, 1)))
    precision = np.asarray(np.linalg.inv(covariance)) if len(usable) else covariance
    return _Past(of.ravel(), column, shift, lean, precision)


@dataclass(frozen=True, eq=False)
class _Asked:
    """A reading asked of every class in view: what it would show, and how that leans."""

    line: Line
    shelf: Shelf
    old: NDArray[np.intp]
    row: NDArray[np.intp]
    of: NDArray[np.intp]
    mean: Array
    lean: NDArray[np.float32]
    support: NDArray[np.intp]


def expect_all(view: Foresight, readings: Sequence[Reading]) -> list[Expected]:
    """What readings would show under each suspect, leaning from where the sensitivities are known."""
    return [_expected(view, asked) for asked in _ask(view, readings)]


def expect_exactly(view: Foresight, readings: Sequence[Reading]) -> list[Expected]:
    """The same, solved again at the strengths the past readings ask for wherever much belief lies."""
    asked = _ask(view, readings)
    electrical, past = view.posterior.electrical, view._past
    tail, circuits = electrical.tail, electrical.register.circuits
    wanted: list[tuple[Shelf, int]] = []
    places: list[tuple[int, int]] = []
    for k, ask in enumerate(asked):
        mass = np.bincount(ask.of, view.weight, len(ask.old))
        shift = _shift_on(past, ask.support)[ask.old].clip(-FARTHEST, FARTHEST)
        moved = np.abs(shift * ask.lean).max(axis=1, initial=0.0)
        for j in np.flatnonzero((mass > WORTH_EXACT) & (moved > STRAIGHT)).tolist():
            wanted.append((ask.shelf, ask.shelf.code_at[int(ask.row[j])]))
            places.append((k, j))
    if not wanted:
        return [_expected(view, ask) for ask in asked]
    own = np.full((len(wanted), MOST_DEFECTS), -1, dtype=np.intp)
    for row, (_, code) in enumerate(wanted):
        numbers = circuits[code][:MOST_DEFECTS]
        own[row, : len(numbers)] = numbers
    old = np.array([asked[k].old[j] for k, j in places])
    board = _shift_on(past, np.arange(tail))[old]
    severities = past.shift[old[:, None], np.where(own < 0, -1, past.column[tail + own])]
    shift = np.clip(np.concatenate((board, severities), axis=1).astype(float), -FARTHEST, FARTHEST)
    y, lean = predict_at(electrical, wanted, shift, own)
    for row, (k, j) in enumerate(places):
        ask = asked[k]
        ask.mean[j] = y[row]
        at_board = int(np.searchsorted(ask.support, tail))
        ask.lean[j, :at_board] = lean[row, ask.support[:at_board]]
        for slot, number in enumerate(own[row].tolist()):
            where = np.flatnonzero(ask.support == tail + number) if number >= 0 else ()
            ask.lean[j, where] = lean[row, tail + slot]
    return [_expected(view, ask) for ask in asked]


def _shift_on(past: _Past, unknowns: NDArray[np.intp]) -> NDArray[np.float32]:
    """Posterior mean of some unknowns in every class, shape (n_classes, n_unknowns)."""
    return np.asarray(past.shift[:, past.column[unknowns]])


def _ask(view: Foresight, readings: Sequence[Reading]) -> list[_Asked]:
    electrical, past = view.posterior.electrical, view._past
    lines = electrical.lines_asked(readings, view.posterior.taken)
    shelves = [electrical.shelf(line, view.posterior.taken) for line in lines]
    codes = electrical.codes(lines, shelves, view.roster)
    electrical.fill(list(zip(shelves, codes, strict=True)))
    out = []
    for line, shelf, code in zip(lines, shelves, codes, strict=True):
        combos, of = np.unique(past.of << 32 | shelf.rows(code), return_inverse=True)
        old, row = combos >> 32, combos & 0xFFFFFFFF
        lean = shelf.lean[row]
        support = shelf.support[shelf.support < len(past.column)]
        lean = lean[:, : len(support)]
        mean = shelf.y[row] + np.einsum("ku,ku->k", lean, _shift_on(past, support)[old], dtype=float)
        out.append(_Asked(line, shelf, old, row, of.ravel(), mean, lean, support))
    return out


def _expected(view: Foresight, asked: _Asked) -> Expected:
    past = view._past
    variance = np.einsum("ku,ku->k", asked.lean, asked.lean, dtype=float)
    if past.precision.shape[1]:
        variance = variance - _told(past, asked)
    sd = np.sqrt(np.maximum(variance, 0.0) + _noise(asked.line, asked.mean) ** 2 + asked.shelf.doubt[asked.row] ** 2)
    return _gathered(view, asked, np.maximum(sd, LEAST_SD * 0.2))


def _told(past: _Past, asked: _Asked) -> Array:
    """How much of the variance of what is asked earlier readings have taken away, shape (n_asked,)."""
    column = past.column[asked.support]
    compiled = kernels.ready()
    if compiled is not None:
        lean, out = np.ascontiguousarray(asked.lean), np.empty(len(asked.old))

        def work(part: slice) -> None:
            out[part] = compiled.told(past.lean, past.precision, asked.old[part], lean[part], column, LEAST_LEAN)

        in_parts(len(out), work)
        return out
    shared = np.flatnonzero(column >= 0)
    seen = past.lean[:, :, column[shared]][asked.old]
    q = np.matmul(seen, asked.lean[:, shared, None])[:, :, 0].astype(float)
    return np.asarray(np.einsum("kn,knm,km->k", q, past.precision[asked.old], q))


def _noise(line: Line, mean: Array) -> Array:
    low, high = float(mean.min()), float(mean.max())
    grid = np.linspace(low, high + 1e-9, 9)
    values = np.abs(line.probe.unscaled(np.minimum(grid, 30.0)))
    return np.asarray(np.interp(mean, grid, [line.probe.noise(float(v)) for v in values]))


def _gathered(view: Foresight, asked: _Asked, sd: Array) -> Expected:
    line, mean = asked.line, asked.mean
    limit = line.probe.overload if np.isfinite(line.probe.overload) else 60.0
    low = float(np.min(mean - 2.5 * sd))
    high = min(float(np.max(mean + 2.5 * sd)), limit)
    edges = np.linspace(min(low, high - 1e-3), high, N_BINS)
    below = ndtr((edges[None, :] - mean[:, None]) / sd[:, None])
    over = 1.0 - ndtr((limit - mean) / sd)
    inside = np.diff(below, axis=1)
    inside[:, 0] += below[:, 0]
    inside[:, -1] += np.maximum(1.0 - over - below[:, -1], 0.0)
    table = np.concatenate((inside, over[:, None]), axis=1)
    stray = view.posterior.electrical.stray(line)
    table = (1.0 - stray) * table / table.sum(axis=1, keepdims=True) + stray / table.shape[1]
    share = view.weight / np.maximum(np.bincount(view.cell_of, view.weight), 1e-300)[view.cell_of]
    shape = (len(view.belief.cells), len(mean))
    weight = sparse.csr_matrix((share, (view.cell_of, asked.of)), shape=shape)
    outcomes = np.asarray(weight @ table)
    outcomes[outcomes.sum(axis=1) <= 0.0] = 1.0
    outcomes /= outcomes.sum(axis=1, keepdims=True)
    cell_mean = weight @ mean
    spread = np.sqrt(np.maximum(weight @ (sd**2 + mean**2) - cell_mean**2, 0.0))
    return Expected(line, outcomes, edges, cell_mean, spread, weight @ over)


def by_cell(view: Foresight, outcome_of: Sequence[Sequence[float]] | Array) -> Array:
    """A table of outcome probabilities given one row per suspect."""
    table = np.array(outcome_of, dtype=float)
    return np.asarray(table / table.sum(axis=1, keepdims=True))
