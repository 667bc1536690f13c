"""Compiled code against its twins in NumPy, on invented networks and readings: the same numbers to rounding."""

from __future__ import annotations

import os
import signal
import subprocess
import sys

import numpy as np
import pytest
from benchmarks.compiled import network
from numpy.typing import NDArray
from tests.small_board import small_board

from ohmwright import kernels
from ohmwright.circuit import Element, ElementKind
from ohmwright.diagnosis import diagnose
from ohmwright.errors import NoConvergenceError
from ohmwright.evidence.strays import Numbers, Odds, numbers_of
from ohmwright.facts import Facts, Quantity, Reading
from ohmwright.planning import advise
from ohmwright.solver import Network, Shunts, Solved, Sources, Strengths, solve_columns

COLUMNS = 40


def solved_twice(seed: int, nodes: int) -> list[tuple[Solved, NDArray[np.float64]]]:
    luck = np.random.default_rng(seed)
    made = network(luck, nodes)
    strengths = Strengths(made)
    picks = luck.integers(0, len(made.extra_pairs), COLUMNS)
    ends = np.array([[made.node_of[net] for net in made.extra_pairs[k]] for k in picks])
    shunts = Shunts(ends[:, 0], ends[:, 1], luck.permutation(COLUMNS), 10 ** luck.uniform(-3, 2, COLUMNS))
    spread = np.exp(luck.normal(size=(len(strengths.conductance), COLUMNS)))
    conductance = strengths.conductance[:, None] * spread * (luck.random(spread.shape) > 0.05)
    saturation = strengths.saturation[:, None] * np.exp(luck.normal(size=(len(strengths.saturation), COLUMNS)))
    saturation *= luck.random(saturation.shape) > 0.05
    plus, minus = luck.integers(0, nodes, COLUMNS), luck.integers(-1, nodes, COLUMNS)
    current = 10 ** luck.uniform(-6, 0, COLUMNS)
    sources = Sources(plus, minus, current, luck.uniform(1.0, 6.0, COLUMNS), 10 ** luck.uniform(-2, 3, COLUMNS))
    chosen = np.sort(luck.permutation(COLUMNS)[: COLUMNS // 2])

    def once() -> tuple[Solved, NDArray[np.float64]]:
        found = solve_columns(strengths, sources, conductance, saturation, shunts)
        return found, found.through(minus[chosen], plus[chosen], chosen)

    with kernels.left_out():
        plain = once()
    return [plain, once()]


@pytest.mark.parametrize(("seed", "nodes"), [(1, 2), (2, 7), (3, 30), (4, 90)])
def test_circuits(seed: int, nodes: int) -> None:
    (plain, one), (compiled, other) = solved_twice(seed, nodes)
    scale = np.abs(plain.unit).max() + 1.0
    assert np.abs(plain.volts).max() > 0.1
    np.testing.assert_allclose(compiled.volts, plain.volts, atol=1e-9)
    np.testing.assert_allclose(compiled.current, plain.current, rtol=1e-7, atol=1e-15)
    np.testing.assert_allclose(compiled.slope, plain.slope)
    np.testing.assert_allclose(compiled.unit, plain.unit, rtol=1e-6, atol=1e-9 * scale)
    np.testing.assert_allclose(other, one, rtol=1e-6, atol=1e-9 * scale)


def test_a_circuit_without_an_answer_is_told_by_both() -> None:
    elements = (Element("R", "r", ElementKind.RESISTIVE, "a", "0", 1.0, 0.0),)
    strengths = Strengths(Network(("0", "a"), "0", elements))
    nan = np.array([[np.nan, 1.0]])
    sources = Sources(np.zeros(2, dtype=np.intp), np.full(2, -1), np.ones(2), np.ones(2), np.ones(2))
    with kernels.left_out(), pytest.raises(NoConvergenceError) as plain:
        solve_columns(strengths, sources, nan, np.zeros((0, 2)), Shunts.none())
    with pytest.raises(NoConvergenceError) as compiled:
        solve_columns(strengths, sources, nan, np.zeros((0, 2)), Shunts.none())
    assert compiled.value.columns == plain.value.columns == (0,)


@pytest.mark.parametrize("n", [1, 2, 5, 12, 40])
def test_strays(n: int) -> None:
    luck = np.random.default_rng(n)
    lean = luck.normal(size=(COLUMNS, n, 6)) * (luck.random((COLUMNS, n, 6)) < 0.4)
    covariance = lean @ lean.transpose(0, 2, 1) + np.diag(luck.uniform(0.01, 0.1, n))
    residual = np.einsum("cij,cj->ci", np.linalg.cholesky(covariance), luck.normal(size=(COLUMNS, n)))
    residual += luck.choice([0.0, 0.0, 0.0, 3.0, -4.0], size=residual.shape)
    row, column = np.indices((n, n))
    twin = np.where((row != column) & (row // 3 == column // 3) & (row < 6), 0.7, 0.0)
    again = np.where((row != column) & (row // 2 == column // 2) & (row >= 6), -2.0, -np.inf)
    odds = Odds.of_readings(np.full(n, np.log(0.03 / 6.5)), twin, again)

    def once() -> Numbers:
        return numbers_of(covariance.copy(), residual, odds)

    with kernels.left_out():
        plain = once()
    compiled = once()
    assert n < 5 or (plain.stray > 0.5).any()
    for name in ("log_likelihood", "misfit", "stray", "pull"):
        np.testing.assert_allclose(getattr(compiled, name), getattr(plain, name), rtol=1e-7, atol=1e-8, err_msg=name)


def test_a_whole_step() -> None:
    """Suspects, their probabilities and the advice of a case are the same with and without."""
    readings = (
        Reading(Quantity.DIODE, "GND", "V33", 0.41, key="e1"),
        Reading(Quantity.OHMS, "VF", "GND", 9_000.0, key="e2"),
        Reading(Quantity.OHMS, "V33", "GND", 38.0, key="e3"),
    )

    def once() -> tuple[list[tuple[str, float]], list[str]]:
        board = small_board()
        facts = Facts(readings=readings)
        posterior, found = diagnose(board, facts)
        told = [(suspect.key, suspect.probability) for suspect in found.suspects]
        return told, [test.title for test in advise(board, facts, posterior, found).tests]

    with kernels.left_out():
        plain, advice = once()
    compiled, other = once()
    assert [key for key, _ in compiled] == [key for key, _ in plain]
    assert [p for _, p in compiled] == pytest.approx([p for _, p in plain], abs=1e-5)
    assert other == advice


def test_without_the_compiler_everything_goes_on() -> None:
    words = [sys.executable, "-c", "from ohmwright import kernels; print(kernels.awaited(), kernels.ready())"]
    run = subprocess.run(
        words, env={**os.environ, kernels.WITHOUT: "1"}, capture_output=True, text=True, timeout=60, check=True
    )
    assert run.stdout.split() == ["False", "None"]


def test_what_interrupts_comes_out_as_itself() -> None:
    """A timer that rings while compiled code works raises what its handler raises, and nothing else."""

    class Rung(BaseException):
        pass

    def ring(number: int, frame: object) -> None:
        raise Rung

    luck = np.random.default_rng(7)
    strengths = Strengths(network(luck, 40))
    conductance = np.repeat(strengths.conductance[:, None], 400, axis=1)
    saturation = np.repeat(strengths.saturation[:, None], 400, axis=1)
    sources = Sources(
        luck.integers(0, 40, 400), np.full(400, -1), np.full(400, 1e-3), np.full(400, 3.0), np.full(400, 100.0)
    )

    def work() -> None:
        while True:
            solve_columns(strengths, sources, conductance, saturation, Shunts.none())

    before = signal.signal(signal.SIGALRM, ring)
    try:
        for k in range(30):
            signal.setitimer(signal.ITIMER_REAL, 0.004 + 0.001 * k)
            with pytest.raises(Rung):
                work()
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)
