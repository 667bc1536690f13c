"""Readings that may be strays, one column after another: the search of `ohmwright.evidence.strays` written out."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Index = NDArray[np.intp]
LOG_2PI = float(np.log(2.0 * np.pi))


@njit(cache=True, nogil=True, error_model="numpy")
def inverted(matrix: Array, line: Array) -> float:
    """Invert a positive definite matrix in place; the logarithm of its determinant. Only what is below counts."""
    n = matrix.shape[0]
    log_det = 0.0
    for k in range(n):
        pivot = matrix[k, k]
        log_det += np.log(pivot)
        for j in range(n):
            line[j] = matrix[k, j] if j < k else matrix[j, k]
        for i in range(n):
            factor = line[i] / pivot
            for j in range(i + 1):
                matrix[i, j] -= factor * line[j]
        for j in range(n):
            if j < k:
                matrix[k, j] = line[j] / pivot
            else:
                matrix[j, k] = line[j] / pivot
        matrix[k, k] = -1.0 / pivot
    for i in range(n):
        for j in range(i + 1):
            value = -matrix[i, j]
            matrix[i, j] = value
            matrix[j, i] = value
    return log_det


@njit(cache=True, nogil=True, error_model="numpy")
def _lessened(precision: Array, small: Array, which: Index, kept: Flags, own: Array) -> None:
    """Take from the own precision of what is kept what it owed to the readings that are out."""
    m = small.shape[0]
    for i in range(len(kept)):
        if kept[i]:
            for a in range(m):
                row = 0.0
                for b in range(m):
                    row += small[a, b] * precision[which[b], i]
                own[i] -= precision[which[a], i] * row


@njit(cache=True, nogil=True, error_model="numpy")
def _without(precision: Array, alpha: Array, told: Any, kept: Flags, room: Any) -> Any:
    """Leave readings out: alpha and own precision of the others go into `room`; distance and log density come back.

    Also how many are out, with the inverse of the precision among them and their numbers in `room`.
    """
    rest, own, inner, line, which = room
    distance, log_density = told
    n, m = len(alpha), 0
    for i in range(n):
        rest[i], own[i] = alpha[i], precision[i, i]
        if not kept[i]:
            which[m] = i
            m += 1
    if m == 0:
        return distance, log_density, 0
    small = inner[:m, :m]
    for a in range(m):
        for b in range(m):
            small[a, b] = precision[which[a], which[b]]
    log_det = inverted(small, line)
    given = 0.0
    for a in range(m):
        miss = 0.0
        for b in range(m):
            miss += small[a, b] * alpha[which[b]]
        given += alpha[which[a]] * miss
        for i in range(n):
            rest[i] -= miss * precision[which[a], i]
    _lessened(precision, small, which, kept, own)
    return distance - given, log_density + 0.5 * (given - log_det + m * LOG_2PI), m


@njit(cache=True, nogil=True, error_model="numpy")
def _beside(j: int, kept: Flags, odds: Any, before: bool) -> float:
    """Log odds of one reading as a stray beside those that are out, or beside those of them that come before it."""
    alone, twin, twice, again, related = odds
    if not related[j]:
        return float(alone[j])
    last = j if before else len(alone)
    level, known = -np.inf, False
    for i in range(last):
        if twin[i, j] and not kept[i]:
            return float(twice[j])
        if again[i, j] > -np.inf:
            level = max(level, again[i, j])
            known = known or not kept[i]
    return float(max(level, alone[j]) if known else alone[j])


@njit(cache=True, nogil=True, error_model="numpy")
def _total(kept: Flags, odds: Any) -> float:
    """Log odds of everything that is out."""
    total = 0.0
    for j in range(len(kept)):
        if not kept[j]:
            total += _beside(j, kept, odds, True)
    return total


@njit(cache=True, nogil=True, error_model="numpy")
def _ratio(j: int, kept: Flags, odds: Any, rest: Array, own: Array) -> float:
    """How much likelier a reading is as a stray than beside the others that are kept."""
    log_one = -0.5 * (rest[j] ** 2 / own[j] - np.log(own[j]) + LOG_2PI)
    return float(_beside(j, kept, odds, False) - log_one)


@njit(cache=True, nogil=True, error_model="numpy")
def _whole(precision: Array, residual: Array, alpha: Array, deviation: Array, near: Any) -> Any:
    """Invert a covariance in place; alpha and the deviations are filled; distance and log density come back."""
    known, log_det, of = near
    n = len(residual)
    for i in range(n):
        deviation[i] = np.sqrt(precision[i, i])
    if len(known) == n and 3 * len(of) < n:
        log_det += _apart(precision, known, of, alpha)
    else:
        log_det = inverted(precision, alpha)
    distance = 0.0
    for i in range(n):
        alpha[i] = 0.0
        for j in range(n):
            alpha[i] += precision[i, j] * residual[j]
        distance += alpha[i] * residual[i]
    return distance, -0.5 * (distance + log_det + n * LOG_2PI)


@njit(cache=True, nogil=True, error_model="numpy")
def _apart(precision: Array, known: Array, of: Index, line: Array) -> float:
    """Turn a covariance into its inverse from a known one that differs in some rows only; what its log det gains.

    What is known is the inverse for all rows: without those that differ it follows by Schur's complement, and with
    them as they are here by another.

    Parameters
    ----------
    precision : ndarray, shape (n, n)
        The covariance; overwritten.
    known : ndarray, shape (n, n)
        Inverse of the other one.
    of : ndarray of int, shape (n_differ,)
        Rows that differ.
    """
    m = len(of)
    if m == 0:
        precision[:] = known
        return 0.0
    here, there = np.empty((m, len(known))), np.empty((m, len(known)))
    own, inner = np.empty((m, m)), np.empty((m, m))
    for a in range(m):
        here[a], there[a] = known[of[a]], precision[of[a]]
    for a in range(m):
        for b in range(m):
            own[a, b], inner[a, b] = here[a, of[b]], there[a, of[b]]
    for a in range(m):
        there[:, of[a]] = 0.0
    gained = inverted(own, line)
    given = np.dot(own, here)
    ways = np.dot(there, known) - np.dot(np.dot(there, np.ascontiguousarray(here.T)), given)
    inner -= np.dot(ways, np.ascontiguousarray(there.T))
    gained += inverted(inner, line)
    across = np.dot(inner, ways)
    precision[:] = known - np.dot(np.ascontiguousarray(here.T), given) + np.dot(np.ascontiguousarray(ways.T), across)
    for a in range(m):
        precision[of[a]] = -across[a]
        precision[:, of[a]] = -across[a]
    for a in range(m):
        for b in range(m):
            precision[of[a], of[b]] = inner[a, b]
    return float(gained)


@njit(cache=True, nogil=True, error_model="numpy")
def _misses(group: int, label: Index, residual: Array, deviation: Array, tried: Flags) -> float:
    """Leave a group out of `tried`; by how many deviations it misses at least, nothing where it is all there is."""
    size, least = 0, np.inf
    for i in range(len(label)):
        if label[i] == group:
            size += 1
            least = min(least, abs(residual[i]) / deviation[i])
            tried[i] = False
    return float(least if size < len(label) else 0.0)


@njit(cache=True, nogil=True, error_model="numpy")
def _leave_out(gauss: Any, kept: Flags, odds: Any, most: int, strays: float, room: Any) -> float:
    """Leave out what is likelier a stray, the worst first; log odds of all that is out."""
    precision, alpha, told = gauss
    rest, own = room[0], room[1]
    n = len(kept)
    for _ in range(min(most, n - 1) + 1):
        _without(precision, alpha, told, kept, room)
        worst, top = -1, 0.0
        for j in range(n):
            if kept[j]:
                now = _ratio(j, kept, odds, rest, own)
                if now > top:
                    worst, top = j, now
        if worst < 0 or kept.sum() <= max(n - most, 1):
            break
        strays += _beside(worst, kept, odds, False)
        kept[worst] = False
    return strays


@njit(cache=True, nogil=True, error_model="numpy")
def _take_back(gauss: Any, kept: Flags, odds: Any, most: int, strays: float, room: Any) -> float:
    """Keep what was left out only because a worse stray still stood beside it; log odds of all that is out."""
    precision, alpha, told = gauss
    inner, which = room[2], room[4]
    for _ in range(most):
        m = _without(precision, alpha, told, kept, room)[2]
        back, top = -1, 0.0
        for a in range(m):
            off = 0.0
            for b in range(m):
                off += inner[a, b] * alpha[which[b]]
            variance = max(inner[a, a], 1e-12)
            log_in = -0.5 * (off**2 / variance + np.log(variance) + LOG_2PI)
            gain = log_in - _beside(which[a], kept, odds, False)
            if gain > top:
                back, top = which[a], gain
        if back < 0:
            break
        kept[back] = True
        strays = _total(kept, odds)
    return strays


@njit(cache=True, nogil=True, error_model="numpy")
def _one_more(kept: Flags, odds: Any, room: Any, stray: Array, pull: Array) -> float:
    """Log of the sum over no stray more and each one more; fills in how likely each is one, and the pulls."""
    rest, own = room[0], room[1]
    top = 0.0
    for j in range(len(kept)):
        if kept[j]:
            stray[j] = _ratio(j, kept, odds, rest, own)
            pull[j] = rest[j]
            top = max(top, stray[j])
    total = np.exp(-top)
    for j in range(len(kept)):
        if kept[j]:
            total += np.exp(stray[j] - top)
    total = top + np.log(total)
    for j in range(len(kept)):
        if kept[j]:
            stray[j] = np.exp(stray[j] - total)
    return float(total)


@njit(cache=True, nogil=True, error_model="numpy")
def one(
    precision: Array, residual: Array, odds: Any, rules: Any, near: Any, room: Any, stray: Array, pull: Array
) -> Any:
    """One column of `numbers`, whose covariance is overwritten; fills in strays and pulls.

    What is near is the inverse of a covariance, or nothing, with the logarithm of that one's determinant, and in which
    rows this one differs from it.
    """
    label, suspect, most = rules
    rest, own, inner, line, which, alpha, deviation, kept, tried = room
    inside = (rest, own, inner, line, which)
    told = _whole(precision, residual, alpha, deviation, near)
    stray[:], pull[:], kept[:] = 1.0, 0.0, True
    strays = 0.0
    for group in range(label.max() + 1):
        tried[:] = kept
        if _misses(group, label, residual, deviation, tried) > suspect:
            now = _without(precision, alpha, told, kept, inside)[1] + strays
            odd = _total(tried, odds)
            if _without(precision, alpha, told, tried, inside)[1] + odd > now:
                kept[:] = tried
                strays = odd
    strays = _leave_out((precision, alpha, told), kept, odds, most, strays, inside)
    strays = _take_back((precision, alpha, told), kept, odds, most, strays, inside)
    distance, log_density, _ = _without(precision, alpha, told, kept, inside)
    likelihood = log_density + strays + _one_more(kept, odds, inside, stray, pull)
    return likelihood, distance, kept.sum()


@njit(cache=True, nogil=True, error_model="numpy")
def room_for(n: int) -> Any:
    """Where `one` works on a column of so many readings."""
    inside = (np.empty(n), np.empty(n), np.empty((n, n)), np.empty(n), np.empty(n, dtype=np.intp))
    return (*inside, np.empty(n), np.empty(n), np.empty(n, dtype=np.bool_), np.empty(n, dtype=np.bool_))


@njit(cache=True, nogil=True, error_model="numpy")
def far() -> Any:
    """What `one` takes where nothing is near."""
    return np.empty((0, 0)), 0.0, np.empty(0, dtype=np.intp)


@njit(cache=True, nogil=True, error_model="numpy")
def numbers(covariance: Array, residual: Array, odds: Any, rules: Any, near: Any) -> Any:
    """The same as `strays.numbers_of`, whose parameters these are.

    Parameters
    ----------
    covariance : ndarray, shape (n_columns, n, n)
        Overwritten.
    residual : ndarray, shape (n_columns, n)
    odds : tuple of ndarray
        Alone (n,), twin (n, n), twice (n,), again (n, n), and which have any other beside them in those (n,).
    rules : tuple
        Group of readings that show the same, from 0, -1 for single ones, shape (n,); deviations by which a group must
        miss to be tried; readings that may be left out.
    near : tuple of ndarray
        A covariance (n, n) that most rows agree with, or an empty one, and in which rows each column differs from it
        (n_columns, n).

    Returns
    -------
    tuple of ndarray
        Log likelihood, squared distance, readings kept, strays (n_columns, n) and pulls (n_columns, n).
    """
    columns, n = residual.shape
    likelihood, distances = np.empty(columns), np.empty(columns)
    count = np.empty(columns, dtype=np.intp)
    stray, pull = np.empty((columns, n)), np.empty((columns, n))
    room = room_for(n)
    known, differs = near[0].copy(), near[1]
    log_det = inverted(known, np.empty(len(known)))
    for c in range(columns):
        beside = (known, log_det, np.flatnonzero(differs[c]))
        told = one(covariance[c], residual[c], odds, rules, beside, room, stray[c], pull[c])
        likelihood[c], distances[c], count[c] = told
    return likelihood, distances, count, stray, pull
