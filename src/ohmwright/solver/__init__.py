"""Nodal analysis of resistances and junctions, many variants at once. It does not know that faults exist."""

from ohmwright.solver.elimination import Elimination, Factors
from ohmwright.solver.linear import node_voltages
from ohmwright.solver.network import Network, Port
from ohmwright.solver.newton import (
    LEAK,
    ROUNDS,
    THERMAL_VOLTAGE,
    TOLERANCE,
    Shunts,
    Solved,
    Sources,
    Strengths,
    saturation_current,
    solve_columns,
)
from ohmwright.solver.single import Solution, solve

__all__ = [
    "LEAK",
    "ROUNDS",
    "THERMAL_VOLTAGE",
    "TOLERANCE",
    "Elimination",
    "Factors",
    "Network",
    "Port",
    "Shunts",
    "Solution",
    "Solved",
    "Sources",
    "Strengths",
    "node_voltages",
    "saturation_current",
    "solve",
    "solve_columns",
]
