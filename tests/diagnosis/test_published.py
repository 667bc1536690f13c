"""The belief core against published diagnoses, through the classes the product uses."""

from __future__ import annotations

from collections.abc import Hashable
from itertools import chain, combinations, product

import numpy as np
import pytest

from ohmwright.diagnosis import Belief, minimal_sets
from ohmwright.planning import best_test, minutes_to_go

Sets = list[frozenset[str]]


def subsets(parts: list[str]) -> Sets:
    return [frozenset(s) for s in chain.from_iterable(combinations(parts, n) for n in range(len(parts) + 1))]


POLYBOX = ["M1", "M2", "M3", "A1", "A2"]
INPUTS = {"a": 3, "b": 2, "c": 2, "d": 3, "e": 3}


def polybox_allows(bad: frozenset[str], seen: dict[str, int]) -> bool:
    """Whether a fault set is consistent: each output of a bad part is free, so the sound equations decide.

    de Kleer and Williams, "Diagnosing multiple faults", Artificial Intelligence 32 (1987) 97-130.
    """
    names = ["x", "y", "z", "f", "g"]
    rows, values = [], []

    def equation(terms: dict[str, int], value: int) -> None:
        rows.append([terms.get(name, 0) for name in names])
        values.append(value)

    for part, name, value in (("M1", "x", 3 * 2), ("M2", "y", 2 * 3), ("M3", "z", 2 * 3)):
        if part not in bad:
            equation({name: 1}, value)
    if "A1" not in bad:
        equation({"f": 1, "x": -1, "y": -1}, 0)
    if "A2" not in bad:
        equation({"g": 1, "y": -1, "z": -1}, 0)
    for name, value in seen.items():
        equation({name: 1}, value)
    matrix, right = np.array(rows), np.array(values)
    with_right = np.column_stack((matrix, right))
    return bool(np.linalg.matrix_rank(matrix) == np.linalg.matrix_rank(with_right))


def polybox_prediction(bad: frozenset[str], seen: dict[str, int], name: str) -> int | None:
    """The value a fault set predicts at a point, or None where it is free."""
    found = [v for v in range(30) if polybox_allows(bad, {**seen, name: v})]
    return found[0] if len(found) == 1 else None


def polybox_belief() -> Belief:
    cells: Sets = subsets(POLYBOX)
    return Belief.of(cells, [0.01 ** len(s) * 0.99 ** (5 - len(s)) for s in cells])


def told(belief: Belief, seen: dict[str, int], m: int | None = None) -> Belief:
    """The belief after measurements, by elimination, or with 1/m for a value a fault set leaves free."""
    known: dict[str, int] = {}
    for name, value in seen.items():
        likelihood = []
        for cell in belief.cells:
            assert isinstance(cell, frozenset)
            if not polybox_allows(cell, known):
                likelihood.append(0.0)
                continue
            predicted = polybox_prediction(cell, known, name)
            free = 1.0 if m is None else 1.0 / m
            likelihood.append(free if predicted is None else float(predicted == value))
        belief = belief.after(np.array(likelihood))
        known[name] = value
    return belief


def possible(belief: Belief) -> Sets:
    return [
        c
        for c, p in zip(belief.cells, belief.probabilities.tolist(), strict=True)
        if p > 0 and isinstance(c, frozenset)
    ]


def named(*sets: str) -> set[frozenset[str]]:
    return {frozenset(s.split()) for s in sets}


@pytest.mark.parametrize(
    ("seen", "diagnoses"),
    [
        ({"f": 10, "g": 12}, named("A1", "M1", "A2 M2", "M2 M3")),
        ({"f": 10, "g": 10}, named("M2", "A1 A2", "A1 M3", "A2 M1", "M1 M3")),
        ({"f": 10}, named("A1", "M1", "M2")),
        ({"f": 10, "g": 12, "x": 4}, named("M1")),
        ({"f": 10, "g": 12, "x": 6}, named("A1", "A2 M2", "M2 M3")),
    ],
)
def test_polybox_minimal_diagnoses(seen: dict[str, int], diagnoses: set[frozenset[str]]) -> None:
    """First two lines as published in 1987 (from memory); all five by exhaustive rank tests of 32 subsets."""
    assert set(minimal_sets(possible(told(polybox_belief(), seen)))) == diagnoses


def test_polybox_probabilities_by_elimination() -> None:
    """Independent computation: prior 0.01 each, inconsistent sets removed."""
    belief = told(polybox_belief(), {"f": 10, "g": 12})
    p = dict(zip(belief.cells, belief.probabilities.tolist(), strict=True))
    assert len(possible(belief)) == 27
    assert p[frozenset({"M1"})] == pytest.approx(0.478026, abs=1e-6)
    assert p[frozenset({"A1"})] == pytest.approx(0.478026, abs=1e-6)
    assert p[frozenset({"M2", "M3"})] == pytest.approx(0.00482855, abs=1e-8)
    marginal = {part: sum(q for cell, q in p.items() if part in cell) for part in POLYBOX}  # type: ignore[operator]  # cells are sets here
    assert marginal == pytest.approx(
        {"M1": 0.497635, "A1": 0.497635, "M2": 0.019609, "M3": 0.01478, "A2": 0.01478}, abs=1e-6
    )


def test_polybox_probabilities_with_free_values() -> None:
    """The 1/m rule of 1987 with m = 16, computed independently in two ways."""
    belief = told(polybox_belief(), {"f": 10, "g": 12}, m=16)
    p = dict(zip(belief.cells, belief.probabilities.tolist(), strict=True))
    assert p[frozenset({"A1"})] == pytest.approx(0.496226, abs=2e-6)
    assert p[frozenset({"M1", "A1"})] == pytest.approx(0.005012, abs=2e-6)
    assert p[frozenset({"M2", "M3"})] == pytest.approx(0.000313, abs=2e-6)


