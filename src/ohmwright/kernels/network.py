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


@njit(cache=True, nogil=True, error_model="numpy")
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


@njit(cache=True, nogil=True, error_model="numpy")
def solved(order: Any, shares: Array, sums: Array, injected: Array, volts: Array) -> None:
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


@njit(cache=True, nogil=True, error_model="numpy")
def put(places: Index, values: Array, edges: Array, grounds: Array) -> None:
    """Add conductances where they go: to edges, or from a node to ground."""
    for i in range(len(places)):
        if places[i] >= 0:
            edges[places[i]] += values[i]
        else:
            grounds[-1 - places[i]] += values[i]


@njit(cache=True, nogil=True, error_model="numpy")
def _linearised(
    order: Any, j_place: Index, j_a: Index, j_b: Index, n_vt: Array, sat: Array, across: Array, fixed: Any, work: Any,
    carried: Array,
) -> None:  # fmt: skip
    """Factor the network with its junctions as straight lines; what they drive into the nodes goes into `idle`.

    What they carry there goes into `carried`. [A]
    """
    edges, grounds, sums, idle = work
    edges[:] = fixed[0]
    grounds[:] = fixed[1]
    idle[:] = 0.0
    for i in range(len(sat)):
        carried[i] = 0.0
        if sat[i] == 0.0:
            continue
        grown = sat[i] * np.exp(min(across[i] / n_vt[i], LIMIT))
        g = grown / n_vt[i]
        carried[i] = grown - sat[i]
        offset = carried[i] - g * across[i]
        if j_place[i] >= 0:
            edges[j_place[i]] += g
        else:
            grounds[-1 - j_place[i]] += g
        idle[j_a[i]] -= offset
        idle[j_b[i]] += offset
    _factored(order, edges, grounds, sums)


@njit(cache=True, nogil=True, error_model="numpy")
def _met(linear: Any, source: Any, unit: Array, new: Array) -> Any:
    """Meet a source with the network as a straight line; voltages go into `new`, current and slope come back."""
    order, edges, sums, driven, injected, idle_volts = linear
    plus, minus, most, open_volts, knee = source
    solved(order, edges, sums, driven, idle_volts)
    injected[:] = 0.0
    injected[plus] += 1.0
    injected[minus] -= 1.0
    solved(order, edges, sums, injected, unit)
    along = (open_volts - idle_volts[plus] + idle_volts[minus]) / (knee + unit[plus] - unit[minus])
    current = min(max(along, 0.0), most)
    for i in range(len(new) - 1):
        new[i] = idle_volts[i] + unit[i] * current
    return current, (1.0 / knee if 0.0 < along < most else 0.0)


@njit(cache=True, nogil=True, error_model="numpy")
def _held_back(v: Array, across: Array, ends: Any, n_vt: Array, v_crit: Array, sat: Array) -> Any:
    """Voltages across junctions after a step, held back where the exponential would run away.

    Whether any was, and by how much one that conducts has moved at most from where it was made a straight line.
    """
    a, b = ends
    limited, moved = False, 0.0
    for i in range(len(n_vt)):
        now, was, vt = v[a[i]] - v[b[i]], across[i], n_vt[i]
        if sat[i] > 0.0:
            moved = max(moved, abs(now - was))
        if now > v_crit[i] and abs(now - was) > 2.0 * vt and sat[i] > 0.0:
            limited = True
            if was <= 0.0:
                now = vt * np.log(max(now / vt, 1e-300))
            elif 1.0 + (now - was) / vt > 0.0:
                now = was + vt * np.log(max(1.0 + (now - was) / vt, 1e-300))
            else:
                now = v_crit[i]
        across[i] = now
    return limited, moved


@njit(cache=True, nogil=True, error_model="numpy")
def _fixed(column: int, strength: Any, r_place: Index, leak: float, edges: Array, grounds: Array) -> None:
    """Conductances of a column that stay as they are: its resistances and what its faults put across."""
    conductance, _, shunt_place, shunt_column, shunt = strength
    edges[:] = 0.0
    grounds[:] = leak
    put(r_place, conductance[column], edges, grounds)
    first = np.searchsorted(shunt_column, column)
    last = np.searchsorted(shunt_column, column + 1)
    put(shunt_place[first:last], shunt[first:last], edges, grounds)


@njit(cache=True, nogil=True, error_model="numpy")
def settled(elements: Any, sat: Array, v: Array, source: Any, fixed: Any, work: Any, room: Any, limits: Any) -> Any:
    """Solve one column until it settles; its voltages, the first guess at first, are overwritten.

    The network is left factored in `work` as it was made straight lines last, which is where it settled but for the
    last change, with the voltages for one ampere through the source's ends in the `unit` of the room and what junctions
    carry in its last. Current, slope and, where it did not settle, the last change come back.
    """
    order, j_place, j_a, j_b, n_vt, v_crit = elements
    edges, _, sums, driven = work
    injected, idle_volts, unit, new, across, carried = room
    tolerance, rounds = limits
    linear = (order, edges, sums, driven, injected, idle_volts)
    n, worst, current, slope = len(v) - 1, 0.0, 0.0, 0.0
    for i in range(len(n_vt)):
        across[i] = min(v[j_a[i]] - v[j_b[i]], v_crit[i])
    for turn in range(rounds):
        _linearised(order, j_place, j_a, j_b, n_vt, sat, across, fixed, work, carried)
        current, slope = _met(linear, source, unit, new)
        change = scale = total = 0.0
        for i in range(n):
            total += new[i]
            change = max(change, abs(new[i] - v[i]))
            scale = max(scale, abs(new[i]))
            v[i] = new[i] if turn < rounds // 2 else v[i] + 0.5 * (new[i] - v[i])
        limited, moved = _held_back(v, across, (j_a, j_b), n_vt, v_crit, sat)
        worst = max(change, moved) if np.isfinite(total) else np.inf
        if np.isfinite(total) and worst <= tolerance + 1e-7 * scale and not limited:
            worst = 0.0
            break
    v[:n] = new[:n]
    return current, slope, worst


