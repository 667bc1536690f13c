"""One reading of one circuit with its unknowns shifted, and its slopes: `ohmwright.evidence.forward` written out."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ohmwright.kernels.codes import DEAD, DIODE, DRIFT, OHMS, OPEN, PATH, PIN, SUPPLY_AMPS, SUPPLY_VOLTS
from ohmwright.kernels.network import put, settled, solved

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@njit(cache=True, nogil=True, error_model="numpy")
def of_network(flat: Any, cuts: Index, f: int) -> Any:
    """One of several networks that lie one after another: its elements, and what is unknown of them."""
    (
        pivots, starts, edge, far, pair_starts, pairs, r_place, r_a, r_b, j_place, j_a, j_b, n_vt, v_crit,
        r_unsure, j_unsure, rail_rows, rail_starts, place, spread,
    ) = flat  # fmt: skip
    a, b = cuts[f], cuts[f + 1]
    order = (
        pivots[a[0] : b[0]], starts[a[1] : b[1]], edge[a[2] : b[2]], far[a[3] : b[3]], pair_starts[a[4] : b[4]],
        pairs[a[5] : b[5]],
    )  # fmt: skip
    r = (r_place[a[6] : b[6]], r_a[a[7] : b[7]], r_b[a[8] : b[8]])
    j = (j_place[a[9] : b[9]], j_a[a[10] : b[10]], j_b[a[11] : b[11]], n_vt[a[12] : b[12]], v_crit[a[13] : b[13]])
    unknown = (
        r_unsure[a[14] : b[14]], j_unsure[a[15] : b[15]], rail_rows[a[16] : b[16]], rail_starts[a[17] : b[17]],
        place[a[18] : b[18]], spread[a[19] : b[19]],
    )  # fmt: skip
    return order, r, j, unknown


@njit(cache=True, nogil=True, error_model="numpy")
def room_to_predict(sizes: Any) -> Any:
    """Where predictions are worked out, for networks of up to so many nodes, edges, resistances and junctions."""
    nodes, edges, n_r, n_j, _ = sizes
    n = nodes + 1
    network = (np.zeros(edges), np.zeros(n), np.zeros(edges), np.zeros(n), np.zeros(nodes), np.zeros(n))
    columns = (np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n_j), np.zeros(n_j))
    defects = (np.zeros(3), np.zeros(3), np.zeros(3, dtype=np.intp))
    return np.zeros(n_r), np.zeros(n_j), network, columns, defects


@njit(cache=True, nogil=True, error_model="numpy")
def grown(at: Array, steep: Array, out: Array) -> None:
    """By what shifts multiply the strengths of their elements, shape (n_board,); `steep` are the spreads.

    For junctions, whose unknown is a drop, `steep` is the spread over what multiplies the current by e.
    """
    for u in range(len(steep)):
        out[u] = np.exp(-at[u] * steep[u]) if at[u] != 0.0 else 1.0


@njit(cache=True, nogil=True, error_model="numpy")
def _shifted(unknown: Any, factor: Array, g: Array, sat: Array) -> None:
    """Bring the strengths of elements to where their unknowns are shifted."""
    r_unsure, j_unsure, rail_rows, rail_starts, place, _ = unknown
    nr, nj = len(r_unsure), len(j_unsure)
    for i in range(nr):
        g[r_unsure[i]] *= factor[place[i]]
    for i in range(nj):
        sat[j_unsure[i]] *= factor[place[nr + i]]
    for rail in range(len(rail_starts) - 1):
        own = factor[place[nr + nj + rail]]
        for i in range(rail_starts[rail], rail_starts[rail + 1]):
            g[rail_rows[i]] *= own


@njit(cache=True, nogil=True, error_model="numpy")
def _harmed(table: Any, f: int, number: int, shift: float, n_vt: Array, g: Array, sat: Array) -> Any:
    """What a defect does to the elements, in place; for a path where it goes and its conductance."""
    what, median, _, hits, lit = table
    kind, row, last = what[f, number, 0], what[f, number, 3], what[f, number, 4]
    strength = np.exp(-shift) / median[number]
    if kind == OPEN:
        g[row] = min(g[row], strength)
    elif kind == DRIFT:
        g[row] *= strength
    elif kind == DEAD:
        sat[row] = 0.0
    elif kind == PIN:
        ohms = 1.0 / strength
        for i in range(row, last):
            if hits[i, 0]:
                sat[hits[i, 1]] *= np.exp(-min(ohms * lit / n_vt[hits[i, 1]], 600.0))
            else:
                g[hits[i, 1]] /= 1.0 + ohms * g[hits[i, 1]]
    return strength if kind == PATH else 0.0


@njit(cache=True, nogil=True, error_model="numpy")
def _lean_r(r: Any, row: int, v: Array, adjoint: Array, g: Array) -> float:
    a, b = r[1][row], r[2][row]
    return float(g[row] * (v[a] - v[b]) * (adjoint[a] - adjoint[b]))


@njit(cache=True, nogil=True, error_model="numpy")
def _lean_j(j: Any, row: int, v: Array, adjoint: Array, sat: Array) -> float:
    a, b, n_vt = j[1][row], j[2][row], j[3][row]
    return float(sat[row] * np.expm1(min((v[a] - v[b]) / n_vt, 200.0)) * (adjoint[a] - adjoint[b]) / n_vt)


@njit(cache=True, nogil=True, error_model="numpy")
def _lean_defect(
    table: Any, f: int, number: int, shift: float, strength: float, network: Any, v: Array, adjoint: Array, g: Array,
    sat: Array,
) -> float:  # fmt: skip
    """By how much the volts at a reading's points grow with the logarithm of a defect's severity."""
    what, median, _, hits, lit = table
    _, r, j, _ = network
    kind, row, last = what[f, number, 0], what[f, number, 3], what[f, number, 4]
    if kind == PATH:
        a, b = what[f, number, 1], what[f, number, 2]
        return float(strength * (v[a] - v[b]) * (adjoint[a] - adjoint[b]))
    if kind in (OPEN, DRIFT):
        return _lean_r(r, row, v, adjoint, g)
    total = 0.0
    if kind == PIN:
        ohms = median[number] * np.exp(shift)
        for i in range(row, last):
            own = hits[i, 1]
            if hits[i, 0]:
                total += ohms * lit * _lean_j(j, own, v, adjoint, sat)
            else:
                total += ohms * g[own] * _lean_r(r, own, v, adjoint, g)
    return total


@njit(cache=True, nogil=True, error_model="numpy")
def _shown(kind: int, figures: Array, volts: float, current: float, leads: float) -> Any:
    """As `display.shown`: the number; its slopes by the volts and by the lead, and the current's by its logarithm."""
    lead, fixed, ohms_current, knee, by_lead, _, limit, feed_leads = figures
    if kind == OHMS:
        current = max(current, 1e-15)
        bent = volts / (current * knee) if current < 0.999 * ohms_current else 0.0
        return max(volts, 0.0) / current + fixed + leads, (1.0 + bent) / current, by_lead, 0.0
    if kind == DIODE:
        return volts + current * (lead + leads), 1.0, current, current
    limited = current > 0.999 * limit
    if kind == SUPPLY_AMPS:
        return current, 0.0 if limited else -1.0 / (feed_leads + 1e-3), 0.0, 0.0
    if kind == SUPPLY_VOLTS:
        return volts + current * feed_leads, 1.0 if limited else 1e-3 / (feed_leads + 1e-3), 0.0, 0.0
    return volts, 1.0, 0.0, 0.0


