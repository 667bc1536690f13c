"""Figures set in dots or type, and the marks beside them, read by a small trained network that may say "neither".

Two layers, kept in `lettering.npz`; `scripts/train_lettering.py` makes it from rendered displays. A patch the
network has not met, two letters run together or half a figure belong to its class "other".
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import cv2
import numpy as np
from numpy.typing import NDArray

from ohmwright.pictures.display.glass import Grey

FIGURE_SIZE = (24, 24)
MARK_SIZE = (16, 56)
"""Rows and columns of a patch. [px]"""
OTHER = "other"


@dataclass(frozen=True, slots=True)
class Net:
    """A network of two layers. Shapes: (pixels, hidden), (hidden,), (hidden, signs), (signs,)."""

    first: NDArray[np.float32]
    first_bias: NDArray[np.float32]
    second: NDArray[np.float32]
    second_bias: NDArray[np.float32]
    signs: tuple[str, ...]

    def odds(self, patch: Grey) -> NDArray[np.float32]:
        """Probability of each sign. [1]"""
        hidden = np.maximum(patch.ravel() @ self.first + self.first_bias, 0)
        raw = hidden @ self.second + self.second_bias
        grown = np.exp(raw - raw.max())
        return np.asarray(grown / grown.sum(), np.float32)

    def sign(self, patch: Grey, least: float) -> tuple[str, float]:
        """The sign, or "" where none reaches the probability asked for. [1]"""
        odds = self.odds(patch)
        best = int(np.argmax(odds))
        found, odd = self.signs[best], float(odds[best])
        return (found if odd >= least and found != OTHER else ""), odd


@cache
def net(name: str) -> Net:
    """The network for ``figures`` or ``marks``."""
    with np.load(str(files("ohmwright.pictures.display").joinpath("lettering.npz")), allow_pickle=False) as kept:
        arrays = [kept[f"{name}_{part}"].astype(np.float32) for part in ("w1", "b1", "w2", "b2")]
        return Net(arrays[0], arrays[1], arrays[2], arrays[3], tuple(str(s) for s in kept[f"{name}_signs"]))


def figure_patch(ink: Grey, left: int, right: int, top: int, bottom: int) -> Grey:
    """A figure with the height of its row, in the middle of a patch. [px]"""
    rows, columns = FIGURE_SIZE
    pad = max(1, int(0.04 * (bottom - top)))
    part = np.clip(ink[max(0, top - pad) : bottom + pad, max(0, left - pad) : right + pad], 0, 1.3)
    scale = rows / max(part.shape[0], 1)
    wide = int(np.clip(round(part.shape[1] * scale), 1, columns))
    patch = np.zeros(FIGURE_SIZE, np.float32)
    start = (columns - wide) // 2
    patch[:, start : start + wide] = cv2.resize(part, (wide, rows), interpolation=cv2.INTER_AREA)
    return _even(patch)


def mark_patch(ink: Grey, left: int, right: int, top: int, bottom: int) -> Grey:
    """A mark of one or more letters, to the left of a patch and as high as it. [px]"""
    rows, columns = MARK_SIZE
    part = np.clip(ink[max(0, top) : bottom, max(0, left) : right], 0, 1.5)
    scale = (rows - 2) / max(part.shape[0], 1)
    wide = int(np.clip(round(part.shape[1] * scale), 1, columns - 1))
    patch = np.zeros(MARK_SIZE, np.float32)
    patch[1:-1, 1 : 1 + wide] = cv2.resize(part, (wide, rows - 2), interpolation=cv2.INTER_AREA)
    return _even(patch)


def _even(patch: Grey) -> Grey:
    top = float(np.percentile(patch, 98))
    return np.asarray(np.clip(patch / top, 0, 1.2) if top > 0.05 else patch, np.float32)
