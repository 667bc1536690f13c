"""Newton's iteration for the junctions and current limits, all variants together.

Variants are columns. Each may change the strength of any element and carry fault resistances of its own;
what they share is the pattern. Junction steps are limited as circuit simulators do [1]_.

References
----------
.. [1] L. W. Nagel, "SPICE2: a computer program to simulate semiconductor circuits," Memorandum
   ERL-M520, University of California, Berkeley, 1975.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.constants import elementary_charge
from scipy.constants import k as boltzmann

from ohmwright.errors import NoConvergenceError, UnknownNameError
from ohmwright.solver.elimination import Array, Factors
from ohmwright.solver.network import Network, Port

TEMPERATURE = 300.15
"""Board temperature. [K]"""
THERMAL_VOLTAGE = boltzmann * TEMPERATURE / elementary_charge
"""kT/q at board temperature. [V] CODATA 2018"""
LEAK = 1e-12
"""Conductance of the bare board from every net to ground. [S] keeps a net of capacitors alone from floating"""
_TOLERANCE = 1e-9
_ROUNDS = 120


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """Node voltages of every variant, and what is needed for their sensitivities.

    Parameters
    ----------
    volts : ndarray, shape (n_nodes + 1, n_variants)
        Last row is ground. [V]
    factors : Factors
        Of the linearised network at the solution.
    port_current : ndarray, shape (n_ports, n_variants)
        [A]
    settled : ndarray of bool, shape (n_variants,)
    """

    volts: Array
    factors: Factors
    port_current: Array
    settled: NDArray[np.bool_]


def saturation_current(drop: float, emission: float) -> float:
    """Saturation current of a junction that drops `drop` at 1 mA.

    Parameters
    ----------
    drop : float
        [V]
    emission : float
        [1]

    Returns
    -------
    float
        [A]
    """
    return float(1e-3 / np.expm1(drop / (emission * THERMAL_VOLTAGE)))


class Strengths:
    """Base conductances and saturation currents of a network's elements, with where they go."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.r_index = np.array(network.resistive, dtype=np.intp)
        self.j_index = np.array(network.junctions, dtype=np.intp)
        self.r_a, self.r_b = network.ends(network.resistive)
        self.j_a, self.j_b = network.ends(network.junctions)
        elements = network.elements
        self.conductance = np.array([1.0 / elements[i].median for i in network.resistive])
        self.n_vt = np.array([elements[i].emission * THERMAL_VOLTAGE for i in network.junctions])
        self.saturation = np.array(
            [saturation_current(elements[i].median, elements[i].emission) for i in network.junctions]
        )
        self.r_edges, self.r_grounds = network.place(self.r_a, self.r_b)
        self.j_edges, self.j_grounds = network.place(self.j_a, self.j_b)
        self.j_incidence = network.incidence(self.j_a, self.j_b)


@dataclass(frozen=True, slots=True, eq=False)
class Shunts:
    """Fault resistances of the variants: entry k puts `conductance[k]` between two nodes in `column[k]`."""

    a: NDArray[np.intp]
    b: NDArray[np.intp]
    column: NDArray[np.intp]
    conductance: Array

    @staticmethod
    def none() -> Shunts:
        """No fault in any variant."""
        empty = np.array([], dtype=np.intp)
        return Shunts(empty, empty, empty, np.array([]))


def solve_columns(
    strengths: Strengths,
    ports: Sequence[Port],
    conductance: Array,
    saturation: Array,
    shunts: Shunts,
    start: Array | None = None,
    leak: float = LEAK,
) -> Solved:
    """Solve all variants of a network.

    Parameters
    ----------
    strengths : Strengths
    ports : sequence of Port
        The same in every variant.
    conductance : ndarray, shape (n_resistive, n_variants)
        [S] zero for an element that is open.
    saturation : ndarray, shape (n_junctions, n_variants)
        [A] zero for a junction that is open.
    shunts : Shunts
    start : ndarray, shape (n_nodes + 1, n_variants), optional
        First guess of the voltages. [V]
    leak : float
        From every node to ground. [S]

    Raises
    ------
    NoConvergenceError
        If some variant does not settle.
    """
    problem = _Problem(strengths, ports, conductance, saturation, shunts, leak)
    return problem.solved(start)


