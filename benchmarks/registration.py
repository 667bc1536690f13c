"""How exactly pictures come to lie on each other, and how often pictures that do not belong together are taken to.

Boards of known geometry are rendered as scans and as photographs through a known camera; the error is that of the found
view against the true one on a grid over the board. Run it from the repository: ``python benchmarks/registration.py``.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT)]

from tests.pictures.made_boards import made_board  # noqa: E402 (after the path is set)

from ohmwright.circuit import Board  # noqa: E402 (after the path is set)
from ohmwright.errors import DataError  # noqa: E402 (after the path is set)
from ohmwright.formats.board_json import read_board_json  # noqa: E402 (after the path is set)
from ohmwright.geometry import View  # noqa: E402 (after the path is set)
from ohmwright.pictures.matching import Match, matched  # noqa: E402 (after the path is set)
from ohmwright.pictures.outline import laid_by_edge  # noqa: E402 (after the path is set)
from ohmwright.pictures.photo import PhotoRequest, photograph  # noqa: E402 (after the path is set)
from ohmwright.pictures.render import BoardPicture, ScanRequest, board_picture  # noqa: E402 (after the path is set)
from ohmwright.pictures.sheets import Sheet  # noqa: E402 (after the path is set)
from ohmwright.practice.choice import boards  # noqa: E402 (after the path is set)


def any_board(n: int) -> Board:
    """The practice boards first, then made ones."""
    known = [read_board_json(path) for path in boards().values()]
    return known[n] if n < len(known) else made_board(n)


def sheet(pixels: np.ndarray) -> Sheet:
    return Sheet.whole(np.ascontiguousarray(pixels[..., ::-1]))


def photo_of(scan: BoardPicture, random: np.random.Generator, seed: int, width: int) -> tuple[np.ndarray, View]:
    tilt, turn = random.uniform(-14, 14, 2)
    quarter = int(random.integers(4))
    fill = random.uniform(0.6, 0.85) * (0.72 if quarter % 2 else 1.0)
    return photograph(
        scan,
        PhotoRequest(
            width_px=width, height_px=width * 3 // 4, fill=fill, tilt_deg=tilt, turn_deg=turn,
            roll_deg=90 * quarter + random.uniform(-8, 8), k1=random.uniform(-0.15, 0.08),
            k2=random.uniform(-0.02, 0.03), blur_px=random.uniform(0.5, 1.3), noise=random.uniform(1.5, 4),
            uneven=random.uniform(0.1, 0.5), glare=random.uniform(0, 0.4), seed=seed,
        ),
    )  # fmt: skip


def close_up(scan: BoardPicture, random: np.random.Generator, magnify: float) -> tuple[np.ndarray, View]:
    """A microscope's view of a spot of 9 to 16 mm, turned by anything."""
    from ohmwright.geometry import similarity

    wide = random.uniform(9, 16)
    out = 1400
    o = scan.outline
    x, y = random.uniform(0.15, 0.85), random.uniform(0.2, 0.8)
    at = (x * o.width_mm + o.left_mm, y * o.height_mm + o.top_mm)
    scale, angle = out / wide, random.uniform(0, 360)
    turned = similarity(scale, angle, 0.0, 0.0)
    x, y = turned.at(*at)
    view = View("top", similarity(scale, angle, out / 2 - x, out * 0.375 - y))
    pixels = np.stack(np.meshgrid(np.arange(out), np.arange(out * 3 // 4)), -1).reshape(-1, 2).astype(float)
    there = scan.view.pixels(view.millimetres(pixels))
    grid = there.reshape(out * 3 // 4, out, 2).astype(np.float32)
    seen = cv2.remap(scan.pixels, grid[..., 0], grid[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_CONSTANT)
    lit = cv2.GaussianBlur(seen, (0, 0), 1.2).astype(np.float32) * random.uniform(0.75, 1.2)
    return np.clip(lit + random.standard_normal(lit.shape) * 3, 0, 255).astype(np.uint8), view


def errors(found: View, true: View, scan: BoardPicture, size: tuple[int, int]) -> np.ndarray:
    o = scan.outline
    x, y = np.meshgrid(np.linspace(0, o.width_mm, 40) + o.left_mm, np.linspace(0, o.height_mm, 30) + o.top_mm)
    grid = np.column_stack([x.ravel(), y.ravel()])
    there = true.pixels(grid)
    inside = (there > 0).all(axis=1) & (there < np.array(size)).all(axis=1)
    return np.asarray(np.hypot(*(found.millimetres(there[inside]) - grid[inside]).T))


def _laid(scan: BoardPicture, pixels: np.ndarray, side: str) -> Match:
    reference, onto = sheet(scan.pixels), scan.view.plane.inverse
    if side == "top":
        return matched(reference, onto, sheet(pixels), side)
    return laid_by_edge(reference, onto, "top", sheet(pixels), side)


def line(what: str, all_errors: list[np.ndarray], failed: int, n: int, spent: float) -> None:
    if not all_errors:
        print(f"{what:34} n {n:3} registered 0")
        return
    each = np.concatenate(all_errors)
    worst = max(float(np.quantile(e, 0.95)) for e in all_errors)
    print(
        f"{what:34} n {n:3} registered {n - failed:3}  median {np.median(each):.4f} mm"
        f"  95 % {np.quantile(each, 0.95):.4f} mm  worst picture's 95 % {worst:.3f} mm  {spent / n:.1f} s each"
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=12, help="boards")
    parser.add_argument("--false", type=int, default=50, help="pairs that do not belong together")
    parser.add_argument("--width", type=int, default=3000, help="of the photographs [px]")
    parser.add_argument("--seed", type=int, default=7, help="of the photographs and close-ups")
    asked = parser.parse_args()
    random = np.random.default_rng(asked.seed)
    scans, photos, ups, under = [], [], [], []
    for n in range(asked.count):
        board = any_board(n)
        scans.append(board_picture(board, ScanRequest(dots_per_inch=600, seed=n)))
        source = board_picture(board, ScanRequest(dots_per_inch=900, seed=n + 1000))
        photos.append(photo_of(source, random, n, asked.width))
        ups.append(close_up(source, random, 1.0))
        below = board_picture(board, ScanRequest(side="bottom", dots_per_inch=800, seed=n + 2000))
        under.append(photo_of(below, random, n + 50, asked.width))
    for what, pictures in (("photo to scan", photos), ("underside to upper side", under), ("close-up to scan", ups)):
        got, failed, began = [], 0, time.monotonic()
        for n, (scan, (pixels, true)) in enumerate(zip(scans, pictures, strict=True)):
            try:
                m = _laid(scan, pixels, true.side)
                got.append(errors(m.view, true, scan, (pixels.shape[1], pixels.shape[0])))
                said, true_95 = m.residuals, np.quantile(got[-1], 0.95)
                print(
                    f"    {n:2} agreement {m.agreement:.2f} of {m.count}, said {said.median_mm:.4f} /"
                    f" {said.worst_mm:.4f} mm, true {np.median(got[-1]):.4f} / {true_95:.4f} mm"
                )
            except DataError as error:
                failed += 1
                print(f"    {n:2} {error.what}")
        line(what, got, failed, len(pictures), time.monotonic() - began)
    wrong, began = 0, time.monotonic()
    for k in range(asked.false):
        a, b = int(random.integers(len(scans))), int(random.integers(len(scans)))
        b = (b + 1) % len(scans) if a == b else b
        pixels, true = (photos, ups, under)[k % 3][b]
        try:
            m = _laid(scans[a], pixels, true.side)
            wrong += 1
            print(f"    FALSE {a} {b} agreement {m.agreement:.2f} of {m.count}")
        except DataError as error:
            print(f"    {a} {b} {error.what}") if k < 12 else None
    spent = (time.monotonic() - began) / max(asked.false, 1)
    print(f"pairs that do not belong together  n {asked.false:3} falsely registered {wrong}  {spent:.1f} s each")
    return 0 if wrong == 0 else 1


if __name__ == "__main__":
    sys.exit(main())
