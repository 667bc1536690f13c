"""Classes moved to where readings put their unknowns, one after another: `ohmwright.evidence.tangent` written out."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ohmwright.kernels.predicting import grown, of_network, predicted, room_to_predict
from ohmwright.kernels.weighing import far, inverted, one, room_for

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Index = NDArray[np.intp]


@njit(cache=True, nogil=True, error_model="numpy")
def line_of(lines: Any, k: int) -> Any:
    """One reading of several, as `predicting.predicted` wants it."""
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
        Networks one after another, where each begins, the sizes of the largest, and how steep strengths go with the
        unknowns of the board.
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
    flat, cuts, sizes, steep = board
    which, numbers, own = of
    y, lean, worst = np.zeros(len(which)), np.zeros(at.shape), np.zeros(len(which))
    room, factor = room_to_predict(sizes), np.zeros(len(steep))
    for i in range(len(which)):
        grown(at[i], steep, factor)
        line = line_of(lines, which[i])
        network = of_network(flat, cuts, line[0])
        n = sizes[4][line[0]] + 1
        defects = (numbers[i], own[i])
        y[i], worst[i], _ = predicted(
            network, line, table, defects, at[i], factor, room, volts[i, :n], lean[i], limits
        )  # fmt: skip
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
def _misfit(stack: Any, y: Array, lean: Array, at: Array, most: float) -> Any:
    """How badly readings and unknowns together fit at given shifts. [nat]

    Once as readings are that may be slips, and once as they are that pull by no more than so many deviations.
    """
    observed, overload, limit, noise, slip = stack[:5]
    total = held = 0.5 * np.dot(at, at)
    for k in range(len(y)):
        shown = y[k] + np.dot(lean[k], at)
        off = max(limit[k] - shown, 0.0) if overload[k] else observed[k] - shown
        off = abs(off) / max(noise[k], 1e-3)
        total += min(0.5 * off**2, slip[k])
        if not overload[k]:
            held += 0.5 * off**2 if off < most else most * (off - 0.5 * most)
    return total, held


@njit(cache=True, nogil=True, error_model="numpy")
def _residuals(stack: Any, y: Array, covariance: Array, room: Any) -> int:
    """Residuals of the readings that are not out of range, and the covariance they have."""
    observed, noise, numbers = stack[0], stack[3], stack[5]
    inner, residual = room[0], room[1]
    n = len(numbers)
    for i in range(n):
        residual[i] = observed[numbers[i]] - y[numbers[i]]
        for j in range(n):
            inner[i, j] = covariance[numbers[i], numbers[j]]
        inner[i, i] += noise[numbers[i]] ** 2
    return n


@njit(cache=True, nogil=True, error_model="numpy")
def _pulled(stack: Any, y: Array, covariance: Array, odds: Any, room: Any, pull: Array) -> None:
    """Residuals times their precision, strays left out; zero for readings out of range."""
    inner, residual, stray, found, search, nothing = room
    pull[:] = 0.0
    n = _residuals(stack, y, covariance, room)
    if n == 0:
        return
    one(inner, residual, odds[0], odds[1], nothing, search, stray, found)
    for i in range(n):
        pull[stack[5][i]] = found[i]


@njit(cache=True, nogil=True, error_model="numpy")
def _held(stack: Any, y: Array, lean: Array, at: Array, covariance: Array, most: float, room: Any, pull: Array) -> None:
    """Residuals times their precision where no reading pulls by more than so many of its deviations [1]_.

    References
    ----------
    .. [1] P. J. Huber, "Robust estimation of a location parameter," Ann. Math. Statist., vol. 35, no. 1, 1964.
    """
    inner, residual, search = room[0], room[1], room[4]
    noise, numbers = stack[3], stack[5]
    n = _residuals(stack, y, covariance, room)
    for i in range(n):
        k = numbers[i]
        off = abs(residual[i] - np.dot(lean[k], at)) / noise[k]
        if off > most:
            inner[i, i] += noise[k] ** 2 * (off / most - 1.0)
    pull[:] = 0.0
    if n:
        inverted(inner, search[3])
    for i in range(n):
        for j in range(n):
            pull[numbers[i]] += inner[i, j] * residual[j]


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
    which = np.flatnonzero(fresh)
    if len(which) == 0:
        return
    rows = np.dot(lean[which], lean.T)
    for i in range(len(which)):
        k = which[i]
        covariance[k] = rows[i]
        covariance[:, k] = rows[i]
        covariance[k, k] += doubt[k] ** 2


@njit(cache=True, nogil=True, error_model="numpy")
def _moved(board: Any, lines: Any, table: Any, own: Any, point: Any, at: Array, rooms: Any, rules: Any) -> float:
    """Linearise anew every reading of a class that the way there may have bent."""
    flat, cuts, sizes, steep = board
    numbers, severities, spreads = own
    y, lean, base, stale, bending, fresh, volts, touched = point
    straight, limits = rules
    room, factor = rooms
    worst = 0.0
    grown(at, steep, factor)
    for k in range(len(y)):
        fresh[k] = bending[k] and (stale[k] or bends(lean[k], base[k], at, spreads, straight))
        stale[k] = False
        if not fresh[k]:
            continue
        line = line_of(lines, k)
        network = of_network(flat, cuts, line[0])
        v = volts[k, : sizes[4][line[0]] + 1]
        shown, left, _ = predicted(
            network, line, table, (numbers[k], severities), at, factor, room, v, lean[k], limits
        )  # fmt: skip
        worst = max(worst, left)
        base[k] = at
        y[k] = shown - np.dot(lean[k], at)
        touched[k] = True
    return worst


@njit(cache=True, nogil=True, error_model="numpy")
def _towards(at: Array, aim: Array, step: Array, reach: Array, stride: float) -> float:
    """The next step, shorter along unknowns that turn back; how long it is along the farthest."""
    longest = 0.0
    for u in range(len(at)):
        way = aim[u] - at[u]
        turned = way * step[u] < 0.0
        reach[u] = min(reach[u], 0.5 * abs(step[u])) if turned else min(stride, 1.5 * reach[u])
        step[u] = _clipped(way, -reach[u], reach[u])
        longest = max(longest, abs(step[u]))
    return longest


@njit(cache=True, nogil=True, error_model="numpy")
def _room(board: Any, stack: Any, n: int, n_own: int) -> Any:
    """Where classes of so many readings and unknowns are worked on."""
    m = len(stack[5])
    inner = (np.empty((m, m)), np.empty(m), np.empty(m), np.empty(m), room_for(m), far())
    ways = (np.empty(n_own), np.empty(n_own), np.empty(n_own), np.empty(n_own), np.empty(n))
    place = (np.empty(n), np.empty((n, n_own)), np.empty((n, n_own)), np.zeros(n, dtype=np.bool_), np.zeros((n, n)))
    return (room_to_predict(board[2]), np.empty(len(board[3]))), inner, ways, place


@njit(cache=True, nogil=True, error_model="numpy")
def _aim(stack: Any, place: Any, at: Array, odds: Any, holding: bool, room: Any, farthest: float) -> None:
    """Where the readings pull the unknowns, all of them held or with strays left out; into the aim of the room."""
    y, lean, _, _, covariance = place
    inner, (aim, _, _, _, pull) = room[1], room[2]
    if holding:
        _held(stack, y, lean, at, covariance, odds[1], inner, pull)
    else:
        _pulled(stack, y, covariance, odds[0], inner, pull)
    _aimed(pull, lean, farthest, aim)


@njit(cache=True, nogil=True, error_model="numpy")
def _walked(
    board: Any, lines: Any, table: Any, stack: Any, odds: Any, own: Any, point: Any, room: Any, rules: Any, limits: Any
) -> float:
    """Move one class from where it stands in the room; where it fitted best is left in its point."""
    best_y, best_lean, best_base, stale, bending, volts, touched, best_covariance = point
    straight, farthest, stride, rest, back, rounds = rules
    rooms, _, (aim, step, reach, at, _), place = room
    y, lean, base, fresh, covariance = place
    moving = (y, lean, base, stale, bending, fresh, volts, touched)
    failed, least, kept, holding = 0.0, np.inf, np.inf, odds[2] > 0
    for turn in range(rounds):
        left = _moved(board, lines, table, own[:3], moving, at, rooms, (straight, limits))
        failed = max(failed, left)
        _covered(lean, own[3], fresh, covariance)
        fit, held = _misfit(stack, y, lean, at, odds[1])
        if fit < kept:
            kept = fit
            best_y[:], best_lean[:], best_base[:], best_covariance[:] = y, lean, base, covariance
        if not holding and fit > least + back:
            # halfway back, and no farther from there
            step *= -0.5
            reach[:] = np.minimum(reach, np.abs(step))
            at += step
            continue
        least = held if holding else fit
        if holding:
            _aim(stack, place, at, odds, True, room, farthest)
            if _towards(at, aim, step, reach, stride) >= rest and turn + 1 < odds[2]:
                at += step
                continue
            holding, least = False, fit
            step[:], reach[:] = 0.0, stride
        _aim(stack, place, at, odds, False, room, farthest)
        if _towards(at, aim, step, reach, stride) < rest:
            break
        at += step
    return failed


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
        How strays are looked for, as odds and rules of `weighing.one`; by how many of its deviations a reading pulls at
        most as long as none is taken for a stray, and for how many rounds that may go on.
    classes : tuple of ndarray
        Electrical numbers of the circuits (n_classes, n, 3) and of the severities (n_classes, 3), spreads of the
        unknowns (n_classes, n_own), doubts (n_classes, n), and where classes set out from, by what last step, and how
        far the next may go (n_classes, n_own).
    points : tuple of ndarray
        Predictions, slopes and bases, which are stale and which may bend, first guesses of the voltages, which
        circuits were solved, by class and reading, and covariances of the readings of each class: as in
        `points.Points`; overwritten.
    rules : tuple of float
        Bend, farthest shift, stride, shift at rest, misfit by which a step is taken back, and rounds.

    Returns
    -------
    ndarray, shape (n_classes,)
        The largest last change of a circuit of each that did not settle, else zero. [V]
    """
    numbers, severities, spreads, doubts, sets_out, steps, reaches = classes
    y, lean, base, stale, bending, volts, touched, covariance = points
    room = _room(board, stack, lean.shape[1], lean.shape[2])
    _, step, reach, at, _ = room[2]
    here = room[3]
    failed = np.zeros(len(y))
    for c in range(len(y)):
        here[0][:], here[1][:], here[2][:], here[4][:] = y[c], lean[c], base[c], covariance[c]
        at[:], step[:], reach[:] = sets_out[c], steps[c], reaches[c]
        own = (numbers[c], severities[c], spreads[c], doubts[c])
        point = (y[c], lean[c], base[c], stale[c], bending[c], volts[c], touched[c], covariance[c])
        failed[c] = _walked(board, lines, table, stack, odds, own, point, room, rules, limits)
    return failed
