"""The iteration of `ohmwright.solver.newton` column by column: the same steps, many times sooner.

One variant is solved after another, each until it settles, with the elimination written out as lists of indices.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]

Index = NDArray[np.intp]
LIMIT = 200.0
"""Largest power of e that is taken. [1]"""


@njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]  # numba has no types
def _factored(order: Any, edges: Array, grounds: Array, sums: Array) -> None:
    """Eliminate every node; `edges` come back as shares."""
    pivots, starts, edge, far, pair_starts, pairs = order
    for k in range(len(pivots)):
        p = pivots[k]
        total = grounds[p]
        for i in range(starts[k], starts[k + 1]):
            total += edges[edge[i]]
        sums[k] = total
        for j in range(pair_starts[k], pair_starts[k + 1]):
            edges[pairs[j, 2]] += edges[pairs[j, 0]] / total * edges[pairs[j, 1]]
        for i in range(starts[k], starts[k + 1]):
            share = edges[edge[i]] / total
            edges[edge[i]] = share
            grounds[far[i]] += share * grounds[p]


@njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]  # numba has no types
def _solved(order: Any, shares: Array, sums: Array, injected: Array, volts: Array) -> None:
    """Voltages for injected currents, which are overwritten."""
    pivots, starts, edge, far, _, _ = order
    for k in range(len(pivots)):
        here = injected[pivots[k]]
        if here != 0.0:
            for i in range(starts[k], starts[k + 1]):
                injected[far[i]] += shares[edge[i]] * here
    for k in range(len(pivots) - 1, -1, -1):
        own = injected[pivots[k]] / sums[k]
        for i in range(starts[k], starts[k + 1]):
            own += shares[edge[i]] * volts[far[i]]
        volts[pivots[k]] = own


@njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]  # numba has no types
def _put(places: Index, values: Array, edges: Array, grounds: Array) -> None:
    for i in range(len(places)):
        if places[i] >= 0:
            edges[places[i]] += values[i]
        else:
            grounds[-1 - places[i]] += values[i]


@njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]  # numba has no types
def _linearised(
    order: Any, j_place: Index, j_a: Index, j_b: Index, n_vt: Array, sat: Array, across: Array, fixed: Any, work: Any
) -> None:
    """Factor the network with its junctions as straight lines at the voltages given; what they drive goes into `idle`."""
    edges, grounds, sums, idle = work
    edges[:] = fixed[0]
    grounds[:] = fixed[1]
    idle[:] = 0.0
    for i in range(len(sat)):
        if sat[i] == 0.0:
            continue
        grown = sat[i] * np.exp(min(across[i] / n_vt[i], LIMIT))
        g = grown / n_vt[i]
        offset = (grown - sat[i]) - g * across[i]
        if j_place[i] >= 0:
            edges[j_place[i]] += g
        else:
            grounds[-1 - j_place[i]] += g
        idle[j_a[i]] -= offset
        idle[j_b[i]] += offset
    _factored(order, edges, grounds, sums)


@njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]  # numba has no types
def settle(
    order: Any,
    r_place: Index,
    j_place: Index,
    j_a: Index,
    j_b: Index,
    n_vt: Array,
    v_crit: Array,
    sources: Any,
    conductance: Array,
    saturation: Array,
    shunt_place: Index,
    shunt_column: Index,
    shunt: Array,
    volts: Array,
    n_edges: int,
    limits: Any,
) -> Any:
    """Solve every column until it settles.

    Parameters
    ----------
    sources : tuple of ndarray
        Nodes plus and minus, current, volts and knee, as in `newton.Sources`.
    conductance, saturation : ndarray, shape (n_columns, n_elements)
    shunt_place, shunt_column : ndarray of int, shape (n_shunts,)
        By column.
    volts : ndarray, shape (n_columns, n_nodes + 1)
        First guess; overwritten by the answer.
    limits : (float, float, int)
        Leak of every node, largest step of one that is at rest, rounds.

    Returns
    -------
    tuple of ndarray
        `unit`, current, slope, and the last change of each column where it did not settle, else zero.
    """
    plus, minus, most, open_volts, knee = sources
    leak, tolerance, rounds = limits
    columns, n = volts.shape[0], volts.shape[1] - 1
    unit = np.zeros((columns, n + 1))
    current, slope, worst = np.zeros(columns), np.zeros(columns), np.zeros(columns)
    edges, fixed_edges = np.zeros(n_edges), np.zeros(n_edges)
    grounds, fixed_grounds = np.zeros(n + 1), np.zeros(n + 1)
    sums, idle, injected, new = np.zeros(n), np.zeros(n + 1), np.zeros(n + 1), np.zeros(n + 1)
    idle_volts = np.zeros(n + 1)
    across = np.zeros(len(n_vt))
    first = 0
    for k in range(columns):
        fixed_edges[:] = 0.0
        fixed_grounds[:] = leak
        _put(r_place, conductance[k], fixed_edges, fixed_grounds)
        while first < len(shunt) and shunt_column[first] < k:
            first += 1
        last = first
        while last < len(shunt) and shunt_column[last] == k:
            last += 1
        _put(shunt_place[first:last], shunt[first:last], fixed_edges, fixed_grounds)
        v, sat = volts[k], saturation[k]
        for i in range(len(n_vt)):
            across[i] = min(v[j_a[i]] - v[j_b[i]], v_crit[i])
        at_rest = False
        for turn in range(rounds + 1):
            if at_rest or turn == rounds:
                for i in range(len(n_vt)):
                    across[i] = v[j_a[i]] - v[j_b[i]]
            _linearised(
                order, j_place, j_a, j_b, n_vt, sat, across, (fixed_edges, fixed_grounds), (edges, grounds, sums, idle)
            )
            _solved(order, edges, sums, idle, idle_volts)
            injected[:] = 0.0
            injected[plus[k]] += 1.0
            injected[minus[k]] -= 1.0
            _solved(order, edges, sums, injected, unit[k])
            seen = unit[k, plus[k]] - unit[k, minus[k]]
            along = (open_volts[k] - idle_volts[plus[k]] + idle_volts[minus[k]]) / (knee[k] + seen)
            current[k] = min(max(along, 0.0), most[k])
            slope[k] = 1.0 / knee[k] if 0.0 < along < most[k] else 0.0
            change = scale = 0.0
            for i in range(n):
                new[i] = idle_volts[i] + unit[k, i] * current[k]
                change = max(change, abs(new[i] - v[i]))
                scale = max(scale, abs(new[i]))
            if at_rest or turn == rounds:
                v[:n] = new[:n]
                break
            if turn < rounds // 2:
                v[:n] = new[:n]
            else:
                v[:n] += 0.5 * (new[:n] - v[:n])
            limited = False
            for i in range(len(n_vt)):
                now, was, vt = v[j_a[i]] - v[j_b[i]], across[i], n_vt[i]
                if now > v_crit[i] and abs(now - was) > 2.0 * vt and sat[i] > 0.0:
                    limited = True
                    if was > 0.0:
                        growth = 1.0 + (now - was) / vt
                        now = was + vt * np.log(max(growth, 1e-300)) if growth > 0.0 else v_crit[i]
                    else:
                        now = vt * np.log(max(now / vt, 1e-300))
                across[i] = now
            at_rest = change <= tolerance + 1e-7 * scale and not limited
            worst[k] = 0.0 if at_rest else change
    return unit, current, slope, worst


@njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]  # numba has no types
def through(
    order: Any,
    r_place: Index,
    j_place: Index,
    j_a: Index,
    j_b: Index,
    n_vt: Array,
    ends: Any,
    conductance: Array,
    saturation: Array,
    shunt_place: Index,
    shunt_column: Index,
    shunt: Array,
    volts: Array,
    n_edges: int,
    leak: float,
) -> Array:
    """Voltages for one ampere through other ends, in the network linearised where it settled, (n_columns, n_nodes + 1)."""
    plus, minus = ends
    columns, n = volts.shape[0], volts.shape[1] - 1
    out = np.zeros((columns, n + 1))
    edges, fixed_edges = np.zeros(n_edges), np.zeros(n_edges)
    grounds, fixed_grounds = np.zeros(n + 1), np.zeros(n + 1)
    sums, idle, injected = np.zeros(n), np.zeros(n + 1), np.zeros(n + 1)
    across = np.zeros(len(n_vt))
    for k in range(columns):
        fixed_edges[:] = 0.0
        fixed_grounds[:] = leak
        _put(r_place, conductance[k], fixed_edges, fixed_grounds)
        here = shunt_column == k
        _put(shunt_place[here], shunt[here], fixed_edges, fixed_grounds)
        for i in range(len(n_vt)):
            across[i] = volts[k, j_a[i]] - volts[k, j_b[i]]
        _linearised(
            order, j_place, j_a, j_b, n_vt, saturation[k], across, (fixed_edges, fixed_grounds),
            (edges, grounds, sums, idle),
        )  # fmt: skip
        injected[:] = 0.0
        injected[plus[k]] += 1.0
        injected[minus[k]] -= 1.0
        _solved(order, edges, sums, injected, out[k])
    return out
