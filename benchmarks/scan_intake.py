"""How long a scan of 120 megapixels takes from the file to the tiles that are panned, and the memory that takes.

The program takes a picture in in a process of its own; its largest resident set is printed.
``python benchmarks/scan_intake.py``
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT), str(ROOT / "benchmarks")]

from ohmwright.pictures.shelf import PictureShelf  # noqa: E402 (after the path is set)

MOST_S, MOST_MB = 5.0, 300.0
"""What is wanted. [s], [MB]"""


def scan(megapixels: float, seed: int) -> np.ndarray:
    """Something with the detail of a scan: boxes of all sizes, and noise."""
    random = np.random.default_rng(seed)
    height = round((megapixels * 1e6 * 3 / 4) ** 0.5)
    width = height * 4 // 3
    picture = np.full((height, width, 3), (60, 95, 35), np.uint8)
    for _ in range(20000):
        x, y, w, h = (int(v) for v in random.integers((0, 0, 8, 8), (width, height, 120, 120)))
        cv2.rectangle(picture, (x, y), (x + w, y + h), [int(v) for v in random.integers(20, 220, 3)], -1)
    for row in range(0, height, 500):
        piece = picture[row : row + 500]
        piece[...] = np.clip(piece + random.normal(0, 4, piece.shape), 0, 255)
    return picture


def take(file: Path, shelf: Path) -> None:
    """Take it in; print its size, the seconds, and the largest resident set in MB."""
    began = time.monotonic()
    kept = PictureShelf(shelf).take(file)
    spent = time.monotonic() - began
    most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(kept.width_px, kept.height_px, spent, most)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--megapixels", type=float, default=120.0)
    parser.add_argument("--count", type=int, default=3)
    parser.add_argument("--take", type=Path, nargs=2, metavar=("FILE", "SHELF"), help="take this file in, no more")
    asked = parser.parse_args()
    if asked.take:
        take(*asked.take)
        return 0
    fine = True
    for n in range(asked.count):
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "scan.jpg"
            cv2.imwrite(str(file), scan(asked.megapixels, n), [cv2.IMWRITE_JPEG_QUALITY, 92])
            # From a process of its own: one that starts beside this one would be charged with the scan made here.
            command = [sys.executable, __file__, "--take", str(file), str(Path(folder) / "shelf")]
            told = subprocess.run(command, check=True, capture_output=True).stdout
            width, height, spent, most = map(float, told.split())
            print(
                f"{width:.0f} x {height:.0f}, {file.stat().st_size / 1e6:.0f} MB: {spent:.1f} s of {MOST_S:g},"
                f" at most {most:.0f} MB of {MOST_MB:g}",
                flush=True,
            )
            fine = fine and spent <= MOST_S and most <= MOST_MB
    print("reached" if fine else "missed")
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main())
