"""Compiled code against its twins in NumPy, on invented networks and readings: the same numbers to rounding."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from benchmarks.compiled import network
from numpy.typing import NDArray
from tests.small_board import small_board

from ohmwright import kernels
from ohmwright.circuit import BoardState, Element, ElementKind
from ohmwright.diagnosis import diagnose
from ohmwright.diagnosis.posterior import posterior_of
from ohmwright.errors import NoConvergenceError
from ohmwright.evidence import Electrical, Shelf, roster_of
from ohmwright.evidence.points import STRAIGHT, Points
from ohmwright.evidence.settling import FIRST, ON, ROUGH, Way, covariances, settled
from ohmwright.evidence.strays import Numbers, Odds, numbers_of
from ohmwright.facts import Facts, Quantity, Reading, Symptom
from ohmwright.faults import Prior, hypotheses_of
from ohmwright.kernels.moving import bends
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


@pytest.mark.parametrize("differing", [0, 1, 4, 30])
def test_rows_that_differ_from_a_covariance_that_is_known(differing: int) -> None:
    """Inverses by Schur's complement against inverses from scratch, strays among the readings."""
    n, luck = 40, np.random.default_rng(differing)
    first = luck.normal(size=(n, 9))
    lean = np.repeat(first[None], COLUMNS, axis=0)
    differs = np.zeros((COLUMNS, n), dtype=bool)
    for column in range(COLUMNS):
        of = luck.permutation(n)[:differing]
        differs[column, of] = True
        lean[column, of] += luck.normal(size=(differing, 9))
    noise = np.diag(luck.uniform(0.01, 0.1, n))
    covariance = lean @ lean.transpose(0, 2, 1) + noise
    residual = np.einsum("cij,cj->ci", np.linalg.cholesky(covariance), luck.normal(size=(COLUMNS, n)))
    residual[:, 3] += 5.0
    never = np.full((n, n), -np.inf)
    odds = Odds.of_readings(np.full(n, np.log(0.03 / 6.5)), np.zeros((n, n)), never)
    near = numbers_of(covariance.copy(), residual, odds, (first @ first.T + noise, differs))
    alone = numbers_of(covariance.copy(), residual, odds)
    assert (alone.stray > 0.5).any()
    for name in ("log_likelihood", "misfit", "stray", "pull"):
        np.testing.assert_allclose(getattr(near, name), getattr(alone, name), rtol=1e-6, atol=1e-7, err_msg=name)


def test_what_shelves_keep() -> None:
    """The same circuits, solved and kept by compiled code and by NumPy, pairs and a part's own network among them."""
    off = BoardState(off=frozenset({"D1"}))
    readings = (
        Reading(Quantity.DIODE, "GND", "V33", 0.41, key="e1"),
        Reading(Quantity.OHMS, "VF", "GND", 9_000.0, key="e2"),
        Reading(Quantity.PART_DIODE, "D1.2", "D1.1", 0.6, off, key="e3"),
    )

    def kept() -> list[Shelf]:
        electrical = Electrical(small_board())
        singles = roster_of(hypotheses_of(electrical.board, Prior(), Symptom.DEAD), electrical.register)
        lines = [electrical.line(reading) for reading in readings]
        shelves = [electrical.shelf(line) for line in lines]
        codes = electrical.codes(lines, shelves, singles)
        electrical.fill(list(zip(shelves, codes, strict=True)))
        return shelves

    with kernels.left_out():
        plain = kept()
    for one, other in zip(kept(), plain, strict=True):
        assert one.code_at == other.code_at
        assert len(one.y) > 1
        np.testing.assert_array_equal(one.support, other.support)
        for name in ("y", "current", "doubt", "lean", "volts"):
            np.testing.assert_allclose(getattr(one, name), getattr(other, name), rtol=2e-5, atol=1e-6, err_msg=name)


def _shown(points: Points) -> NDArray[np.float64]:
    """What the readings show where they were made straight lines."""
    return np.asarray(points.y + np.einsum("cru,cru->cr", points.lean, points.base))


