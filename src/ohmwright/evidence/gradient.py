"""What millivolts along copper say of each hypothesis: does the current leave where this fault takes it?

The solved circuit says through which parts the current leaves the copper under each hypothesis; the copper
says which millivolts that would make at the points that were read. Where a part is not on the map, or the
fault is in something that is not, the current may leave anywhere.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from scipy import sparse

from ohmwright.circuit import Board, Place
from ohmwright.evidence.electrical import Electrical
from ohmwright.evidence.heating import fed_volts
from ohmwright.evidence.joint import Array
from ohmwright.evidence.roster import Index, Roster
from ohmwright.evidence.shelf import Shelf
from ohmwright.facts import Gradient
from ohmwright.faults import DefectKind
from ohmwright.fields.likelihood import fitted
from ohmwright.fields.pointing import Pointing, pointing_of

WRONG = 0.03
"""Prior that the copper is not as drawn, or a point not where it is said to be; then the readings tell nothing. [1]
estimate"""
LEAST_SHARE = 0.02
"""Parts that take less of the current than this are left out. [1]"""
MOST_FITTED = 1500
"""Distinct ways in which the current may leave that are worked out. [1]"""


def gradient_log_likelihood(electrical: Electrical, gradients: Sequence[Gradient], roster: Roster) -> Array:
    """Natural logarithm of how much better each hypothesis explains the millivolts than a sink just anywhere.

    Shape (n_hypotheses,). Of readings taken again at the same rail the latest count: their errors are shared.
    """
    total = np.zeros(len(roster.hypotheses))
    latest = {one.net: one for one in gradients if len(one.points) >= 2 and one.state.feed is not None}
    for gradient in latest.values():
        total += _one(electrical, gradient, roster)
    return total


@lru_cache(maxsize=16)
def _pointing(gradient: Gradient) -> Pointing:
    return pointing_of(gradient)


@lru_cache(maxsize=64)
def pointed_at(board: Board, gradient: Gradient) -> tuple[str, ...]:
    """Parts of the net that lie where the readings point, to 95 %."""
    if len(gradient.points) < 2:
        return ()
    names, at = sinks_of(board, gradient)
    if not names:
        return ()
    pointing = _pointing(gradient)
    ratio = pointing.log_ratio(at.reshape(-1, 2)).reshape(len(names), -1)
    best = ratio.max(axis=1)
    least = max(float(best.max()) - 3.0, 0.0)
    return tuple(name for name, worth in zip(names, best.tolist(), strict=True) if worth > least)


def sinks_of(board: Board, gradient: Gradient) -> tuple[tuple[str, ...], Array]:
    """Parts of the net whose place is known, and five spots of each where the current may leave.

    Returns
    -------
    names : tuple of str
    at : ndarray, shape (n_parts, 5, 2)
        The pad, five times, where it was known; else the middle of the body and half way to its corners. [mm]
    """
    pads: dict[str, list[tuple[float, float]]] = {}
    for pad, x, y in gradient.pads:
        pads.setdefault(pad.rpartition(".")[0], []).append((x, y))
    names, spots = [], []
    for part in board.parts:
        if gradient.net not in part.nets:
            continue
        if part.name in pads:
            own = pads[part.name]
            names.append(part.name)
            spots.append([own[n % len(own)] for n in range(5)])
        elif part.place is not None:
            names.append(part.name)
            spots.append(_body_spots(part.place))
    return tuple(names), np.array(spots).reshape(len(names), 5, 2)


def _body_spots(place: Place) -> list[tuple[float, float]]:
    x, y, width, height = place.x_mm, place.y_mm, place.width_mm, place.height_mm
    c, s = math.cos(math.radians(place.angle_deg)), math.sin(math.radians(place.angle_deg))
    corners = [(0.0, 0.0), (-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)]
    return [(x + (c * u * width + s * v * height) / 4, y + (c * v * height - s * u * width) / 4) for u, v in corners]


def _one(electrical: Electrical, gradient: Gradient, roster: Roster) -> Array:
    names, at = sinks_of(electrical.board, gradient)
    share = _shares(electrical, gradient, roster, names)
    placed = share[:, :-1].sum(axis=1)
    rounded = np.round(share / np.maximum(share.sum(axis=1, keepdims=True), 1e-12), 2)
    ways, way = np.unique(rounded, axis=0, return_inverse=True)
    way = way.ravel()
    out = np.zeros(len(ways))
    count = np.bincount(way, minlength=len(ways))
    known = np.flatnonzero(ways[:, :-1].sum(axis=1) > 0.5)
    known = known[np.argsort(-count[known], kind="stable")][:MOST_FITTED]
    if known.size:
        out[known] = _ratio(gradient, ways[known, :-1], at)
    # With nothing that leaves the copper there is no current in it: the supply said otherwise.
    ratio = np.where(placed + share[:, -1] > 0.0, out[way], 0.0)
    return np.asarray(np.logaddexp(math.log1p(-WRONG) + ratio, math.log(WRONG)))


def _ratio(gradient: Gradient, ways: Array, at: Array) -> Array:
    """How much better sinks in those shares, shape (n, n_parts), explain the readings than one just anywhere. [nat]"""
    pointing = _pointing(gradient)
    bench = pointing.bench
    spots = bench.layout.nearest(at.reshape(-1, 2))
    k, spread = bench.squares(spots)
    parts = (len(k), len(at), at.shape[1])
    k, spread = k.reshape(parts), spread.reshape(parts)
    each, wander = k.mean(axis=2), spread.mean(axis=2) + k.var(axis=2)
    share = ways / ways.sum(axis=1, keepdims=True)
    sign = math.copysign(1.0, gradient.current)
    fit = fitted(sign * (each @ share.T), wander @ (share**2).T, bench.volts, gradient)
    # Readings that do not fit the copper as drawn are worth as much less as they fit worse.
    return np.asarray((fit.log_likelihood - pointing.log_evidence) / pointing.strain)


def _shares(electrical: Electrical, gradient: Gradient, roster: Roster, names: tuple[str, ...]) -> Array:
    """Share of the current that leaves through each part, last through what has no place, shape (n, n_parts + 1)."""
    shelf, codes, circuit, volts = fed_volts(electrical, gradient.state, roster)
    node = electrical.forward.network.node_of
    if gradient.net not in node:
        return np.concatenate((np.zeros((len(circuit), len(names))), np.ones((len(circuit), 1))), axis=1)
    out = _through_parts(electrical, shelf, codes, volts, gradient, names)[circuit]
    column = {name: n for n, name in enumerate(names)}
    still = roster.still_there(gradient.state)
    own, sign = node[gradient.net], math.copysign(1.0, gradient.current)
    for d, defect in enumerate(roster.defects):
        if not (still[d] and defect.kind is DefectKind.PATH and defect.severity is not None):
            continue
        ends = [node.get(net) for net in defect.nets[:2]]
        if own not in ends or None in ends:
            continue
        has = np.flatnonzero((roster.slots == d).any(axis=1))
        other = ends[1] if ends[0] == own else ends[0]
        amps = sign * (volts[circuit[has], own] - volts[circuit[has], other]) / max(defect.severity.median, 1e-6)
        out[has, column.get(defect.part, len(names))] += np.maximum(amps, 0.0)
    total = out.sum(axis=1, keepdims=True)
    share = out / np.maximum(total, 1e-12)
    return np.asarray(np.where(share >= LEAST_SHARE, share, 0.0))


def _through_parts(
    electrical: Electrical, shelf: Shelf, codes: Index, volts: Array, gradient: Gradient, names: tuple[str, ...]
) -> Array:
    """Current that leaves the copper through the sound way of each part, shape (n_circuits, n_parts + 1). [A]"""
    forward = electrical.forward
    own, sign = forward.network.node_of[gradient.net], math.copysign(1.0, gradient.current)
    conductance, saturation = forward.strengths_of([shelf.column(electrical.register, int(c)) for c in codes])
    s = forward.strengths
    over_r, over_j = (volts[:, s.r_a] - volts[:, s.r_b]).T, (volts[:, s.j_a] - volts[:, s.j_b]).T
    amps = np.concatenate((conductance * over_r, saturation * np.expm1(np.minimum(over_j / s.n_vt[:, None], 100.0))))
    first = np.concatenate((s.r_a, s.j_a)) == own
    second = np.concatenate((s.r_b, s.j_b)) == own
    leaves = sign * amps * (first.astype(float) - second.astype(float))[:, None]
    column = {name: n for n, name in enumerate(names)}
    elements = [forward.wiring.elements[e] for e in (*forward.r_index.tolist(), *forward.j_index.tolist())]
    at = np.array([column.get(e.part, len(names)) if e.part else -1 for e in elements])
    use = (first ^ second) & (at >= 0)
    gather = sparse.csr_matrix(
        (np.ones(int(use.sum())), (at[use], np.flatnonzero(use))), shape=(len(names) + 1, len(elements))
    )
    return np.asarray(np.maximum(np.asarray((gather @ leaves).T), 0.0))
