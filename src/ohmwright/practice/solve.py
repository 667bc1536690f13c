"""Node voltages of a small network of resistances, junctions and limited sources.

Dense, and independent of the program's own solver on purpose. Everything in the network conducts more the
more volts it gets, so the voltages are the one minimum of a convex function (the co-content: W. Millar,
Phil. Mag. 42, 1951, from memory), and Newton steps with a check of the slope along each step always arrive.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
THERMAL = 1.380649e-23 * 300.15 / 1.602176634e-19
"""kT/q at 27 °C; exact constants of the SI, 2019. [V]"""
GMIN = 1e-13
"""From every node to ground, so that nothing floats. [S]"""
STEEPEST = 60.0
"""Exponent above which a junction goes on as a straight line, so that no step overflows. [1]"""
BOLDEST = 4.0
"""Most volts any node moves in one step. [V]"""
SETTLED = 1e-10
"""Volts per step at which it has arrived. [V]"""
NOISE = 1e-5
"""Volts per step that rounding may keep up beside milliohms and megohms; four such steps in a row will do. [V]"""
ROUNDS = 400


@dataclass(slots=True)
class Network:
    """A network under construction; nodes are named, and ground is one of the names."""

    ground: str
    resistances: list[tuple[str, str, float]] = field(default_factory=list)
    """Ends and ohms. [Ω]"""
    junctions: list[tuple[str, str, float, float]] = field(default_factory=list)
    """Anode, cathode, volts at 1 mA, emission coefficient. [V], [1]"""
    sources: list[tuple[str, str, float, float, float]] = field(default_factory=list)
    """Plus, minus, most amperes, volts when open, ohms between: it never draws. [A], [V], [Ω]"""
    sinks: list[tuple[str, str, float, float, float]] = field(default_factory=list)
    """Plus, minus, most amperes, volts below which it draws nothing, ohms above. [A], [V], [Ω]"""


@dataclass(frozen=True)
class Solved:
    """Volts by node against ground, and amperes of sources and sinks in their order."""

    volts: dict[str, float]
    source_amps: tuple[float, ...]
    sink_amps: tuple[float, ...]

    def across(self, a: str, b: str) -> float:
        """Volts of `a` above `b`. [V]"""
        return self.volts.get(a, 0.0) - self.volts.get(b, 0.0)


def junction_amps(volts: float, drop: float, emission: float) -> float:
    """Amperes of a junction with that drop at 1 mA. [V], [V], [1]"""
    return 1e-3 * math.exp(min((volts - drop) / (emission * THERMAL), STEEPEST))


def solved(network: Network) -> Solved:
    """The one solution of a network.

    Raises
    ------
    ArithmeticError
        If it does not settle: a defect of this module.
    """
    branches = _Branches(network)
    v: Array = np.zeros(branches.count)
    calm = 0
    for _ in range(ROUNDS):
        surplus, slope = branches.surplus(v), branches.slope(v)
        step: Array = np.asarray(np.linalg.solve(slope, -surplus), dtype=np.float64)
        size = float(np.max(np.abs(step), initial=0.0))
        if size > BOLDEST:
            step *= BOLDEST / size
        share = _share(branches, v, step, float(surplus @ step))
        v = v + share * step
        calm = calm + 1 if size < NOISE else 0
        if size < SETTLED or calm == 4:
            return branches.answer(v)
    raise ArithmeticError("the practice network did not settle")


def _share(branches: _Branches, v: Array, step: Array, start: float) -> float:
    """How much of a step to go: until the function along it has lost half its slope, or more. [1]"""
    low, high, share = 0.0, 1.0, 1.0
    for _ in range(80):
        slope = float(branches.surplus(v + share * step) @ step)
        if slope <= -0.5 * start + 1e-30 and (share == 1.0 or slope >= 0.5 * start):
            return share
        low, high = (share, high) if slope < 0.0 else (low, share)
        share = 0.5 * (low + high)
    return share


class _Branches:
    """The network as arrays. Node -1 is ground."""

    def __init__(self, network: Network) -> None:
        names = dict.fromkeys(
            n
            for group in (network.resistances, network.junctions, network.sources, network.sinks)
            for branch in group
            for n in branch[:2]
        )
        self.names = [n for n in names if n != network.ground]
        self.ground = network.ground
        self.count = len(self.names)
        self.index = {n: i for i, n in enumerate(self.names)} | {network.ground: self.count}
        self.r = self._ends(network.resistances)
        self.j = self._ends(network.junctions)
        self.s = self._ends(network.sources)
        self.k = self._ends(network.sinks)
        self.conductance = 1.0 / np.array([b[2] for b in network.resistances], dtype=float)
        self.width = THERMAL * np.array([b[3] for b in network.junctions], dtype=float)
        drops = np.array([b[2] for b in network.junctions], dtype=float)
        # A steep junction with a large drop is a knee; its saturation current may be as small as floats go.
        self.saturation = 1e-3 * np.exp(np.maximum(-drops / self.width, -690.0)) if len(drops) else drops
        self.source = np.array([b[2:] for b in network.sources], dtype=float).reshape(-1, 3)
        self.sink = np.array([b[2:] for b in network.sinks], dtype=float).reshape(-1, 3)
        self.linear = np.zeros((self.count + 1, self.count + 1))
        self._stamp(self.linear, self.r, self.conductance)
        self.linear[np.arange(self.count), np.arange(self.count)] += GMIN

    def _ends(self, branches: list[tuple[str, str, float]] | list[tuple[str, str, float, float]]
              | list[tuple[str, str, float, float, float]]) -> NDArray[np.intp]:  # fmt: skip
        ends = [(self.index[b[0]], self.index[b[1]]) for b in branches]
        return np.array(ends, dtype=np.intp).reshape(-1, 2)

    @staticmethod
    def _stamp(matrix: Array, ends: NDArray[np.intp], conductance: Array) -> None:
        a, b = ends[:, 0], ends[:, 1]
        np.add.at(matrix, (a, a), conductance)
        np.add.at(matrix, (b, b), conductance)
        np.add.at(matrix, (a, b), -conductance)
        np.add.at(matrix, (b, a), -conductance)

    def surplus(self, v: Array) -> Array:
        """Current that leaves each node, zero once solved. [A]"""
        full = np.append(v, 0.0)
        out = self.linear @ full
        for ends, current in (
            (self.j, self._junction(full)[0]),
            (self.s, -self._source(full)[0]),
            (self.k, self._sink(full)[0]),
        ):
            np.add.at(out, ends[:, 0], current)
            np.add.at(out, ends[:, 1], -current)
        return np.asarray(out[: self.count])

    def slope(self, v: Array) -> Array:
        """Derivative of `surplus`: symmetric and positive. [S]"""
        full = np.append(v, 0.0)
        matrix = self.linear.copy()
        self._stamp(matrix, self.j, self._junction(full)[1])
        self._stamp(matrix, self.s, self._source(full)[1])
        self._stamp(matrix, self.k, self._sink(full)[1])
        return np.asarray(matrix[: self.count, : self.count])

    def _junction(self, full: Array) -> tuple[Array, Array]:
        x = (full[self.j[:, 0]] - full[self.j[:, 1]]) / self.width
        low = np.minimum(x, self._steepest)
        grown = self.saturation * np.exp(low)
        return grown * (1.0 + x - low) - self.saturation, grown / self.width

    @property
    def _steepest(self) -> Array:
        """Exponent at which each junction carries far more than any source here can give. [1]"""
        return np.asarray(np.log(1e-3 / np.maximum(self.saturation, 1e-306)) + STEEPEST / 2)

    def _source(self, full: Array) -> tuple[Array, Array]:
        amps, volts, ohms = self.source.T
        free = (volts - full[self.s[:, 0]] + full[self.s[:, 1]]) / ohms
        return np.clip(free, 0.0, amps), np.where((free > 0.0) & (free < amps), 1.0 / ohms, 0.0)

    def _sink(self, full: Array) -> tuple[Array, Array]:
        amps, volts, ohms = self.sink.T
        free = (full[self.k[:, 0]] - full[self.k[:, 1]] - volts) / ohms
        return np.clip(free, 0.0, amps), np.where((free > 0.0) & (free < amps), 1.0 / ohms, 0.0)

    def answer(self, v: Array) -> Solved:
        """The solution by name."""
        full = np.append(v, 0.0)
        volts = dict(zip(self.names, (float(x) for x in v), strict=True)) | {self.ground: 0.0}
        return Solved(
            volts,
            tuple(float(x) for x in self._source(full)[0]),
            tuple(float(x) for x in self._sink(full)[0]),
        )
