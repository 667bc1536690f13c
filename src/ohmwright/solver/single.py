"""One circuit, one answer: the plain door to the solver."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ohmwright.solver.elimination import Array
from ohmwright.solver.network import Network, Port
from ohmwright.solver.newton import LEAK, Shunts, Strengths, solve_columns


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Voltages of one solved network."""

    network: Network
    volts: Array
    currents: Array

    def voltage(self, net: str) -> float:
        """Voltage of a net against ground. [V]"""
        return float(self.volts[self.network.node_of[net]])

    def between(self, a: str, b: str) -> float:
        """Voltage of net a against net b. [V]"""
        return self.voltage(a) - self.voltage(b)

    def port_current(self, index: int) -> float:
        """Current the port of that index delivers. [A]"""
        return float(self.currents[index])


def solve(network: Network, ports: Sequence[Port] = (), leak: float = LEAK) -> Solution:
    """Solve one network of resistances, junctions and limited sources.

    Parameters
    ----------
    network : Network
    ports : sequence of Port
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
        ports,
        strengths.conductance[:, None],
        strengths.saturation[:, None],
        Shunts.none(),
        leak=leak,
    )
    return Solution(network, np.asarray(solved.volts[:, 0]), np.asarray(solved.port_current[:, 0]))
