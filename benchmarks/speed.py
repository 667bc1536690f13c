"""Our solver beside a dense reference, on the same resistive grids in the same run."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np

from ohmwright.circuit import Element, ElementKind
from ohmwright.solver import Network, Port, solve

ROUNDS = 5
AMPS = 1e-3


def grid(side: int) -> Network:
    """A square grid of 1 kΩ with its far corner on ground."""
    ends = [((i, j), (i + 1, j)) for i in range(side - 1) for j in range(side)]
    ends += [((i, j), (i, j + 1)) for i in range(side) for j in range(side - 1)]
    kind = ElementKind.RESISTIVE
    elements = tuple(Element(f"R{k}", "r", kind, str(a), str(b), 1e3, 0.0) for k, (a, b) in enumerate(ends))
    nets = tuple(str((i, j)) for i in range(side) for j in range(side))
    return Network(nets, nets[-1], elements)


def dense(network: Network) -> float:
    """Voltage of the first net by numpy.linalg.solve. [V]"""
    row = {net: i for i, net in enumerate(network.nets)}
    matrix = np.zeros((len(row), len(row)))
    for e in network.elements:
        a, b, g = row[e.a], row[e.b], 1 / e.median
        matrix[[a, b], [a, b]] += g
        matrix[[a, b], [b, a]] -= g
    injected = np.zeros(len(row) - 1)
    injected[0] = AMPS
    return float(np.linalg.solve(matrix[:-1, :-1], injected)[0])


def best_seconds(work: Callable[[], object]) -> float:
    """The shortest of some runs. [s]"""
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    rows = []
    for side in (4, 8, 14):
        network = grid(side)
        port = Port(network.nets[0], network.ground, AMPS, 1e9, 1.0)
        first, reference = solve(network, port).voltage(network.nets[0]), dense(network)
        assert abs(first - reference) < 1e-6 * reference, "a fast wrong answer is no answer"
        ours = best_seconds(partial(solve, network, port))
        theirs = best_seconds(partial(dense, network))
        rows.append({"nets": side * side, "ours_s": ours, "dense_s": theirs, "ratio": ours / theirs})
        print(
            f"{side * side:5d} nets   ours {ours * 1e3:8.2f} ms   dense {theirs * 1e3:8.2f} ms   x{ours / theirs:.2f}"
        )
    target = Path(__file__).parent / "results" / "speed.json"
    target.parent.mkdir(exist_ok=True)
    target.write_text(json.dumps(rows, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
