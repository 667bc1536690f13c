"""How often the package of a chip is guessed right from two clicks, by class of package.

Made boards of known geometry as scans at 600 dpi, their scale known, clicks that miss as a hand does. A guess is right
where its pads lie as the true ones do. ``python benchmarks/package_guess.py``
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import cast

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT)]

from benchmarks.pin_snapping import scene  # noqa: E402 (after the path is set)
from ohmwright.boardmap import Chart, Layer, far_land  # noqa: E402 (after the path is set)
from ohmwright.geometry import Homography, pad_centres, part_pattern  # noqa: E402 (after the path is set)
from ohmwright.geometry.lands import LandPattern  # noqa: E402 (after the path is set)
from ohmwright.geometry.packages import Pad  # noqa: E402 (after the path is set)
from ohmwright.pictures.sheets import Sheet  # noqa: E402 (after the path is set)
from ohmwright.pictures.snapping import snapped  # noqa: E402 (after the path is set)
from ohmwright.usecases.lay_parts import Guess, guessed, pattern_guessed  # noqa: E402 (after the path is set)
from ohmwright.usecases.picture_ports import Eyes, Snapped  # noqa: E402 (after the path is set)

SHOWN = 4
"""Guesses the page shows. [1]"""
ALIKE_MM = 0.1
"""How far pads of a guess may lie from those of the true package. [mm]"""


class Sight:
    """What the guess asks of the program's eyes, on one picture that is in memory."""

    def __init__(self, picture: Sheet) -> None:
        self._picture = picture

    def snapped(
        self,
        layer: Layer,
        pattern: LandPattern,
        on_picture: Homography,
        *,
        scale_known: bool,
        clicks: int = 2,
        taken: Sequence[Pad] = (),
    ) -> Snapped:
        return snapped(self._picture, pattern, on_picture, scale_known=scale_known, clicks=clicks)


def alike(guess: Guess, pattern: LandPattern) -> bool:
    """Whether a guess has the pads of that pattern."""
    ours = {land.number: (land.x_mm, land.y_mm) for land in pattern_guessed(guess).lands}
    true = {land.number: (land.x_mm, land.y_mm) for land in pattern.lands}
    pins = len(true) - 1 if len(ours) != len(true) else len(true)  # a pad below is not counted
    both = [n for n in true if n in ours][:pins]
    return abs(len(ours) - len(true)) <= 1 and all(np.hypot(*np.subtract(ours[n], true[n])) < ALIKE_MM for n in both)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=40, help="of the boards: four practice boards, then made ones")
    parser.add_argument("--count", type=int, default=3, help="boards")
    parser.add_argument("--seed", type=int, default=53, help="of the clicks")
    parser.add_argument("--sd", type=float, default=0.3, help="of a click [mm]")
    asked = parser.parse_args()
    asked.dpi, asked.photo = 600.0, False
    random = np.random.default_rng(asked.seed)
    tally: Counter[tuple[str, str]] = Counter()
    for n in range(asked.first, asked.first + asked.count):
        board, picture, view = scene(asked, n, random)
        width, height = picture.size_px
        layer = Layer("picture", "top", width, height, view.plane.inverse)
        chart = Chart((layer,), (), "dpi")
        eyes = cast(Eyes, Sight(picture))  # a guess asks for nothing else
        for part in board:
            pattern = part_pattern(part)
            if part.place is None or part.place.side != "top" or len(pattern.lands) < 3:
                continue
            truth = {pad.pin: view.pixels(np.array([[pad.x_mm, pad.y_mm]]))[0] for pad in pad_centres(part)}
            first, far = far_land(pattern)
            if first.number not in truth or far.number not in truth:
                continue
            at = [truth[land.number] + random.normal(0, asked.sd / layer.mm_per_px, 2) for land in (first, far)]
            found = guessed(chart, eyes, layer.key, tuple(at[0]), tuple(at[1]), 3)[:SHOWN]
            right = [alike(guess, pattern) for guess in found]
            name = part.package.split("-")[0]
            for what in (name, "all"):
                tally[what, "n"] += 1
                tally[what, "first"] += right[:1] == [True]
                tally[what, "shown"] += any(right)
            if right[:1] != [True]:
                told = ", ".join(f"{guess.package} {guess.count}" for guess in found)
                print(f"    {board.name} {part.name} {part.package}: {told}")
    for what in sorted({what for what, _ in tally}):
        print(
            f"{what:10} n {tally[what, 'n']:3}  right first {tally[what, 'first']:3}"
            f"  among the {SHOWN} shown {tally[what, 'shown']:3}"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