def test_polybox_next_probe() -> None:
    """x tells most, as published; gains 1.033189, 0.081189 and 0.046984 bit computed independently (m = 16)."""
    seen = {"f": 10, "g": 12}
    belief = told(polybox_belief(), seen)
    gains = {}
    for name in "xyz":
        predicted = [polybox_prediction(c, seen, name) for c in belief.cells if isinstance(c, frozenset)]
        values = sorted({v for v in predicted if v is not None})
        table = np.full((len(predicted), 16), 1.0 / 16.0)
        for row, value in enumerate(predicted):
            if value is not None:
                table[row] = 0.0
                table[row, values.index(value)] = 1.0
        gains[name] = belief.expected_information(table)
    assert gains == pytest.approx({"x": 1.033189, "y": 0.081189, "z": 0.046984}, abs=2e-6)


def full_adder_allows(bad: frozenset[str]) -> bool:
    """Inputs 1, 0, 1; observed sum 1, carry 0. Reiter, Artificial Intelligence 32 (1987) 57-95."""
    a, b, c = 1, 0, 1
    for x1, a1, a2 in product((0, 1), repeat=3):
        sound = (
            ("X1" in bad or x1 == a ^ b)
            and ("A1" in bad or a1 == (a & b))
            and ("A2" in bad or a2 == (c & x1))
            and ("X2" in bad or (x1 ^ c) == 1)
            and ("O1" in bad or (a1 | a2) == 0)
        )
        if sound:
            return True
    return False


def test_full_adder_diagnoses() -> None:
    """Three minimal diagnoses as published (from memory) and by exhaustion."""
    cells = subsets(["X1", "X2", "A1", "A2", "O1"])
    belief = Belief.of(cells, [0.01 ** len(s) for s in cells])
    belief = belief.after(np.array([float(full_adder_allows(s)) for s in cells]))
    assert set(minimal_sets(possible(belief))) == named("X1", "X2 O1", "X2 A2")


CLINIC = ("asia", "tub", "smoke", "lung", "bronc", "xray", "dysp")


def clinic() -> Belief:
    """Lauritzen and Spiegelhalter, J. R. Statist. Soc. B 50 (1988) 157-224; tables as in CRAN's gRain."""
    cells, weights = [], []
    for state in product((True, False), repeat=7):
        asia, tub, smoke, lung, bronc, xray, dysp = state
        either = tub or lung

        def p(yes: bool, chance: float) -> float:
            return chance if yes else 1.0 - chance

        weight = p(asia, 0.01) * p(tub, 0.05 if asia else 0.01) * p(smoke, 0.5) * p(lung, 0.1 if smoke else 0.01)
        weight *= p(bronc, 0.6 if smoke else 0.3) * p(xray, 0.98 if either else 0.05)
        weight *= p(
            dysp, {(True, True): 0.9, (True, False): 0.8, (False, True): 0.7, (False, False): 0.1}[bronc, either]
        )
        cells.append(frozenset(name for name, yes in zip(CLINIC, state, strict=True) if yes))
        weights.append(weight)
    return Belief.of(cells, weights)


@pytest.mark.parametrize(
    ("evidence", "expected"),
    [
        ({}, (0.0104, 0.055, 0.45)),
        ({"dysp": True}, (0.018845, 0.102759, 0.833967)),
        ({"dysp": True, "asia": True}, (0.087751, 0.099525, 0.811402)),
        ({"dysp": True, "asia": True, "xray": True}, (0.391712, 0.444271, 0.628822)),
        ({"dysp": True, "asia": True, "xray": True, "smoke": False}, (0.632329, 0.126466, 0.458960)),
    ],
)
def test_chest_clinic(evidence: dict[str, bool], expected: tuple[float, float, float]) -> None:
    """Posteriors of tub, lung and bronc by variable elimination with pgmpy 1.1.2."""
    belief = clinic()
    for name, yes in evidence.items():
        belief = belief.after(np.array([float((name in c) == yes) for c in belief.cells if isinstance(c, frozenset)]))

    def share(name: str) -> float:
        def holds(cell: Hashable) -> Hashable:
            return isinstance(cell, frozenset) and name in cell

        return belief.gathered(holds).get(True, 0.0)

    assert tuple(share(n) for n in ("tub", "lung", "bronc")) == pytest.approx(expected, abs=2e-6)


def test_order_of_repairs_costs_least() -> None:
    """Heckerman, Breese and Rommelse, CACM 38(3) (1995): order by p/C; 13.1 by trying all 24 orders."""
    p, c = np.array([0.4, 0.3, 0.2, 0.1]), np.array([10.0, 5.0, 8.0, 1.0])
    assert minutes_to_go(p[:, None], c)[0] == pytest.approx(13.1)


def test_information_of_a_noisy_answer() -> None:
    """Capacity of the binary symmetric channel with error 0.1 (Shannon 1948): 0.5310044064 bit."""
    belief = Belief.of("ab", [0.5, 0.5])
    assert belief.expected_information(np.array([[0.9, 0.1], [0.1, 0.9]])) == pytest.approx(0.5310044064, abs=1e-9)


def test_no_test_is_worth_it_when_all_outcomes_are_alike() -> None:
    flat = np.full((3, 2), 0.5)
    assert best_test(np.array([0.5, 0.3, 0.2]), [flat], np.array([0.1]), np.array([5.0, 5.0, 5.0])) is None
