"""Classes moved to where readings put their unknowns, one after another: `ohmwright.evidence.tangent` written out."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ohmwright.kernels.predicting import of_network, predicted, room_to_predict
from ohmwright.kernels.weighing import one, room_for

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Index = NDArray[np.intp]


@njit(cache=True, nogil=True, error_model="numpy")
def _line(lines: Any, k: int) -> Any:
    net, base_g, base_sat, wire_first, wires, wire, ends, drive, kind, figures = lines
    return (
        net[k], base_g[k], base_sat[k], wires[wire_first[k] : wire_first[k + 1]], wire, ends[k], drive[k], kind[k],
        figures[k],
    )  # fmt: skip


@njit(cache=True, nogil=True, error_model="numpy")
def asked(board: Any, lines: Any, table: Any, of: Any, at: Array, volts: Any, limits: Any) -> Any:
    """Readings of circuits with their unknowns shifted.

    Parameters
    ----------
    board : tuple
        Networks one after another, where each begins, and the sizes of the largest.
    lines, table, limits : tuple
        As for `predicting.predicted`, for all lines.
    of : tuple of ndarray
        The line asked for, electrical numbers of its circuit (n, 3), and of the severities in `at` (n, 3).
    at : ndarray, shape (n, n_own)
    volts : ndarray, shape (n, n_nodes + 1)
        First guess; overwritten. [V]

    Returns
    -------
    tuple of ndarray
        Readings (n,), slopes (n, n_own), last changes where circuits did not settle (n,).
    """
    flat, cuts, sizes = board
    which, numbers, own = of
    y, lean, worst = np.zeros(len(which)), np.zeros(at.shape), np.zeros(len(which))
    room = room_to_predict(sizes)
    for i in range(len(which)):
        line = _line(lines, which[i])
        network = of_network(flat, cuts, line[0])
        n = sizes[4][line[0]] + 1
        defects = (numbers[i], own[i])
        y[i], worst[i] = predicted(network, line, table, defects, at[i], room, volts[i, :n], lean[i], limits)
    return y, lean, worst


@njit(cache=True, nogil=True, error_model="numpy")
def bends(lean: Array, base: Array, at: Array, spreads: Array, straight: float) -> bool:
    """Whether the way from where a reading was linearised has bent it."""
    for u in range(len(at)):
        if lean[u] != 0.0:
            grown = np.expm1(min(spreads[u] * abs(at[u] - base[u]), 6.0)) / spreads[u]
            if abs(lean[u] * grown) > straight:
                return True
    return False


@njit(cache=True, nogil=True, error_model="numpy")
def _misfit(stack: Any, y: Array, lean: Array, at: Array) -> float:
    """How badly readings and unknowns together fit at given shifts. [nat]"""
    observed, overload, limit, noise, slip = stack[:5]
    total = 0.5 * np.dot(at, at)
    for k in range(len(y)):
        shown = y[k] + np.dot(lean[k], at)
        off = max(limit[k] - shown, 0.0) if overload[k] else observed[k] - shown
        total += min(0.5 * (off / max(noise[k], 1e-3)) ** 2, slip[k])
    return float(total)


@njit(cache=True, nogil=True, error_model="numpy")
def _pulled(stack: Any, y: Array, covariance: Array, odds: Any, room: Any, pull: Array) -> None:
    """Residuals times their precision, strays left out; zero for readings out of range."""
    observed, noise, numbers = stack[0], stack[3], stack[5]
    inner, residual, stray, found, search = room
    n = len(numbers)
    pull[:] = 0.0
    if n == 0:
        return
    for i in range(n):
        residual[i] = observed[numbers[i]] - y[numbers[i]]
        for j in range(n):
            inner[i, j] = covariance[numbers[i], numbers[j]]
        inner[i, i] += noise[numbers[i]] ** 2
    one(inner, residual, odds[0], odds[1], search, stray, found)
    for i in range(n):
        pull[numbers[i]] = found[i]


@njit(cache=True, nogil=True, error_model="numpy")
def _clipped(value: float, least: float, most: float) -> float:
    return min(max(value, least), most)


@njit(cache=True, nogil=True, error_model="numpy")
def _aimed(pull: Array, lean: Array, farthest: float, aim: Array) -> None:
    aim[:] = 0.0
    for k in range(len(pull)):
        if pull[k] != 0.0:
            for u in range(len(aim)):
                aim[u] += pull[k] * lean[k, u]
    for u in range(len(aim)):
        aim[u] = _clipped(aim[u], -farthest, farthest)


@njit(cache=True, nogil=True, error_model="numpy")
def _covered(lean: Array, doubt: Array, fresh: Flags, covariance: Array) -> None:
    """Bring the covariances of readings up to date with the slopes of those that are fresh."""
    for k in range(len(fresh)):
        if fresh[k]:
            row = np.dot(lean, lean[k])
            covariance[k] = row
            covariance[:, k] = row
            covariance[k, k] += doubt[k] ** 2


@njit(cache=True, nogil=True, error_model="numpy")
def _moved(board: Any, lines: Any, table: Any, own: Any, point: Any, at: Array, rooms: Any, rules: Any) -> float:
    """Linearise anew every reading of a class that the way there may have bent."""
    flat, cuts, sizes = board
    numbers, severities, spreads = own
    y, lean, base, stale, bending, fresh, volts, touched = point
    straight, limits = rules
    worst = 0.0
    for k in range(len(y)):
        fresh[k] = bending[k] and (stale[k] or bends(lean[k], base[k], at, spreads, straight))
        stale[k] = False
        if not fresh[k]:
            continue
        line = _line(lines, k)
        network = of_network(flat, cuts, line[0])
        v = volts[k, : sizes[4][line[0]] + 1]
        shown, left = predicted(network, line, table, (numbers[k], severities), at, rooms, v, lean[k], limits)
        worst = max(worst, left)
        base[k] = at
        y[k] = shown - np.dot(lean[k], at)
        touched[k] = True
    return worst


@njit(cache=True, nogil=True, error_model="numpy")
def _stepped(before: Array, at: Array, aim: Array, stride: float, worse: bool) -> None:
    """Go on towards the aim, or halfway back to where the last step came from."""
    for u in range(len(at)):
        if worse:
            at[u] = 0.5 * (before[u] + at[u])
        else:
            before[u] = at[u]
            at[u] += _clipped(aim[u] - at[u], -stride, stride)


@njit(cache=True, nogil=True, error_model="numpy")
def moved(
    board: Any, lines: Any, table: Any, stack: Any, odds: Any, classes: Any, points: Any, rules: Any, limits: Any
) -> Any:
    """Move classes until they stand still, or for so many rounds; where each fitted best is left in `points`.

    Parameters
    ----------
    board, lines, table, limits : tuple
        As for `asked`.
    stack : tuple of ndarray
        Of the readings: observed, out of range, limit, noise, and misfit at which one is a slip, (n,) each; then the
        numbers of those that are not out of range.
    odds : tuple
        How strays are looked for in the first rounds and later, as odds and rules of `weighing.one`; then the number
        of those first rounds.
    classes : tuple of ndarray
        Electrical numbers of the circuits (n_classes, n, 3) and of the severities (n_classes, 3), spreads of the
        unknowns (n_classes, n_own), doubts (n_classes, n), where classes set out from (n_classes, n_own), and which
        way they are pulled there (n_classes, n).
    points : tuple of ndarray
        Predictions, slopes and bases, which are stale and which may bend, first guesses of the voltages, and which
        circuits were solved, by class and reading: as in `points.Points`; overwritten.
    rules : tuple of float
        Bend, farthest shift, stride, shift at rest, misfit by which a step is taken back, rounds.

    Returns
    -------
    ndarray, shape (n_classes,)
        The largest last change of a circuit of each that did not settle, else zero. [V]
    """
    early, late, trusting = odds
    numbers, severities, spreads, doubts, anchors, pulls = classes
    all_y, all_lean, all_base, all_stale, all_bending, all_volts, all_touched = points
    straight, farthest, stride, rest, back, rounds = rules
    n, n_own = all_lean.shape[1], all_lean.shape[2]
    rooms, search = room_to_predict(board[2]), room_for(len(stack[5]))
    m = len(stack[5])
    inner = (np.empty((m, m)), np.empty(m), np.empty(m), np.empty(m), search)
    aim, before, at, pull = np.empty(n_own), np.empty(n_own), np.empty(n_own), np.empty(n)
    y, lean, base = np.empty(n), np.empty((n, n_own)), np.empty((n, n_own))
    fresh, covariance = np.zeros(n, dtype=np.bool_), np.zeros((n, n))
    failed = np.zeros(len(all_y))
    for c in range(len(all_y)):
        y[:], lean[:], base[:], before[:] = all_y[c], all_lean[c], all_base[c], anchors[c]
        fresh[:] = True
        _covered(lean, doubts[c], fresh, covariance)
        _aimed(pulls[c], lean, farthest, aim)
        for u in range(n_own):
            at[u] = before[u] + _clipped(aim[u] - before[u], -stride, stride)
        least, kept = np.inf, np.inf
        own = (numbers[c], severities[c], spreads[c])
        point = (y, lean, base, all_stale[c], all_bending[c], fresh, all_volts[c], all_touched[c])
        for turn in range(rounds):
            left = _moved(board, lines, table, own, point, at, rooms, (straight, limits))
            failed[c] = max(failed[c], left)
            _covered(lean, doubts[c], fresh, covariance)
            now = _misfit(stack, y, lean, at)
            _pulled(stack, y, covariance, early if turn < trusting else late, inner, pull)
            _aimed(pull, lean, farthest, aim)
            step = 0.0
            for u in range(n_own):
                step = max(step, min(abs(aim[u] - at[u]), stride))
            worse = now > least + back and turn >= trusting
            still = step < rest and not worse
            if still or now < kept:
                all_y[c], all_lean[c], all_base[c] = y, lean, base
            kept = min(kept, now)
            if still:
                break
            _stepped(before, at, aim, stride, worse)
            least = least if worse else now
    return failed
