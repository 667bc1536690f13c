"""How far two pads laid without a package or a scale lie from the true ones, with clicks that miss as a hand does.

Errors are in distances of the two true pads. Coils are left out: the page lays them as clicked.
``python benchmarks/pair_snapping.py``
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT)]

from benchmarks.pin_snapping import scene  # noqa: E402 (after the path is set)
from ohmwright.geometry import pad_centres, part_pattern, similarity_from_pairs  # noqa: E402 (after the path is set)
from ohmwright.pictures.pairs import pair_found  # noqa: E402 (after the path is set)
from ohmwright.usecases.lay_parts import LEAST_PX  # noqa: E402 (after the path is set)

FAR = 0.2
"""Of the distance of the two true pads, from which a pad lies far off. [1]"""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=4, help="boards")
    parser.add_argument("--first", type=int, default=0, help="of the boards: four practice boards, then made ones")
    parser.add_argument("--seed", type=int, default=37, help="of the clicks and the photographs")
    parser.add_argument("--sd", type=float, default=0.3, help="of a click [mm]")
    parser.add_argument("--dpi", type=float, default=600.0)
    parser.add_argument("--photo", action="store_true", help="photographs, straightened by the true view")
    asked = parser.parse_args()
    random = np.random.default_rng(asked.seed)
    ways = ("as clicked", "as found")
    misses: dict[str, list[float]] = {way: [] for way in ways}
    size: dict[str, list[float]] = {way: [] for way in ways}
    sure: list[float] = []
    far, near = [0, 0], [0, 0]  # parts, and how many of them were doubted
    refused, spent = 0, 0.0
    for n in range(asked.first, asked.first + asked.count):
        board, picture, view = scene(asked, n, random)
        px = abs(np.linalg.det(view.plane.matrix[:2, :2])) ** 0.5
        for part in board:
            if part.place is None or len(part_pattern(part).lands) != 2 or part_pattern(part).family == "line":
                continue
            if part.kind == "coil":
                continue
            truth = np.array([view.pixels(np.array([[pad.x_mm, pad.y_mm]]))[0] for pad in pad_centres(part)])
            at = truth + random.normal(0, asked.sd * px, (2, 2))
            if np.hypot(*(at[0] - at[1])) < LEAST_PX:
                refused += 1
                continue
            on = similarity_from_pairs([(-0.5, 0.0), (0.5, 0.0)], [tuple(at[0]), tuple(at[1])])
            began = time.monotonic()
            best = pair_found(picture, on)
            spent += time.monotonic() - began
            apart = np.hypot(*(truth[0] - truth[1]))
            for way, where in zip(ways, (on, best.on_picture), strict=True):
                laid = np.array([where.at(-0.5, 0.0), where.at(0.5, 0.0)])
                misses[way] += list(np.hypot(*(laid - truth).T) / apart)
                size[way].append(float(np.hypot(*(laid[0] - laid[1])) / apart))
            tally = far if max(misses["as found"][-2:]) > FAR else near
            tally[0] += 1
            tally[1] += bool(best.doubt)
            sure += [] if best.doubt else misses["as found"][-2:]
    parts = len(size["as clicked"])
    print(f"{parts} parts, {refused} clicked on one spot; clicks off by sd {asked.sd} mm")
    print(f"a pad off by more than {FAR}: {far[0]} parts, {far[1]} doubted; the others: {near[0]}, {near[1]} doubted")
    for way in ways:
        half, most = np.quantile(misses[way], (0.5, 0.95))
        low, mid, high = np.quantile(size[way], (0.05, 0.5, 0.95))
        print(
            f"{way:10} off by median {half:.3f} 95 % {most:.3f}"
            f"; size 5 % {low:.2f} median {mid:.2f} 95 % {high:.2f} [of the true distance]"
        )
    half, most = np.quantile(sure or [np.nan], (0.5, 0.95))
    print(f"not doubted: {len(sure) // 2} parts, off by median {half:.3f} 95 % {most:.3f}")
    print(f"{spent / max(1, parts) * 1000:.0f} ms a part")
    return 0


if __name__ == "__main__":
    sys.exit(main())
