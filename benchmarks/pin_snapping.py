"""How far laid pins lie from the true pads on rendered boards, with clicks that miss as a hand does.

Scans and straightened photographs of boards of known geometry; every part is laid by its clicks, each off by a normal
error along both axes. Errors are in pitches of the part's package. ``python benchmarks/pin_snapping.py``
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT)]

from benchmarks.registration import any_board, photo_of, sheet  # noqa: E402 (after the path is set)
from ohmwright.boardmap.seating import far_land  # noqa: E402 (after the path is set)
from ohmwright.circuit import Board  # noqa: E402 (after the path is set)
from ohmwright.geometry import (  # noqa: E402 (after the path is set)
    Homography,
    View,
    affine,
    pad_centres,
    part_pattern,
    similarity_from_pairs,
)
from ohmwright.geometry.lands import Land  # noqa: E402 (after the path is set)
from ohmwright.pictures.outline import straightened  # noqa: E402 (after the path is set)
from ohmwright.pictures.render import ScanRequest, board_picture  # noqa: E402 (after the path is set)
from ohmwright.pictures.sheets import Sheet  # noqa: E402 (after the path is set)
from ohmwright.pictures.snapping import pitch_of, sized, snapped  # noqa: E402 (after the path is set)

Array = NDArray[np.float64]
Missed = dict[str, list[float]]


def misses(on: Homography, lands: Sequence[Land], truth: dict[str, Array], unit: float) -> list[float]:
    """How far each pad lies from the true one, in that unit. [px]"""
    return [float(np.hypot(*(np.array(on.at(n.x_mm, n.y_mm)) - truth[n.number]))) / unit for n in lands]


def scene(asked: argparse.Namespace, n: int, random: np.random.Generator) -> tuple[Board, Sheet, View]:
    """A board, its picture, and how that sees it."""
    board = any_board(n)
    scan = board_picture(board, ScanRequest(dots_per_inch=asked.dpi, seed=n))
    picture, view = sheet(scan.pixels), scan.view
    if asked.photo:
        pixels, true = photo_of(scan, random, n, 4000)
        o, k = scan.outline, 30.0
        box = (o.left_mm, o.top_mm, o.left_mm + o.width_mm, o.top_mm + o.height_mm)
        picture = straightened(sheet(pixels), true, box, k)
        view = View("top", affine(k, 0, -k * o.left_mm - 0.5, 0, k, -k * o.top_mm - 0.5))
    return board, picture, view


def tell(
    asked: argparse.Namespace, before: Missed, after: Missed, kept: Missed, doubts: dict[tuple[str, str], int]
) -> None:
    """The table, in pitches."""
    print(f"clicks off by sd {asked.sd} mm, {asked.dpi:g} dpi{', photographs' if asked.photo else ''}")
    for what in sorted(after):
        b, a, k = (np.array(v or [np.nan]) for v in (before[what], after[what], kept[what]))
        print(
            f"{what:26} pins {len(a):5} parts {doubts[what, 'n']:4} doubted {doubts[what, 'doubted']:3}"
            f"  as clicked median {np.median(b):.3f} 95 % {np.quantile(b, 0.95):.3f}"
            f"  laid median {np.median(a):.3f} 95 % {np.quantile(a, 0.95):.3f}"
            f"  not doubted {np.median(k):.3f} {np.quantile(k, 0.95):.3f} [pitches]"
        )


def settings() -> argparse.Namespace:
    """What was asked for on the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=8, help="boards")
    parser.add_argument("--first", type=int, default=0, help="of the boards: four practice boards, then made ones")
    parser.add_argument("--seed", type=int, default=11, help="of the clicks and the photographs")
    parser.add_argument("--sd", type=float, default=0.3, help="of a click [mm]")
    parser.add_argument("--dpi", type=float, default=600.0)
    parser.add_argument("--photo", action="store_true", help="photographs, straightened by the true view")
    parser.add_argument("--unknown", action="store_true", help="the scale is not known")
    parser.add_argument("--each", action="store_true", help="print every part")
    return parser.parse_args()


def main() -> int:
    asked = settings()
    random = np.random.default_rng(asked.seed)
    tables: tuple[Missed, Missed, Missed] = defaultdict(list), defaultdict(list), defaultdict(list)
    before, after, kept = tables
    doubts: dict[tuple[str, str], int] = defaultdict(int)
    spent = 0.0
    for n in range(asked.first, asked.first + asked.count):
        board, picture, view = scene(asked, n, random)
        taken: list[Array] = []
        for part in board:
            pattern = part_pattern(part)
            few = pattern.family == "no-lead" and len(part.pins) < len(pattern.lands) - 1
            if part.place is None or len(pattern.lands) < 2 or few:  # the picture shows no pads without pins
                continue
            pitch = pitch_of(pattern)
            truth = {pad.pin: view.pixels(np.array([[pad.x_mm, pad.y_mm]]))[0] for pad in pad_centres(part)}
            lands = [land for land in pattern.lands if land.number in truth]
            if len(lands) < 2 or lands[0] is not pattern.lands[0]:
                continue
            first, far = far_land(pattern)
            if far.number not in truth:
                continue
            px = abs(np.linalg.det(view.plane.matrix[:2, :2])) ** 0.5
            miss = random.normal(0, asked.sd * px, (2, 2))
            a, b = truth[first.number] + miss[0], truth[far.number] + miss[1]
            on = similarity_from_pairs([(first.x_mm, first.y_mm), (far.x_mm, far.y_mm)], [tuple(a), tuple(b)])
            if not asked.unknown:
                on = sized(on, px)
            began = time.monotonic()
            snap = snapped(picture, pattern, on, scale_known=not asked.unknown, taken=taken)
            spent += time.monotonic() - began
            corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2
            for n_land in lands if not snap.doubt else ():
                half = corners * (n_land.width_mm, n_land.height_mm) + (n_land.x_mm, n_land.y_mm)
                taken.append(snap.on_picture.applied(half))
            as_clicked, as_laid = (misses(m, lands, truth, px * pitch) for m in (on, snap.on_picture))
            family = f"{pattern.family}{'' if pattern.sourced else ' (no source)'}"
            for what in (family, "all"):
                before[what] += as_clicked
                after[what] += as_laid
                kept[what] += as_laid if not snap.doubt else []
                doubts[what, "n"] += 1
                doubts[what, "doubted"] += bool(snap.doubt)
            if asked.each and max(as_laid) > 0.2:
                print(
                    f"    {board.name} {part.name} {part.package} {part.place.angle_deg:.0f} score {snap.score:.2f}"
                    f" moved {snap.moved_mm:.2f} worst {max(as_laid):.2f} pitch {pitch:.2f} {snap.doubt}"
                )
    tell(asked, before, after, kept, doubts)
    print(f"{spent / max(1, doubts['all', 'n']) * 1000:.0f} ms a part")
    return 0


if __name__ == "__main__":
    sys.exit(main())
