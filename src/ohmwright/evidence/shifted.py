"""Predictions with the unknowns shifted."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ohmwright import kernels
from ohmwright.evidence.forward import MOST_DEFECTS
from ohmwright.evidence.joint import Array
from ohmwright.evidence.roster import Index
from ohmwright.evidence.shelf import Shelf
from ohmwright.evidence.shelves import Shelves
from ohmwright.evidence.shelving import LIMITS, raise_unsettled


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
    compiled = kernels.ready()
    if compiled is not None:
        return _asked(compiled, shelves, asked, shift, own)
    by_network: dict[int, list[int]] = {}
    for k, (shelf, _) in enumerate(asked):
        by_network.setdefault(id(shelf.forward), []).append(k)
    y, lean = np.zeros(len(asked)), np.zeros((len(asked), shelves.tail + MOST_DEFECTS))
    for places in by_network.values():
        y[places], lean[places] = _predict_in(shelves, [asked[k] for k in places], shift[places], own[places])
    return y, lean


def _asked(
    compiled: kernels.Compiled, shelves: Shelves, asked: Sequence[tuple[Shelf, int]], shift: Array, own: Index
) -> tuple[Array, Array]:
    """The same by compiled code."""
    laid = shelves.laid
    number: dict[int, int] = {}
    which = np.array([number.setdefault(id(shelf), len(number)) for shelf, _ in asked], dtype=np.intp)
    first = np.unique(which, return_index=True)[1]
    lines = laid.lines([asked[k][0] for k in first.tolist()])
    codes = np.array([code for _, code in asked], dtype=np.intp)
    volts = np.zeros((len(asked), laid.board[2][0] + 1))
    for k, (shelf, code) in enumerate(asked):
        near = shelf.nearby(code)
        volts[k, : len(near)] = near
    order = (which, laid.circuits(codes), np.ascontiguousarray(own))
    y, lean, worst = compiled.asked(laid.board, lines, laid.table, order, np.ascontiguousarray(shift), volts, LIMITS)
    raise_unsettled(worst)
    for k, (shelf, code) in enumerate(asked):
        shelf.latest[code] = volts[k, : shelf.volts.shape[1]].astype(np.float32)
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
    start = np.array([shelf.nearby(code) for shelf, code in asked], dtype=float).T
    predicted = forward.predict_all(groups, offsets, start)
    for (shelf, code), volts in zip(asked, predicted.volts.T.astype(np.float32), strict=True):
        shelf.latest[code] = volts
    lean = np.zeros((len(asked), tail + MOST_DEFECTS))
    lean[:, place] = (predicted.lean[:board] * forward.spread[:board, None]).T
    lean[k_, ours] += predicted.lean[theirs, k_] * log_sd
    return predicted.y, lean