@njit(cache=True, nogil=True, error_model="numpy")
def _compared(kind: int, scale: float, value: float) -> Any:
    """A value on the scale of comparison, and the slope of that, as `Probe.scaled` and `Probe.slope`."""
    if kind in (OHMS, SUPPLY_AMPS):
        above = max(value, 0.0) + scale
        return np.log(above), 1.0 / above
    return np.arcsinh(value / scale), 1.0 / np.hypot(value, scale)


@njit(cache=True, nogil=True, error_model="numpy")
def _seen_from(network: Any, ends: Any, work: Any, room: Any, slope: float, adjoint: Array) -> None:
    """Voltages for one ampere driven through a reading's own points, the source's slope counted in."""
    plus, minus, red, black = ends
    edges, _, sums, _ = work
    injected, unit = room[0], room[2]
    if red == plus and black == minus:
        adjoint[:] = unit
    else:
        injected[:] = 0.0
        injected[red] += 1.0
        injected[black] -= 1.0
        adjoint[:] = 0.0
        solved(network[0], edges, sums, injected, adjoint)
    across, seen = adjoint[plus] - adjoint[minus], unit[plus] - unit[minus]
    share = slope * across / (1.0 + slope * seen)
    for i in range(len(adjoint)):
        adjoint[i] -= unit[i] * share


