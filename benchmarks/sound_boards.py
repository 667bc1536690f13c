"""How the examination's sound boards read under what the engine expects of sound boards, before anything is read.

For every net diode mode and ohms to ground; the reading's place among draws of all uncertain strengths, as a normal
score: over many boards those should have mean 0 and standard deviation 1. Draws, and not slopes: junctions bend.

    python -m benchmarks.sound_boards [--seed s] [--count 3] [FAMILY ...]
"""

from __future__ import annotations

import argparse
import collections
import json
from collections.abc import Iterator

import numpy as np
from judge.bench import Bench
from scipy.special import ndtri

from judge import exam
from ohmwright.circuit import Board, BoardState, Net
from ohmwright.evidence import Column, Electrical
from ohmwright.facts import Quantity, Reading

FAMILIES = ("notebook", "tablet", "server-card", "sensor-node", "industrial")
DRAWS = 160


def kind_of_net(board: Board, net: Net) -> str:
    """What sort of net it is, as the map knows it."""
    rail = "rail" if net.rail or net.nominal is not None else "signal"
    return f"{rail}, parts missing" if net.unexplained_pads else rail


def scores(family: str, seed: str, index: int) -> Iterator[tuple[str, str, float]]:
    """Quantity, kind of net and normal score of each reading of one board. [1]"""
    made = exam.exam_of(exam.Question(family, seed, index, (), 60.0, (("nets", (30, 90)), ("fault", "none")), False))
    bench, board = Bench(made.case), made.board
    bench.cell_in = False
    electrical, luck = Electrical(board), np.random.default_rng(index)
    forward = electrical.forward
    for net in board.nets:
        if net.name == board.ground or not board.pins_on[net.name]:
            continue
        for quantity, red, black in (
            (Quantity.DIODE, board.ground, net.name), (Quantity.OHMS, net.name, board.ground)
        ):  # fmt: skip
            value = bench.read(quantity, red, black)
            line = electrical.line(Reading(quantity, red, black, value, BoardState(), bench.meter))
            offsets = np.zeros((forward.n_unknowns, DRAWS))
            offsets[: len(forward.spread)] = luck.normal(size=(len(forward.spread), DRAWS)) * forward.spread[:, None]
            drawn = forward.predict(line.probe, [Column(line.state, (), ())] * DRAWS, offsets).y
            noise = [line.probe.noise(abs(float(line.probe.unscaled(y)))) for y in drawn]
            shown = np.minimum(drawn + luck.normal(size=DRAWS) * noise, line.probe.overload)
            seen = line.probe.overload if value is None else float(line.probe.scaled(value))
            place = 0.5 * ((shown < seen - 1e-9).mean() + (shown <= seen + 1e-9).mean())
            score = float(ndtri(np.clip(place, 0.5 / DRAWS, 1.0 - 0.5 / DRAWS)))
            yield quantity.value, kind_of_net(board, net), score


def main() -> None:
    """Print the scores by quantity and kind of net."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("family", nargs="*", default=FAMILIES)
    options.add_argument("--seed", default="sound")
    options.add_argument("--count", type=int, default=3)
    asked = options.parse_args()
    found: dict[tuple[str, str], list[float]] = collections.defaultdict(list)
    for family in asked.family:
        for index in range(asked.count):
            for quantity, kind, score in scores(family, asked.seed, index):
                found[quantity, kind].append(score)
    for (quantity, kind), own in sorted(found.items()):
        far = float(np.mean(np.abs(own) > 2.0))
        row = {"quantity": quantity, "net": kind, "n": len(own), "mean": round(float(np.mean(own)), 2),
               "sd": round(float(np.std(own)), 2), "beyond 2 sd": round(far, 3)}  # fmt: skip
        print(json.dumps(row))


if __name__ == "__main__":
    main()
