"""One circuit, one answer: the plain door to the solver."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ohmwright.solver.elimination import Array
from ohmwright.solver.network import Network, Port
from ohmwright.solver.newton import LEAK, Shunts, Sources, Strengths, solve_columns


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Voltages of one solved network, and the current its source delivers. [A]"""

    network: Network
    volts: Array
    current: float

    def voltage(self, net: str) -> float:
        """Voltage of a net against ground. [V]"""
        return float(self.volts[self.network.node_of[net]])

    def between(self, a: str, b: str) -> float:
        """Voltage of net a against net b. [V]"""
        return self.voltage(a) - self.voltage(b)


def solve(network: Network, source: Port | None = None, leak: float = LEAK) -> Solution:
    """Solve one network of resistances, junctions and a limited source.

    Parameters
    ----------
    network : Network
    source : Port, optional
    leak : float
        Conductance from every net to ground. [S]

    Raises
    ------
    NoConvergenceError
        If the junctions do not settle.
    """
    strengths = Strengths(network)
    solved = solve_columns(
        strengths,
        Sources.of(network, source, 1),
        strengths.conductance[:, None],
        strengths.saturation[:, None],
        Shunts.none(),
        leak=leak,
    )
    return Solution(network, np.asarray(solved.volts[:, 0]), float(solved.current[0]))