@njit(cache=True, nogil=True, error_model="numpy")
def _leaned(
    network: Any, v: Array, adjoint: Array, g: Array, carried: Array, factor: float, lean: Array
) -> None:
    """Slopes by the elements and by what rails share, times their spreads; `carried` by the junctions. [A]"""
    _, r, j, unknown = network
    r_unsure, j_unsure, rail_rows, rail_starts, place, spread = unknown
    nr, nj = len(r_unsure), len(j_unsure)
    for i in range(nr):
        lean[place[i]] = _lean_r(r, r_unsure[i], v, adjoint, g) * factor * spread[i]
    for i in range(nj):
        row = j_unsure[i]
        own = carried[row] * (adjoint[j[1][row]] - adjoint[j[2][row]]) / j[3][row]
        lean[place[nr + i]] = own * factor * spread[nr + i]
    for rail in range(len(rail_starts) - 1):
        total = 0.0
        for i in range(rail_starts[rail], rail_starts[rail + 1]):
            total += _lean_r(r, rail_rows[i], v, adjoint, g)
        lean[place[nr + nj + rail]] = total * factor * spread[nr + nj + rail]


@njit(cache=True, nogil=True, error_model="numpy")
def _stood(
    network: Any, line: Any, table: Any, defects: Any, at: Array, factor: Array, room: Any, leak: float
) -> None:
    """Put the circuit together: strengths of its elements, and what stays as it is while it is solved."""
    f, base_g, base_sat, wires, wire, _, _, _, _ = line
    _, r, j, unknown = network
    numbers, own = defects
    g, sat, fixed_edges, fixed_grounds, strengths, shifts, slots = room
    g[:], sat[:] = base_g[: len(g)], base_sat[: len(sat)]
    _shifted(unknown, factor, g, sat)
    fixed_edges[:], fixed_grounds[:] = 0.0, leak
    strengths[:], shifts[:], slots[:] = 0.0, 0.0, -1
    tail = len(at) - len(own)
    for d in range(len(numbers)):
        if numbers[d] < 0:
            break
        for slot in range(len(own)):
            if own[slot] == numbers[d]:
                slots[d] = slot
        shifts[d] = at[tail + slots[d]] * table[2][numbers[d]] if slots[d] >= 0 else 0.0
        strengths[d] = _harmed(table, f, numbers[d], shifts[d], j[3], g, sat)
        if strengths[d] > 0.0:
            where = table[0][f, numbers[d], 3]
            if where >= 0:
                fixed_edges[where] += strengths[d]
            else:
                fixed_grounds[-1 - where] += strengths[d]
    put(r[0], g, fixed_edges, fixed_grounds)
    for i in range(len(wires)):
        put(wires[i : i + 1], wire, fixed_edges, fixed_grounds)


