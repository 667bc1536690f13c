"""Networks whose answer is known in closed form."""

from __future__ import annotations

import math
from itertools import combinations

import pytest
from scipy.special import lambertw

from ohmwright.circuit import Element, ElementKind
from ohmwright.solver import THERMAL_VOLTAGE, Network, Port, saturation_current, solve

STIFF = 1e9
"""Compliance of a source that is to act as a pure current source. [V]"""


def resistances(*triples: tuple[str, str, float]) -> tuple[Element, ...]:
    return tuple(
        Element(f"R{i}", "body", ElementKind.RESISTIVE, a, b, value, 0.0) for i, (a, b, value) in enumerate(triples)
    )


def resistance_between(elements: tuple[Element, ...], a: str, b: str) -> float:
    nets = tuple(sorted({net for e in elements for net in (e.a, e.b)}))
    solution = solve(Network(nets, b, elements), Port(a, b, 1e-3, STIFF, 1.0), leak=0.0)
    return solution.voltage(a) / 1e-3


def test_unbalanced_bridge() -> None:
    # exact by rational nodal analysis: 11700/71 ohms
    bridge = resistances(("0", "1", 100), ("1", "3", 200), ("0", "2", 300), ("2", "3", 150), ("1", "2", 50))
    assert resistance_between(bridge, "3", "0") == pytest.approx(11700 / 71, rel=1e-9)


def test_balanced_bridge_carries_nothing() -> None:
    bridge = resistances(("0", "1", 100), ("1", "3", 200), ("0", "2", 150), ("2", "3", 300), ("1", "2", 50))
    solution = solve(Network(("0", "1", "2", "3"), "0", bridge), Port("3", "0", 1e-3, STIFF, 1.0), leak=0.0)
    assert resistance_between(bridge, "3", "0") == pytest.approx(180, rel=1e-9)
    assert solution.between("1", "2") == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize(("corner", "expected"), [("001", 7 / 12), ("011", 3 / 4), ("111", 5 / 6)])
def test_cube_of_twelve_ohms(corner: str, expected: float) -> None:
    # classic: edge, face diagonal, body diagonal
    corners = [f"{i:03b}" for i in range(8)]
    edges = [(a, b, 1.0) for a, b in combinations(corners, 2) if sum(x != y for x, y in zip(a, b, strict=True)) == 1]
    assert resistance_between(resistances(*edges), corner, "000") == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("sections", "expected"), [(1, 2), (2, 5 / 3), (3, 13 / 8), (4, 34 / 21), (5, 89 / 55)])
def test_ladder_of_ones_gives_fibonacci_ratios(sections: int, expected: float) -> None:
    rungs = [(f"n{k}", f"n{k + 1}", 1.0) for k in range(sections)] + [(f"n{k + 1}", "0", 1.0) for k in range(sections)]
    assert resistance_between(resistances(*rungs), "n0", "0") == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("x", "y", "expected"), [(1, 0, 0.501246663), (1, 1, 0.639140197), (2, 1, 0.779607197)])
def test_square_lattice_of_21_by_21(x: int, y: int, expected: float) -> None:
    # independent sparse solve; the infinite lattice tends to 1/2, 2/pi and 4/pi - 1/2
    # (Atkinson and van Steenwijk, Am. J. Phys. 67 (1999) 486)
    size, middle = 21, 10
    right = [(f"{i},{j}", f"{i + 1},{j}", 1.0) for i in range(size - 1) for j in range(size)]
    down = [(f"{i},{j}", f"{i},{j + 1}", 1.0) for i in range(size) for j in range(size - 1)]
    found = resistance_between(resistances(*right, *down), f"{middle + x},{middle + y}", f"{middle},{middle}")
    assert found == pytest.approx(expected, abs=2e-9)


@pytest.mark.parametrize("volts", [0.3, 1.0, 5.0])
@pytest.mark.parametrize("resistance", [10.0, 1e3, 1e6])
@pytest.mark.parametrize("emission", [1.0, 1.8])
def test_diode_behind_a_resistor(volts: float, resistance: float, emission: float) -> None:
    # closed form by the Lambert W function (Banwell and Jayakumar, Electron. Lett. 36 (2000) 291; from memory)
    drop = 0.62
    scale, saturation = emission * THERMAL_VOLTAGE, saturation_current(drop, emission)
    argument = saturation * resistance / scale * math.exp((volts + saturation * resistance) / scale)
    if not math.isfinite(argument):
        raise AssertionError("choose milder values: the closed form overflows")
    current = scale / resistance * float(lambertw(argument).real) - saturation
    junction = Element("D1", "junction", ElementKind.JUNCTION, "a", "0", drop, 0.0, emission)
    solution = solve(Network(("a", "0"), "0", (junction,)), Port("a", "0", 1e3, volts, resistance), leak=0.0)
    assert solution.current == pytest.approx(current, rel=1e-6)
