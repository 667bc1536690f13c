"""The third solver, for what the circuit simulator leaves over: dense Newton with a shrinking shunt.

It is written against the same netlist and nothing else. Every node gets a conductance to ground that is
lowered step by step (gmin stepping); within a step junction voltages are limited in the old way of
simulators, so that an exponential never runs away.
"""

from __future__ import annotations

import math

import numpy as np

from judge.netlist import THERMAL, Network

Vector = np.ndarray
FLOOR = 1e-13
"""Conductance that stays across every junction. [S]"""
TIE = 1e-12
"""Conductance that stays from every node to ground. [S]"""


class NoSolution(Exception):
    """Newton's method did not settle."""


class _Stamps:
    """The network as arrays; ground is the last index."""

    def __init__(self, network: Network, shift: tuple[tuple[str, str, float], ...]) -> None:
        nodes = network.nodes
        inner = [f"{k}#" for k, j in enumerate(network.junctions) if j[4] > 0.0]
        self.names = (*nodes, *inner)
        at = {name: k for k, name in enumerate(self.names)}
        at[network.ground] = len(self.names)
        size = len(self.names) + 1
        self.fixed = np.zeros((size, size))
        self.pushed = np.zeros(size)
        for a, b, ohms in network.resistances:
            self._conduct(at[a], at[b], 1.0 / ohms)
        anodes, cathodes, currents, emissions = [], [], [], []
        for k, (a, c, amps, emission, series) in enumerate(network.junctions):
            anode = at[a]
            if series > 0.0:
                anode = at[f"{k}#"]
                self._conduct(at[a], anode, 1.0 / series)
            anodes.append(anode)
            cathodes.append(at[c])
            currents.append(amps)
            emissions.append(emission)
            self._conduct(anode, at[c], FLOOR)
        for a, b, amps in (*network.sources, *shift):
            self.pushed[at[a]] -= amps
            self.pushed[at[b]] += amps
        self.anode, self.cathode = np.array(anodes, dtype=int), np.array(cathodes, dtype=int)
        self.amps = np.array(currents)
        self.scale = np.array(emissions) * THERMAL

    def _conduct(self, a: int, b: int, siemens: float) -> None:
        self.fixed[a, a] += siemens
        self.fixed[b, b] += siemens
        self.fixed[a, b] -= siemens
        self.fixed[b, a] -= siemens


def _limited(new: Vector, old: Vector, scale: Vector, critical: Vector) -> Vector:
    """Junction voltages that do not leap where the exponential is steep."""
    up = new > critical
    step = (new - old) / scale
    grown = np.where(step > -1.0, old + scale * np.log1p(np.maximum(step, -0.999)), critical)
    grown = np.where(old > 0.0, grown, scale * np.log(np.maximum(new, 1e-30) / scale))
    return np.where(up & (np.abs(new - old) > 2.0 * scale), grown, new)


def _settle(stamps: _Stamps, volts: Vector, junction: Vector, shunt: float) -> tuple[Vector, Vector]:
    size = len(volts)
    critical = stamps.scale * np.log(stamps.scale / (math.sqrt(2.0) * stamps.amps)) if len(stamps.amps) else stamps.amps
    for turn in range(300):
        grown = np.exp(np.clip(junction / stamps.scale, -200.0, 200.0))
        slope = stamps.amps / stamps.scale * grown
        extra = stamps.amps * (grown - 1.0) - slope * junction
        matrix = stamps.fixed[:-1, :-1] + np.diag(np.full(size, shunt + TIE))
        full = np.zeros((size + 1, size + 1))
        right = stamps.pushed.copy()
        for sign, a, b in ((1.0, stamps.anode, stamps.anode), (1.0, stamps.cathode, stamps.cathode)):
            np.add.at(full, (a, b), sign * slope)
        np.add.at(full, (stamps.anode, stamps.cathode), -slope)
        np.add.at(full, (stamps.cathode, stamps.anode), -slope)
        np.add.at(right, stamps.anode, -extra)
        np.add.at(right, stamps.cathode, extra)
        new = np.linalg.solve(matrix + full[:-1, :-1], right[:-1])
        padded = np.append(new, 0.0)
        wanted = padded[stamps.anode] - padded[stamps.cathode]
        limited = _limited(wanted, junction, stamps.scale, critical)
        # Large currents beside tiny ones leave the last digits restless; microvolts are enough then.
        fine = 1.0 if turn < 100 else 1e3
        done = all(
            np.allclose(one, other, rtol=1e-8 * fine, atol=1e-9 * fine)
            for one, other in ((new, volts), (limited, wanted))
        )
        volts, junction = new, limited
        if done:
            return volts, junction
    raise NoSolution


def solve(network: Network, shift: tuple[tuple[str, str, float], ...] = ()) -> dict[str, float]:
    """Volts of every node against ground; `shift` are further current sources. [V]"""
    stamps = _Stamps(network, shift)
    volts = np.zeros(len(stamps.names))
    junction = np.zeros(len(stamps.amps))
    for shunt in (1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9, 1e-10, 1e-11, 0.0):
        volts, junction = _settle(stamps, volts, junction, shunt)
    found = dict(zip(stamps.names, (float(v) for v in volts), strict=True))
    found[network.ground] = 0.0
    return found