@njit(cache=True, nogil=True, error_model="numpy")
def predicted(
    network: Any, line: Any, table: Any, defects: Any, at: Array, factor: Array, room: Any, v: Array, lean: Array,
    limits: Any,
) -> Any:  # fmt: skip
    """What one reading shows with the unknowns shifted; its slopes times the spreads go into `lean`.

    Parameters
    ----------
    network : tuple
        From `of_network`.
    line : tuple
        Number of the network, conductances and saturation currents of what stands, places and conductance of wires,
        ends, drive, kind and figures of the reading.
    table : tuple
        What defects do, by network and electrical number; medians, spreads, hits, and a meter's current at a junction.
    defects : tuple of ndarray
        Electrical numbers of the circuit, and of the class's own severities; -1 for none.
    at : ndarray, shape (n_own,)
    factor : ndarray, shape (n_board,)
        From `grown`, of the same shifts.
    v : ndarray, shape (n_nodes + 1,)
        First guess of the voltages; overwritten. [V]

    Returns
    -------
    float, float, float
        The reading; the last change where the circuit did not settle, else zero [V]; what the source drives [A].
    """
    ends, drive, kind = line[5], line[6], line[7]
    order, r, j, unknown = network
    n, place, spread = len(v), unknown[4], unknown[5]
    g, sat = room[0][: len(r[0])], room[1][: len(j[0])]
    fixed_edges, fixed_grounds, edges, grounds, sums, driven = room[2]
    fixed = (fixed_edges, fixed_grounds[:n])
    work = (edges, grounds[:n], sums[: n - 1], driven[:n])
    injected, idle_volts, unit, new, adjoint, across, carried = room[3]
    inner = (injected[:n], idle_volts[:n], unit[:n], new[:n], across[: len(sat)], carried[: len(sat)])
    # a larger network before this one has left its voltages where this one has its ground
    idle_volts[n - 1], unit[n - 1], new[n - 1] = 0.0, 0.0, 0.0
    circuit = (g, sat, fixed[0], fixed[1], *room[4])
    _stood(network, line, table, defects, at, factor, circuit, limits[0])
    meter = len(place) - 3
    most = drive[0] * np.exp(at[place[meter + 1]] * spread[meter + 1]) if kind == DIODE else drive[0]
    source = (ends[0], ends[1], most, drive[1], drive[2])
    elements = (order, j[0], j[1], j[2], j[3], j[4])
    current, slope, worst = settled(elements, sat, v, source, fixed, work, inner, limits[1:])
    _seen_from(network, ends, work, inner, slope, adjoint[:n])
    told = _told(network, line, table, defects, at, circuit, v, adjoint[:n], (current, inner[5]), lean)
    return told, worst, current


@njit(cache=True, nogil=True, error_model="numpy")
def _told(
    network: Any, line: Any, table: Any, defects: Any, at: Array, circuit: Any, v: Array, adjoint: Array,
    flow: Any, lean: Array,
) -> float:  # fmt: skip
    """The reading of a circuit that is solved, and its slopes; `flow` through the source and through junctions."""
    current, carried = flow
    ends, kind, figures = line[5], line[7], line[8]
    g, sat, _, _, strengths, shifts, slots = circuit
    numbers, own = defects
    place, spread = network[3][4], network[3][5]
    meter, tail = len(place) - 3, len(at) - len(own)
    leads = at[place[meter]] * spread[meter]
    volts, seen = v[ends[2]] - v[ends[3]], adjoint[ends[2]] - adjoint[ends[3]]
    value, by_volts, by_lead, by_current = _shown(kind, figures, volts, current, leads)
    y, steep = _compared(kind, figures[5], value)
    factor = by_volts * steep
    lean[:] = 0.0
    _leaned(network, v, adjoint, g, carried, factor, lean)
    lean[place[meter]] = by_lead * steep * spread[meter]
    through = by_lead * (figures[0] + leads) if kind == DIODE else 0.0
    lean[place[meter + 1]] = (by_volts * by_current * seen + through) * steep * spread[meter + 1]
    for d in range(len(numbers)):
        if numbers[d] >= 0 and slots[d] >= 0:
            own_lean = _lean_defect(
                table, line[0], numbers[d], shifts[d], strengths[d], network, v, adjoint, g, sat
            )  # fmt: skip
            lean[tail + slots[d]] += own_lean * factor * table[2][numbers[d]]
    return float(y)
