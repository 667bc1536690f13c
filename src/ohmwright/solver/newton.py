"""Newton's iteration for the junctions and current limits, all variants together.

Variants are columns. Each may change the strength of any element and carry fault resistances of its own;
what they share is the pattern. Junction steps are limited as circuit simulators do [1]_.

References
----------
.. [1] L. W. Nagel, "SPICE2: a computer program to simulate semiconductor circuits," Memorandum
   ERL-M520, University of California, Berkeley, 1975.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.constants import elementary_charge
from scipy.constants import k as boltzmann

from ohmwright import kernels
from ohmwright.errors import NoConvergenceError, UnknownNameError
from ohmwright.solver.elimination import Array, Factors
from ohmwright.solver.network import Network, Port
from ohmwright.solver.plan import Plan

TEMPERATURE = 300.15
"""Board temperature. [K]"""
THERMAL_VOLTAGE = boltzmann * TEMPERATURE / elementary_charge
"""kT/q at board temperature. [V] CODATA 2018"""
LEAK = 1e-12
"""Conductance of the bare board from every net to ground. [S] keeps a net of capacitors alone from floating"""
TOLERANCE = 3e-6
"""Largest step of a node at which the next one, which is always taken, is below a nanovolt. [V]"""
ROUNDS = 120


@dataclass(frozen=True, slots=True, eq=False)
class Sources:
    """One limited source for each variant: where it is clipped and what it drives.

    It drives ``min(current, (volts - v) / knee)`` out of `plus` into the network and takes it back at
    `minus`; it never sinks current. A current of zero is no source at all.

    Parameters
    ----------
    plus, minus : ndarray of int, shape (n_variants,)
        Nodes; -1 is ground.
    current : ndarray, shape (n_variants,)
        The most it drives. [A]
    volts : ndarray, shape (n_variants,)
        Open-circuit voltage. [V]
    knee : ndarray, shape (n_variants,)
        Output resistance near that voltage. [Ω]
    """

    plus: NDArray[np.intp]
    minus: NDArray[np.intp]
    current: Array
    volts: Array
    knee: Array

    @staticmethod
    def of(network: Network, port: Port | None, n_variants: int) -> Sources:
        """The same source in every variant, or none."""
        if port is None:
            nowhere, nothing = np.full(n_variants, -1, dtype=np.intp), np.zeros(n_variants)
            return Sources(nowhere, nowhere, nothing, nothing, np.ones(n_variants))
        a, b = _node(network, port.plus), _node(network, port.minus)
        return Sources(
            np.full(n_variants, a, dtype=np.intp),
            np.full(n_variants, b, dtype=np.intp),
            np.full(n_variants, port.current),
            np.full(n_variants, port.volts),
            np.full(n_variants, port.knee),
        )


Through = Callable[[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]], Array]


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """Node voltages of every variant, and what is needed for their sensitivities.

    Parameters
    ----------
    volts : ndarray, shape (n_nodes + 1, n_variants)
        Last row is ground. [V]
    unit : ndarray, shape (n_nodes + 1, n_variants)
        Voltages for one ampere through the source's two nodes, in the linearised network without it. [Ω]
    through : callable
        From nodes plus and minus, shape (n_chosen,), and the numbers of as many variants: voltages for one ampere
        through those, in the same network, shape (n_nodes + 1, n_chosen). [Ω]
    current : ndarray, shape (n_variants,)
        What the source delivers. [A]
    slope : ndarray, shape (n_variants,)
        Conductance of the source at the solution: 1/knee along its knee, else zero. [S]
    """

    volts: Array
    unit: Array
    through: Through
    current: Array
    slope: Array


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
        n_vt = self.n_vt
        self.v_crit = n_vt * np.log(n_vt / (np.sqrt(2.0) * self.saturation))

    @cached_property
    def plan(self) -> Plan:
        """The same for code that goes through one variant at a time."""
        return Plan(self.network.elimination, (self.r_a, self.r_b), (self.j_a, self.j_b))


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
    sources: Sources,
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
    sources : Sources
        One for each variant.
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
    compiled = kernels.ready()
    if compiled is None:
        return _Problem(strengths, sources, conductance, saturation, shunts, leak).solved(start)
    return _one_by_one(compiled, strengths, sources, (conductance, saturation, shunts, leak), start)


def _one_by_one(
    compiled: kernels.Compiled,
    strengths: Strengths,
    sources: Sources,
    board: tuple[Array, Array, Shunts, float],
    start: Array | None,
) -> Solved:
    """The same in compiled code."""
    conductance, saturation, shunts, leak = board
    plan, s = strengths.plan, shunts
    real = np.flatnonzero(s.a != s.b)
    real = real[np.argsort(s.column[real], kind="stable")]
    network = (plan.order, plan.r_place, plan.j_place, plan.j_a, plan.j_b, strengths.n_vt)
    strength = (
        np.ascontiguousarray(conductance.T), np.ascontiguousarray(saturation.T),
        plan.places(s.a[real], s.b[real]), s.column[real], s.conductance[real],
    )  # fmt: skip
    columns, n = len(sources.plus), plan.n_nodes
    volts = np.zeros((columns, n + 1)) if start is None else np.array(start.T, dtype=float, order="C")
    drive = (sources.plus, sources.minus, sources.current, sources.volts, sources.knee)
    limits = (leak, TOLERANCE, ROUNDS)
    unit, current, slope, worst = compiled.settle(
        network, strengths.v_crit, drive, strength, volts, plan.n_edges, limits
    )
    if worst.any():
        raise NoConvergenceError(np.flatnonzero(worst).tolist(), worst=float(worst.max()))

    def through(plus: NDArray[np.intp], minus: NDArray[np.intp], chosen: NDArray[np.intp]) -> Array:
        at = np.full(columns, -1, dtype=np.intp)
        at[chosen] = np.arange(len(chosen))
        own = at[strength[3]] >= 0
        some = (
            strength[0][chosen], strength[1][chosen], strength[2][own], at[strength[3][own]], strength[4][own],
        )  # fmt: skip
        return np.asarray(compiled.through(network, (plus, minus), some, volts[chosen], plan.n_edges, leak)).T

    return Solved(volts.T, unit.T, through, current, slope)


class _Problem:
    """A batch at work.

    Each round linearises the junctions and then meets the source exactly: seen from its two nodes the
    linear network is a voltage behind a resistance, and the source's broken line crosses that once.
    """

    def __init__(
        self,
        strengths: Strengths,
        sources: Sources,
        conductance: Array,
        saturation: Array,
        shunts: Shunts,
        leak: float,
    ) -> None:
        self.s = strengths
        self.source = sources
        self.n = strengths.network.n_nodes
        self.columns = len(sources.plus)
        self.edges = strengths.r_edges @ conductance
        self.grounds = strengths.r_grounds @ conductance + leak
        self._add_shunts(shunts)
        self.saturation = saturation
        self.v_crit = strengths.v_crit[:, None]

    def _add_shunts(self, shunts: Shunts) -> None:
        elimination = self.s.network.elimination
        for a, b, column, g in zip(
            shunts.a.tolist(), shunts.b.tolist(), shunts.column.tolist(), shunts.conductance.tolist(), strict=True
        ):
            if a == b:
                continue
            if a >= 0 and b >= 0:
                self.edges[elimination.edge(a, b), column] += g
            else:
                self.grounds[max(a, b), column] += g

    def solved(self, start: Array | None) -> Solved:
        v = np.zeros((self.n + 1, self.columns)) if start is None else np.array(start)
        across = np.minimum(v[self.s.j_a] - v[self.s.j_b], self.v_crit)
        worst = np.full(self.columns, np.inf)
        active = np.arange(self.columns)
        out = np.array(v)
        unsettled = np.ones(self.columns, dtype=bool)
        for round_number in range(ROUNDS):
            new = self._step(across, active)[0]
            change = np.abs(new - v).max(axis=0, initial=0.0)
            scale = np.abs(new).max(axis=0, initial=0.0)
            v = new if round_number < ROUNDS // 2 else v + 0.5 * (new - v)
            across, limited = self._limited(v, across, active)
            done = (change <= TOLERANCE + 1e-7 * scale) & ~limited
            worst[active] = change
            out[:, active] = v
            unsettled[active[done]] = False
            if done.all():
                break
            if done.any():
                keep = ~done
                active, v, across = active[keep], v[:, keep], across[:, keep]
        if unsettled.any():
            missing = np.flatnonzero(unsettled)
            raise NoConvergenceError(missing.tolist(), worst=float(worst[missing].max()))
        across = out[self.s.j_a] - out[self.s.j_b]
        volts, unit, factors, current, slope = self._step(across, np.arange(self.columns))

        def through(plus: NDArray[np.intp], minus: NDArray[np.intp], chosen: NDArray[np.intp]) -> Array:
            injected, here = np.zeros((self.n + 1, len(chosen))), np.arange(len(chosen))
            injected[plus, here] += 1.0
            injected[minus, here] -= 1.0
            shown = np.zeros_like(injected)
            shown[:-1] = self.s.network.elimination.voltages(factors.of_variants(chosen), injected[:-1])
            return shown

        return Solved(volts, unit, through, current, slope)

    def _step(self, across: Array, active: NDArray[np.intp]) -> tuple[Array, Array, Factors, Array, Array]:
        s = self.s
        n_vt = s.n_vt[:, None]
        whole = len(active) == self.columns
        sat = self.saturation if whole else self.saturation[:, active]
        grown = sat * np.exp(np.minimum(across / n_vt, 200.0))
        g_junction = grown / n_vt
        offset = (grown - sat) - g_junction * across
        edges = (self.edges if whole else self.edges[:, active]) + s.j_edges @ g_junction
        grounds = (self.grounds if whole else self.grounds[:, active]) + s.j_grounds @ g_junction
        factors = s.network.elimination.factors(edges, grounds)
        at = np.arange(len(active))
        plus, minus = self.source.plus[active], self.source.minus[active]
        injected = np.zeros((self.n + 1, 2, len(active)))
        injected[: self.n, 0] = -(s.j_incidence @ offset)
        injected[plus, 1, at] += 1.0
        injected[minus, 1, at] -= 1.0
        both = np.zeros((self.n + 1, 2, len(active)))
        both[: self.n] = s.network.elimination.voltages(factors, injected[: self.n])
        idle, unit = both[:, 0], both[:, 1]
        current, slope = self._driven(idle[plus, at] - idle[minus, at], unit[plus, at] - unit[minus, at], active)
        return idle + unit * current, unit, factors, current, slope

    def _driven(self, idle: Array, unit: Array, active: NDArray[np.intp]) -> tuple[Array, Array]:
        """Where the source's broken line meets the network as seen from its two nodes."""
        most, knee = self.source.current[active], self.source.knee[active]
        along = (self.source.volts[active] - idle) / (knee + unit)
        current = np.clip(along, 0.0, most)
        return current, np.where((along > 0.0) & (along < most), 1.0 / knee, 0.0)

    def _limited(self, v: Array, old: Array, active: NDArray[np.intp]) -> tuple[Array, NDArray[np.bool_]]:
        """Junction voltages after the step, held back where the exponential would run away."""
        new = v[self.s.j_a] - v[self.s.j_b]
        n_vt = self.s.n_vt[:, None]
        run = (new > self.v_crit) & (np.abs(new - old) > 2.0 * n_vt)
        row, col = np.nonzero(run)
        there = self.saturation[row, active[col]] > 0.0
        row, col = row[there], col[there]
        vt, was, now = self.s.n_vt[row], old[row, col], new[row, col]
        growth = 1.0 + (now - np.maximum(was, 0.0)) / vt
        new[row, col] = np.where(
            was > 0.0,
            np.where(growth > 0.0, was + vt * np.log(np.maximum(growth, 1e-300)), self.v_crit[row, 0]),
            vt * np.log(np.maximum(now / vt, 1e-300)),
        )
        limited = np.zeros(v.shape[1], dtype=bool)
        limited[col] = True
        return new, limited


def _node(network: Network, net: str) -> int:
    try:
        return network.node_of[net]
    except KeyError:
        raise UnknownNameError.among("net", net, network.nets) from None