@njit(cache=True, nogil=True, error_model="numpy")
def _once_more(elements: Any, sat: Array, v: Array, source: Any, fixed: Any, work: Any, room: Any) -> Any:
    """One step on from where it settled, so that slopes are those of the very place; current and slope."""
    order, j_place, j_a, j_b, n_vt, _ = elements
    injected, idle_volts, unit, new, across, carried = room
    for i in range(len(n_vt)):
        across[i] = v[j_a[i]] - v[j_b[i]]
    _linearised(order, j_place, j_a, j_b, n_vt, sat, across, fixed, work, carried)
    current, slope = _met((order, work[0], work[2], work[3], injected, idle_volts), source, unit, new)
    v[: len(v) - 1] = new[: len(v) - 1]
    return current, slope


@njit(cache=True, nogil=True, error_model="numpy")
def settle(network: Any, v_crit: Array, sources: Any, strength: Any, volts: Array, n_edges: int, limits: Any) -> Any:
    """Solve every column until it settles.

    Parameters
    ----------
    network : tuple
        Order of elimination, places of the resistances and of the junctions, nodes of both ends of these, and their
        emission coefficients times kT/q.
    sources : tuple of ndarray
        As in `newton.Sources`.
    strength : tuple of ndarray
        Conductances and saturation currents of the elements, shape (n_columns, n_elements), and by column the places,
        columns and conductances of what is put across two nodes, shape (n_shunts,).
    volts : ndarray, shape (n_columns, n_nodes + 1)
        First guess; overwritten by the answer.
    limits : tuple
        Leak of every node, largest step of one at rest, rounds.

    Returns
    -------
    tuple of ndarray
        `unit`, current, slope, and the last change of each column where it did not settle, else zero.
    """
    order, r_place, j_place, j_a, j_b, n_vt = network
    plus, minus, most, open_volts, knee = sources
    leak, tolerance, rounds = limits
    columns, n = volts.shape[0], volts.shape[1] - 1
    unit = np.zeros((columns, n + 1))
    current, slope, worst = np.zeros(columns), np.zeros(columns), np.zeros(columns)
    work = (np.zeros(n_edges), np.zeros(n + 1), np.zeros(n), np.zeros(n + 1))
    fixed = (np.zeros(n_edges), np.zeros(n + 1))
    injected, idle_volts, new = np.zeros(n + 1), np.zeros(n + 1), np.zeros(n + 1)
    across, carried = np.zeros(len(n_vt)), np.zeros(len(n_vt))
    elements = (order, j_place, j_a, j_b, n_vt, v_crit)
    for k in range(columns):
        _fixed(k, strength, r_place, leak, fixed[0], fixed[1])
        source = (plus[k], minus[k], most[k], open_volts[k], knee[k])
        room = (injected, idle_volts, unit[k], new, across, carried)
        told = settled(elements, strength[1][k], volts[k], source, fixed, work, room, (tolerance, rounds))
        worst[k] = told[2]
        current[k], slope[k] = _once_more(elements, strength[1][k], volts[k], source, fixed, work, room)
    return unit, current, slope, worst


@njit(cache=True, nogil=True, error_model="numpy")
def through(network: Any, ends: Any, strength: Any, volts: Array, n_edges: int, leak: float) -> Array:
    """Voltages for one ampere through other ends, linearised where it settled, shape (n_columns, n_nodes + 1)."""
    order, r_place, j_place, j_a, j_b, n_vt = network
    plus, minus = ends
    saturation = strength[1]
    columns, n = volts.shape[0], volts.shape[1] - 1
    out = np.zeros((columns, n + 1))
    work = (np.zeros(n_edges), np.zeros(n + 1), np.zeros(n), np.zeros(n + 1))
    fixed = (np.zeros(n_edges), np.zeros(n + 1))
    injected, across, carried = np.zeros(n + 1), np.zeros(len(n_vt)), np.zeros(len(n_vt))
    for k in range(columns):
        _fixed(k, strength, r_place, leak, fixed[0], fixed[1])
        for i in range(len(n_vt)):
            across[i] = volts[k, j_a[i]] - volts[k, j_b[i]]
        _linearised(order, j_place, j_a, j_b, n_vt, saturation[k], across, fixed, work, carried)
        injected[:] = 0.0
        injected[plus[k]] += 1.0
        injected[minus[k]] -= 1.0
        solved(order, work[0], work[2], injected, out[k])
    return out