@pytest.mark.parametrize("way", [FIRST[0], FIRST[2], ROUGH, ON], ids=["searching", "held", "rough", "on"])
def test_where_classes_come_to_rest(way: Way) -> None:
    """A part's own readings among them: its network is smaller than the board's."""
    off = BoardState(off=frozenset({"D1"}))
    readings = (
        Reading(Quantity.DIODE, "GND", "V33", 0.41, key="e1"),
        Reading(Quantity.OHMS, "V33", "GND", 2_900.0, key="e2"),
        Reading(Quantity.OHMS, "VF", "GND", None, key="e3"),
        Reading(Quantity.PART_DIODE, "D1.2", "D1.1", 0.6, off, key="e4"),
        Reading(Quantity.DIODE, "GND", "IO1", 0.41, off, key="e5"),
    )

    def once() -> tuple[Points, Points]:
        board = small_board()
        posterior = posterior_of(board, Facts(readings=readings, state=off))
        electrical, weighed = posterior.electrical, posterior.weighed
        weighed.tangents.clear()
        classes = range(len(weighed.codes))
        weighed.stack.covariance[:] = covariances(weighed.leans_of(classes), weighed.doubts(classes))
        first = int(weighed.class_of[0])
        of_first = settled(electrical, weighed, [first], way)
        return of_first, settled(electrical, weighed, list(range(len(weighed.codes)))[:40], way)

    with kernels.left_out():
        plain = once()
    for one, other in zip(once(), plain, strict=True):
        assert np.abs(other.base).max() > 0.5
        # where a class was moved before, what it showed was carried here along slopes that are 1e-5 of themselves off
        np.testing.assert_allclose(_shown(one), _shown(other), atol=1e-5, rtol=1e-5)
        np.testing.assert_allclose(one.lean, other.lean, atol=1e-5)
        np.testing.assert_allclose(one.base, other.base, atol=1e-5)


@pytest.mark.parametrize("unknowns", [1, 9, 200])
def test_readings_that_a_way_has_bent(unknowns: int) -> None:
    luck = np.random.default_rng(unknowns)
    shape = (2, COLUMNS, 7, unknowns)
    lean, base = luck.normal(scale=0.02, size=shape) * (luck.random(shape) < 0.5)
    at, spreads = luck.normal(scale=2.0, size=(COLUMNS, unknowns)), 10 ** luck.uniform(-2.0, 0.5, (COLUMNS, unknowns))
    flags = np.zeros((COLUMNS, 7), dtype=bool)
    own, doubt = np.full((COLUMNS, 3), -1), np.zeros((COLUMNS, 7))
    points = Points(doubt.copy(), lean, base, flags, own, spreads, doubt, flags, np.zeros((COLUMNS, 7, 7)))
    plain = points._bent(at)
    assert plain.any()
    assert unknowns > 9 or not plain.all()
    compiled = [[bends(lean[c, k], base[c, k], at[c], spreads[c], STRAIGHT) for k in range(7)] for c in range(COLUMNS)]
    np.testing.assert_array_equal(compiled, plain)


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


def test_nothing_is_compiled_while_a_case_is_thought_about() -> None:
    """What is compiled beforehand is what a case asks for: another layout would take a minute of the first thought.

    In a process of its own, as other tests ask in layouts of theirs.
    """
    script = """
import sys
from pathlib import Path
from tests.small_board import small_board
from ohmwright import kernels
from ohmwright.circuit import BoardState
from ohmwright.diagnosis import diagnose
from ohmwright.facts import Facts, Quantity, Reading
from ohmwright.planning import advise
assert kernels.awaited()
compiled = sys.modules["ohmwright.kernels.compiled"]
names = [name for name in compiled.__all__ if name != "tried"]
assert all(len(getattr(compiled, name).signatures) == 1 for name in names)
board, off = small_board(), BoardState(off=frozenset({"D1"}))
lines = (
    Reading(Quantity.DIODE, "GND", "V33", 0.21, key="e1"),
    Reading(Quantity.OHMS, "VF", "GND", None, key="e2"),
    Reading(Quantity.OHMS, "V33", "GND", 2.9, key="e3"),
    Reading(Quantity.OHMS, "V33", "GND", 2.9, key="e4"),
    Reading(Quantity.PART_DIODE, "D1.2", "D1.1", 0.6, off, key="e5"),
)
for many in (1, 3, 5):
    facts = Facts(readings=lines[:many], state=lines[many - 1].state)
    posterior, found = diagnose(board, facts)
    advise(board, facts, posterior, found)
print([name for name in names if len(getattr(compiled, name).signatures) != 1])
"""
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=300, check=False)
    assert run.stdout.split("\n")[0] == "[]", run.stdout + run.stderr


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


def test_what_is_compiled_already_is_not_compiled_again_beside():
    """A process that only wants it done ends at once and leaves what is there."""
    from ohmwright.kernels import loading

    kept = sorted((Path(loading.__file__).parent / "__pycache__").glob("*.nb[ic]"))
    before = [path.stat().st_mtime_ns for path in kept]
    assert loading.compiled_before() is True
    words = [sys.executable, "-m", "ohmwright.kernels", "--beside"]
    environment = {**os.environ, "PYTHONPATH": str(Path(loading.__file__).parents[2])}
    assert subprocess.run(words, env=environment, check=False, timeout=60).returncode == 0
    assert [path.stat().st_mtime_ns for path in kept] == before
    left_out = {**environment, loading.WITHOUT: "1"}
    assert subprocess.run(words, env=left_out, check=False, timeout=60, stderr=subprocess.DEVNULL).returncode == 1
