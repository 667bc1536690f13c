"""The third solver, for what the circuit simulator leaves over: sparse Newton with a shrinking shunt.

It is written against the same netlist and nothing else. Every node gets a conductance to ground that is
lowered step by step (gmin stepping); within a step junction voltages are limited in the old way of
simulators, so that an exponential never runs away.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import splu

from judge.netlist import THERMAL, Network

Vector = NDArray[np.float64]
FLOOR = 1e-13
"""Conductance that stays across every junction. [S]"""
TIE = 1e-12
"""Conductance that stays from every node to ground. [S]"""
SHUNTS = (*(10.0**-k for k in range(2, 12)), 0.0)
"""Conductances of the steps. [S]"""
RESTLESS = 100
"""Turns after which microvolts are enough."""


class NoSolution(Exception):
    """Newton's method did not settle."""


class _Stamps:
    """The network as arrays; ground is the last index and its row and column are dropped."""

    def __init__(self, network: Network, shift: tuple[tuple[str, str, float], ...]) -> None:
        inner = [f"{k}#" for k, junction in enumerate(network.junctions) if junction[4] > 0.0]
        self.names = (*network.nodes, *inner)
        at = {name: k for k, name in enumerate(self.names)}
        at[network.ground] = len(self.names)
        ends: list[tuple[int, int, float]] = [(at[a], at[b], 1.0 / ohms) for a, b, ohms in network.resistances]
        pairs: list[tuple[int, int]] = []
        for k, (a, c, _, _, series) in enumerate(network.junctions):
            anode = at[f"{k}#"] if series > 0.0 else at[a]
            if series > 0.0:
                ends.append((at[a], anode, 1.0 / series))
            pairs.append((anode, at[c]))
        self.anode = np.array([a for a, _ in pairs], dtype=int)
        self.cathode = np.array([c for _, c in pairs], dtype=int)
        self.first = np.concatenate([np.array([e[0] for e in ends], dtype=int), self.anode])
        self.second = np.concatenate([np.array([e[1] for e in ends], dtype=int), self.cathode])
        self.fixed = np.array([e[2] for e in ends])
        self.pushed = np.zeros(len(self.names) + 1)
        for a, b, amps in (*network.sources, *shift):
            self.pushed[at[a]] -= amps
            self.pushed[at[b]] += amps
        self.amps = np.array([junction[2] for junction in network.junctions])
        self.scale = np.array([junction[3] for junction in network.junctions]) * THERMAL
        self.critical = self.scale * np.log(self.scale / (math.sqrt(2.0) * self.amps)) if pairs else self.amps

    def solved(self, slope: Vector, right: Vector, shunt: float) -> Vector:
        """Node volts for junctions replaced by their tangents. [V]"""
        size = len(self.names)
        siemens = np.concatenate([self.fixed, slope + FLOOR])
        every = np.arange(size)
        rows = np.concatenate([self.first, self.second, self.first, self.second, every])
        columns = np.concatenate([self.first, self.second, self.second, self.first, every])
        values = np.concatenate([siemens, siemens, -siemens, -siemens, np.full(size, shunt + TIE)])
        kept = (rows < size) & (columns < size)
        matrix = coo_matrix((values[kept], (rows[kept], columns[kept])), shape=(size, size)).tocsc()
        return np.asarray(splu(matrix).solve(right[:size]), dtype=float)


def _limited(new: Vector, old: Vector, scale: Vector, critical: Vector) -> Vector:
    """Junction voltages that do not leap where the exponential is steep."""
    step = (new - old) / scale
    grown = np.where(step > -1.0, old + scale * np.log1p(np.maximum(step, -0.999)), critical)
    grown = np.where(old > 0.0, grown, scale * np.log(np.maximum(new, 1e-30) / scale))
    return np.where((new > critical) & (np.abs(new - old) > 2.0 * scale), grown, new)


def _settle(stamps: _Stamps, volts: Vector, junction: Vector, shunt: float) -> tuple[Vector, Vector]:
    for turn in range(300):
        grown = np.exp(np.clip(junction / stamps.scale, -200.0, 200.0))
        slope = stamps.amps / stamps.scale * grown
        extra = stamps.amps * (grown - 1.0) - slope * junction
        right = stamps.pushed.copy()
        np.add.at(right, stamps.anode, -extra)
        np.add.at(right, stamps.cathode, extra)
        new = stamps.solved(slope, right, shunt)
        padded = np.append(new, 0.0)
        wanted = padded[stamps.anode] - padded[stamps.cathode]
        limited = _limited(wanted, junction, stamps.scale, stamps.critical)
        # Large currents beside tiny ones leave the last digits restless.
        fine = 1.0 if turn < RESTLESS else 1e3
        still = np.allclose(new, volts, rtol=1e-8 * fine, atol=1e-9 * fine)
        done = still and np.allclose(limited, wanted, rtol=1e-8 * fine, atol=1e-9 * fine)
        volts, junction = new, limited
        if done:
            return volts, junction
    raise NoSolution


def solve(network: Network, shift: tuple[tuple[str, str, float], ...] = ()) -> dict[str, float]:
    """Volts of every node against ground; `shift` are further current sources. [V]

    Raises
    ------
    NoSolution
        If a step does not settle.
    """
    stamps = _Stamps(network, shift)
    volts = np.zeros(len(stamps.names))
    junction = np.zeros(len(stamps.amps))
    for shunt in SHUNTS:
        volts, junction = _settle(stamps, volts, junction, shunt)
    found = dict(zip(stamps.names, (float(v) for v in volts), strict=True))
    found[network.ground] = 0.0
    return found
