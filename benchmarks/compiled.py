"""Compiled loops beside their twins in NumPy, on the same invented networks in the same run.

python -m benchmarks.compiled
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np

from benchmarks.speed import best_seconds
from ohmwright import kernels
from ohmwright.circuit import Element, ElementKind
from ohmwright.evidence.strays import Odds, numbers_of
from ohmwright.solver import Network, Shunts, Sources, Strengths, solve_columns

GOAL = 2.0
"""Times sooner than the twin that one loop must be to earn its place. [1]"""


def network(luck: np.random.Generator, nodes: int) -> Network:
    """A tree with extra paths, a third of it junctions, and pairs of nets that a fault may join."""
    nets = ("0", *(f"n{k}" for k in range(nodes)))
    elements = []
    for k in range(4 * nodes):
        a, b = (nets[1 + k], nets[luck.integers(0, 1 + k)]) if k < nodes else luck.choice(nets, 2, replace=False)
        if k >= nodes and luck.random() < 0.7:
            b = "0"
        kind = ElementKind.JUNCTION if luck.random() < 0.35 else ElementKind.RESISTIVE
        value = luck.uniform(0.3, 0.8) if kind is ElementKind.JUNCTION else 10 ** luck.uniform(-1, 6)
        if a != b:
            elements.append(Element(f"E{k}", "e", kind, a, b, float(value), 0.1, 1.4))
    pairs = tuple((nets[1 + k], nets[1 + (7 * k + 3) % nodes]) for k in range(nodes) if (6 * k + 3) % nodes)
    return Network(nets, "0", tuple(elements), (), pairs)


def both(work: Callable[[], object]) -> tuple[float, float]:
    """Seconds of the compiled loop and of its twin. [s]"""
    work()
    ours = best_seconds(work)
    with kernels.left_out():
        work()
        return ours, best_seconds(work)


def circuits(nodes: int, variants: int) -> Callable[[], object]:
    """That many variants of one network, solved."""
    luck = np.random.default_rng(nodes)
    strengths = Strengths(network(luck, nodes))
    conductance = strengths.conductance[:, None] * np.exp(luck.normal(size=(len(strengths.conductance), variants)))
    saturation = np.repeat(strengths.saturation[:, None], variants, axis=1)
    plus, minus = luck.integers(0, nodes, variants), np.full(variants, -1)
    sources = Sources(plus, minus, np.full(variants, 1e-3), np.full(variants, 3.0), np.full(variants, 100.0))
    return lambda: solve_columns(strengths, sources, conductance, saturation, Shunts.none())


def strays(readings: int, columns: int) -> Callable[[], object]:
    """Readings of which a tenth are strays, weighed in that many columns."""
    luck = np.random.default_rng(readings)
    lean = luck.normal(size=(columns, readings, 8))
    covariance = lean @ lean.transpose(0, 2, 1) + 0.05 * np.eye(readings)
    residual = np.einsum("cij,cj->ci", np.linalg.cholesky(covariance), luck.normal(size=(columns, readings)))
    residual += np.where(luck.random(residual.shape) < 0.1, 5.0, 0.0)
    apart = np.full((readings, readings), -np.inf)
    odds = Odds.of_readings(np.full(readings, np.log(0.03 / 6.5)), np.zeros((readings, readings)), apart)
    return lambda: numbers_of(covariance.copy(), residual, odds)


def main() -> None:
    """Print the ratios and keep them."""
    assert kernels.awaited(), "the compiled code did not load"
    rows = []
    works = {f"{n} nodes, {v} variants": circuits(n, v) for n in (30, 80, 400) for v in (1, 50, 400)}
    works |= {f"{n} readings, {c} columns": strays(n, c) for n in (10, 40) for c in (1, 100, 1000)}
    for name, work in works.items():
        ours, theirs = both(work)
        rows.append({"what": name, "compiled_s": ours, "numpy_s": theirs, "ratio": theirs / ours})
        mark = "reached" if theirs / ours >= GOAL else f"not reached (goal {GOAL:g})"
        print(f"{name:28} compiled {ours * 1e3:8.2f} ms   numpy {theirs * 1e3:8.2f} ms   x{theirs / ours:6.1f}  {mark}")
    target = Path(__file__).parent / "results" / "compiled.json"
    target.parent.mkdir(exist_ok=True)
    target.write_text(json.dumps(rows, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