class _Problem:
    def __init__(
        self,
        strengths: Strengths,
        ports: Sequence[Port],
        conductance: Array,
        saturation: Array,
        shunts: Shunts,
        leak: float,
    ) -> None:
        self.s = strengths
        net = strengths.network
        self.n = net.n_nodes
        self.columns = conductance.shape[1] if conductance.size else saturation.shape[1]
        self.edges = strengths.r_edges @ conductance
        self.grounds = strengths.r_grounds @ conductance + leak
        self._add_shunts(shunts)
        self.saturation = saturation
        nodes = [(_node(net, p.plus), _node(net, p.minus)) for p in ports]
        self.p_a = np.array([n[0] for n in nodes], dtype=np.intp)
        self.p_b = np.array([n[1] for n in nodes], dtype=np.intp)
        self.p_edges, self.p_grounds = net.place(self.p_a, self.p_b)
        self.p_incidence = net.incidence(self.p_a, self.p_b)
        self.p_current = np.array([[p.current] for p in ports])
        self.p_volts = np.array([[p.volts] for p in ports])
        self.p_knee = np.array([[p.knee] for p in ports])
        self.v_crit = (
            strengths.n_vt[:, None]
            * np.log(strengths.n_vt[:, None] / (np.sqrt(2.0) * strengths.saturation[:, None]))
            if len(strengths.n_vt)
            else np.zeros((0, 1))
        )

    def _add_shunts(self, shunts: Shunts) -> None:
        net = self.s.network
        for a, b, column, g in zip(
            shunts.a.tolist(), shunts.b.tolist(), shunts.column.tolist(), shunts.conductance.tolist(), strict=True
        ):
            if a == b:
                continue
            if a >= 0 and b >= 0:
                self.edges[net.elimination.edge(a, b), column] += g
            else:
                self.grounds[max(a, b), column] += g

    def solved(self, start: Array | None) -> Solved:
        v = np.zeros((self.n + 1, self.columns)) if start is None else np.array(start)
        across = np.minimum(v[self.s.j_a] - v[self.s.j_b], self.v_crit)
        region = np.ones((len(self.p_a), self.columns), dtype=np.int8)
        if start is not None:
            region = np.where(v[self.p_a] - v[self.p_b] < self.p_volts - self.p_knee * self.p_current, 2, region)
        settled = np.zeros(self.columns, dtype=bool)
        worst = np.full(self.columns, np.inf)
        active = np.arange(self.columns)
        out = np.array(v)
        regions = np.array(region)
        for round_number in range(_ROUNDS):
            new, _, _ = self._step(across, region, active)
            change = np.abs(new - v).max(axis=0, initial=0.0)
            scale = np.abs(new).max(axis=0, initial=0.0)
            v = new if round_number < _ROUNDS // 2 else v + 0.5 * (new - v)
            across, limited = self._limited(v, across, active)
            moved = self._moved(v, region)
            done = (change <= _TOLERANCE + 1e-10 * scale) & ~limited & (moved == region).all(axis=0)
            region = moved
            worst[active] = change
            out[:, active] = v
            regions[:, active] = region
            settled[active[done]] = True
            if done.all():
                break
            if done.any():
                keep = ~done
                active, v, across, region = active[keep], v[:, keep], across[:, keep], region[:, keep]
        if not settled.all():
            missing = np.flatnonzero(~settled)
            raise NoConvergenceError(missing.tolist(), worst=float(worst[missing].max()))
        across = out[self.s.j_a] - out[self.s.j_b]
        final, factors, currents = self._step(across, regions, np.arange(self.columns))
        return Solved(final, factors, currents, settled)

    def _step(
        self, across: Array, region: NDArray[np.int8], active: NDArray[np.intp]
    ) -> tuple[Array, Factors, Array]:
        s = self.s
        n_vt = s.n_vt[:, None]
        sat = self.saturation[:, active]
        grown = sat * np.exp(np.minimum(across / n_vt, 200.0))
        g_junction = grown / n_vt
        offset = (grown - sat) - g_junction * across
        linear = region == 1
        g_port = np.where(linear, 1.0 / self.p_knee, 0.0)
        i_port = np.where(linear, self.p_volts / self.p_knee, np.where(region == 2, self.p_current, 0.0))
        edges = self.edges[:, active] + s.j_edges @ g_junction + self.p_edges @ g_port
        grounds = self.grounds[:, active] + s.j_grounds @ g_junction + self.p_grounds @ g_port
        injected = -(s.j_incidence @ offset) + self.p_incidence @ i_port
        eliminate = s.network.elimination
        factors = eliminate.factors(edges, grounds)
        volts = np.zeros((self.n + 1, len(active)))
        volts[: self.n] = eliminate.voltages(factors, injected)
        at_port = volts[self.p_a] - volts[self.p_b]
        return volts, factors, i_port - g_port * at_port

    def _moved(self, v: Array, region: NDArray[np.int8]) -> NDArray[np.int8]:
        """Region of each source after the step: 0 off, 1 along its knee, 2 at its limit.

        From one end a source returns to the other only by way of its knee; a jump straight across would
        swing for ever on a stiff source.
        """
        at = v[self.p_a] - v[self.p_b]
        along = (self.p_volts - at) / self.p_knee
        slack = 1e-9 * self.p_current
        from_knee = np.where(along > self.p_current + slack, 2, np.where(along < -slack, 0, 1))
        from_limit = np.where(along < self.p_current - slack, 1, 2)
        from_off = np.where(along > slack, 1, 0)
        moved = np.where(region == 1, from_knee, np.where(region == 2, from_limit, from_off))
        return moved.astype(np.int8)

    def _limited(self, v: Array, old: Array, active: NDArray[np.intp]) -> tuple[Array, NDArray[np.bool_]]:
        """Junction voltages after the step, held back where the exponential would run away."""
        new = v[self.s.j_a] - v[self.s.j_b]
        if not new.size:
            return new, np.zeros(v.shape[1], dtype=bool)
        n_vt = self.s.n_vt[:, None]
        there = self.saturation[:, active] > 0.0
        run = there & (new > self.v_crit) & (np.abs(new - old) > 2.0 * n_vt)
        base = np.where(old > 0.0, old, 0.0)
        growth = 1.0 + (new - base) / n_vt
        held = np.where(
            old > 0.0,
            np.where(growth > 0.0, old + n_vt * np.log(np.maximum(growth, 1e-300)), self.v_crit),
            n_vt * np.log(np.maximum(new / n_vt, 1e-300)),
        )
        return np.where(run, held, new), np.asarray(run.any(axis=0))


def _node(network: Network, net: str) -> int:
    try:
        return network.node_of[net]
    except KeyError:
        raise UnknownNameError.among("net", net, network.nets) from None
