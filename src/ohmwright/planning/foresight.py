"""What each possible reading is expected to show, suspect by suspect, given all that was read before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from ohmwright.diagnosis import Posterior
from ohmwright.diagnosis.belief import Array, Belief
from ohmwright.evidence import Line
from ohmwright.facts import Reading
from ohmwright.faults import DefectKind, Hypothesis

MASS = 0.998
MOST_HYPOTHESES = 700
MOST_CELLS = 120
N_BINS = 26
LEAST_SD = 0.02


@dataclass(frozen=True, eq=False)
class Foresight:
    """The likeliest hypotheses gathered into suspects, with what is known of their circuits.

    Parameters
    ----------
    hypotheses : ndarray of int, shape (n,)
        Indices of the hypotheses looked at.
    weight : ndarray, shape (n,)
        Their probabilities made to sum to one.
    cell_of : ndarray of int, shape (n,)
        Suspect of each.
    belief : Belief
        Over the suspects.
    examples : tuple of Hypothesis
        The likeliest hypothesis of each suspect.
    """

    posterior: Posterior
    hypotheses: NDArray[np.intp]
    weight: Array
    cell_of: NDArray[np.intp]
    belief: Belief
    examples: tuple[Hypothesis, ...]
    _past: _Past


@dataclass(frozen=True, eq=False)
class _Past:
    """For each old class: scaled sensitivities of the past readings, and their precision."""

    at: dict[int, int]
    lean: Array
    precision: Array
    shift: Array
    spread: Array


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
    names = []
    for d in hypothesis.defects:
        nature = "path" if d.kind is DefectKind.PATH else d.kind.value
        names.append(f"{d.part or 'unmapped'}:{nature}:{'/'.join(d.where)}{':joint' if d.joint else ''}")
    return " + ".join(sorted(names)) or "none"


def foresee(posterior: Posterior) -> Foresight:
    """Gather the likeliest hypotheses."""
    p = posterior.probabilities
    order = np.argsort(-p, kind="stable")
    enough = int(np.searchsorted(np.cumsum(p[order]), MASS)) + 1
    chosen = order[: min(enough, MOST_HYPOTHESES)]
    if 0 not in chosen:
        chosen = np.append(chosen, 0)
    names: dict[str, int] = {}
    examples: list[Hypothesis] = []
    cell_of = np.empty(len(chosen), dtype=int)
    for k, h in enumerate(chosen.tolist()):
        name = suspicion(posterior.hypotheses[h])
        if name not in names:
            names[name] = len(names)
            examples.append(posterior.hypotheses[h])
        cell_of[k] = names[name]
    weight = p[chosen] / p[chosen].sum()
    totals = np.bincount(cell_of, weight, len(names))
    belief = Belief.of(tuple(names), totals.tolist())
    return Foresight(posterior, chosen, weight, cell_of, belief, tuple(examples), _past(posterior, chosen))


def _past(posterior: Posterior, chosen) -> _Past:  # type: ignore[no-untyped-def]  # index vector
    classes = sorted({int(c) for c in posterior.class_of[chosen]})
    at = {c: k for k, c in enumerate(classes)}
    n_unknowns = posterior.electrical.forward.n_unknowns
    if not posterior.lines:
        empty = np.zeros((len(classes), 0, n_unknowns))
        spread = np.repeat(posterior.electrical.forward.spread[:, None], len(classes), axis=1)
        return _Past(at, empty, np.zeros((len(classes), 0, 0)), np.zeros((n_unknowns, len(classes))), spread)
    stack = posterior.electrical.stack(posterior.lines, [posterior.columns[c] for c in classes])
    usable = np.flatnonzero(~stack.overload)
    lean = np.moveaxis(stack.lean[usable] * stack.spread[None], 2, 0)
    inner = lean @ np.swapaxes(lean, 1, 2)
    diagonal = np.arange(len(usable))
    inner[:, diagonal, diagonal] += stack.noise[usable] ** 2
    return _Past(
        at, lean, np.asarray(np.linalg.inv(inner), dtype=float), posterior.joint.shift[:, classes], stack.spread
    )


def expect(view: Foresight, reading: Reading, exact: bool = False) -> Expected:
    """What a reading would show under each suspect.

    Parameters
    ----------
    exact : bool
        Solve again at the strengths the past readings ask for, instead of leaning from nominal.
    """
    posterior = view.posterior
    electrical = posterior.electrical
    line = electrical.line(reading)
    chosen = [posterior.hypotheses[h] for h in view.hypotheses.tolist()]
    new_class, columns = electrical.classes([line], chosen, posterior.taken)
    old = np.array([view._past.at[int(c)] for c in posterior.class_of[view.hypotheses]])
    combos, of = np.unique(np.stack((old, new_class)), axis=1, return_inverse=True)
    of = of.ravel()
    asked = [columns[c][0] for c in combos[1]]
    shift = view._past.shift[:, combos[0]]
    if exact and posterior.lines:
        limit = 3.5 * np.maximum(view._past.spread[:, combos[0]], 1e-12)
        predicted = line.forward.predict(line.probe, asked, np.clip(shift, -limit, limit)[line.place])
        mean, lean = predicted.y, predicted.lean
    else:
        y, lean = line.forward.at_nominal(line.probe, asked)
        mean = y + (lean * shift[line.place]).sum(axis=0)
    fault_spread = line.forward.spreads(asked)
    spread = np.maximum(view._past.spread[:, combos[0]][line.place], fault_spread)
    scaled = lean * spread
    full = np.zeros((view._past.spread.shape[0], len(asked)))
    full[line.place] = scaled
    variance = (scaled**2).sum(axis=0)
    if view._past.precision.shape[1]:
        q = np.einsum("gnu,ug->gn", view._past.lean[combos[0]], full)
        variance = variance - np.einsum("gn,gnm,gm->g", q, view._past.precision[combos[0]], q)
    sd = np.sqrt(np.maximum(variance, 0.0) + _noise(line, mean) ** 2)
    return _gathered(view, line, of, mean, np.maximum(sd, LEAST_SD * 0.2))


def _noise(line: Line, mean: Array) -> Array:
    low, high = float(mean.min()), float(mean.max())
    grid = np.linspace(low, high + 1e-9, 9)
    values = np.abs(line.probe.unscaled(np.minimum(grid, 30.0)))
    return np.asarray(np.interp(mean, grid, [line.probe.noise(float(v)) for v in values]))


def _gathered(view: Foresight, line: Line, of, mean: Array, sd: Array) -> Expected:  # type: ignore[no-untyped-def]  # index vector
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
    n_cells = len(view.belief.cells)
    share = view.weight / np.maximum(np.bincount(view.cell_of, view.weight, n_cells), 1e-300)[view.cell_of]
    outcomes = np.zeros((n_cells, table.shape[1]))
    np.add.at(outcomes, view.cell_of, share[:, None] * table[of])
    outcomes[outcomes.sum(axis=1) <= 0.0] = 1.0
    outcomes /= outcomes.sum(axis=1, keepdims=True)
    cell_mean = np.asarray(np.bincount(view.cell_of, share * mean[of], n_cells), dtype=float)
    second = np.bincount(view.cell_of, share * (sd[of] ** 2 + mean[of] ** 2), n_cells)
    overload = np.asarray(np.bincount(view.cell_of, share * over[of], n_cells), dtype=float)
    return Expected(line, outcomes, edges, cell_mean, np.sqrt(np.maximum(second - cell_mean**2, 0.0)), overload)


def by_cell(view: Foresight, outcome_of: Sequence[Sequence[float]]) -> Array:
    """A table of outcome probabilities given one row per suspect."""
    table = np.array(outcome_of, dtype=float)
    return np.asarray(table / table.sum(axis=1, keepdims=True))
