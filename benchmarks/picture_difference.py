"""How surely a missing, moved or new part stands out between two pictures of one board, and how often nothing does.

Pairs of a scan and a photograph of a twin (another copy: parts sit a little elsewhere, other light, lens, noise and
dust), registered by the program itself, each with what it lies on around the board.
``python benchmarks/picture_difference.py``
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT)]

from benchmarks.registration import any_board, photo_of, sheet  # noqa: E402 (after the path is set)
from ohmwright.errors import DataError  # noqa: E402 (after the path is set)
from ohmwright.geometry import affine  # noqa: E402 (after the path is set)
from ohmwright.pictures.difference import Change, changes  # noqa: E402 (after the path is set)
from ohmwright.pictures.matching import matched  # noqa: E402 (after the path is set)
from ohmwright.pictures.outline import straightened  # noqa: E402 (after the path is set)
from ohmwright.pictures.render import ScanRequest, board_outline, board_picture, part_box  # noqa: E402 (after the path is set)

BENCH_MM = 3.0
"""What a picture shows around the board. [mm]"""


def overlap(change: Change, box: tuple[float, float, float, float]) -> bool:
    return not (
        change.x_mm > box[2] or box[0] > change.x_mm + change.width_mm
        or change.y_mm > box[3] or box[1] > change.y_mm + change.height_mm
    )  # fmt: skip


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=6, help="pairs of pictures")
    parser.add_argument("--each", type=int, default=3, help="parts missing, moved and new in each pair")
    asked = parser.parse_args()
    random = np.random.default_rng(3)
    hits: dict[str, list[int]] = {"missing": [0, 0], "new": [0, 0], "moved": [0, 0]}
    false = alarms = area = 0.0
    for n in range(asked.count):
        board = any_board(n)
        edge = board_outline(board)
        placed = [part for part in board if part.place is not None and len(part.pins) > 1]
        chosen = [placed[i] for i in random.permutation(len(placed))[: 3 * asked.each]]
        missing, new, moved = (chosen[k :: 3] for k in range(3))
        there = []
        for part in board:
            if part in moved and part.place is not None:
                turn = random.uniform(0, 2 * np.pi)
                far = random.uniform(0.4, 0.8)
                x, y = part.place.x_mm + far * np.cos(turn), part.place.y_mm + far * np.sin(turn)
                place = replace(part.place, x_mm=x, y_mm=y)
                part = replace(part, place=place)
            there.append(part)
        second = replace(board, parts=tuple(there))
        scan = board_picture(board, ScanRequest(seed=n, findings={p.name: "missing" for p in new}), edge)
        gone = {p.name: "missing" for p in missing}
        other = board_picture(second, ScanRequest(seed=n + 500, dots_per_inch=800, findings=gone), edge)
        pixels, _ = photo_of(other, random, n, 3600)
        onto = scan.view.plane.inverse
        try:
            match = matched(sheet(scan.pixels), onto, sheet(pixels), "top")
        except DataError as error:
            print(f"  {n} {error.what}")
            continue
        k = 22.0
        left, top = edge.left_mm - BENCH_MM, edge.top_mm - BENCH_MM
        box = (left, top, left + edge.width_mm + 2 * BENCH_MM, top + edge.height_mm + 2 * BENCH_MM)
        flat = straightened(sheet(pixels), match.view, box, k)
        began = time.monotonic()
        found = changes(sheet(scan.pixels), onto, flat, affine(1 / k, 0, box[0] + 0.5 / k, 0, 1 / k, box[1] + 0.5 / k))
        spent = time.monotonic() - began
        area += edge.width_mm * edge.height_mm
        true_boxes = [part_box(p) for p in chosen] + [part_box(p) for p in there if p.name in {m.name for m in moved}]
        for kind, lot in (("missing", missing), ("new", new), ("moved", moved)):
            for part in lot:
                got = any(overlap(c, part_box(part)) for c in found)
                hits[kind][0] += got
                hits[kind][1] += 1
                if not got:
                    print(f"    not seen: {kind} {part.name} {part.package}")
        wrong = [c for c in found if not any(overlap(c, b) for b in true_boxes)]
        alarms += len(found)
        false += len(wrong)
        told = [f"{c.x_mm:.1f},{c.y_mm:.1f} {c.width_mm:.1f}x{c.height_mm:.1f} {c.strength:.2f}" for c in wrong]
        print(f"  {n} {board.name}: {len(found)} places, {len(wrong)} of them false, {spent:.1f} s", told[:6])
    for kind, (hit, n) in hits.items():
        print(f"{kind:8} {hit} of {n} stand out")
    print(f"false alarms {false:.0f} of {alarms:.0f} places, {false / max(area / 2500, 1e-9):.2f} on 50 x 50 mm")
    return 0


if __name__ == "__main__":
    sys.exit(main())
