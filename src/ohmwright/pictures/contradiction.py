"""Whether two pictures that were brought together contradict each other anywhere.

Two boards with one chip of the same kind look alike all over that chip; what tells them apart is what lies around it.
Over a grid of cells the detail of both pictures is compared: where both show some, and it is not the same, they
contradict each other. A cell that is bare in either tells nothing.
"""

from __future__ import annotations

import cv2
import numpy as np

from ohmwright.geometry.camera import View
from ohmwright.geometry.transforms import Array, Homography
from ohmwright.pictures.canvas import Field
from ohmwright.pictures.sheets import Sheet

CELLS = (4, 3)
"""Across and down the picture. [1]"""
POINTS = 1.5e6
"""Places that are compared, at most. [1]"""
FINEST = 16.0
"""Places to the millimetre, at most. [1/mm]"""
DETAIL_MM = (0.08, 0.5)
"""What is softer and coarser than that is not compared. [mm]"""
STRUCTURE = 0.05
"""Standard deviation of the logarithm of lightness from which a cell shows something. [1] bare board has 0.02"""
UNLIKE = 0.3
"""Correlation under which a cell is not the same. [1] the same ones with structure reached 0.5 and more"""
MOST_SHARE = 0.15
"""Share of such cells that may contradict: parts are taken off and put on. [1]"""


def contradicted(reference: Sheet, to_board: Homography, picture: Sheet, view: View) -> bool:
    """Whether more cells contradict than a repair explains."""
    alike = [r for r, a, b in _cells(reference, to_board, picture, view) if min(a, b) > STRUCTURE]
    against = sum(r < UNLIKE for r in alike)
    return against >= 2 and against > MOST_SHARE * len(alike)


def _cells(reference: Sheet, to_board: Homography, picture: Sheet, view: View) -> list[tuple[float, float, float]]:
    """For each cell the correlation of both pictures' detail, and how much each shows."""
    low, high = _shared(reference, to_board, picture, view)
    if (high - low).min() <= 0:
        return []
    per_mm = min(FINEST, (POINTS / float(np.prod(high - low))) ** 0.5)
    x, y = (np.arange(low[k], high[k], 1.0 / per_mm) for k in (0, 1))
    if min(len(x), len(y)) < 2:
        return []
    board = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    there = view.pixels(board)
    shape = (len(y), len(x))
    a = _detail(reference, to_board.inverse.applied(board), shape, per_mm)
    b = _detail(picture, there, shape, per_mm)
    width, height = picture.full_px
    column, row = (np.floor(there[:, k] / size * n) for k, size, n in ((0, width, CELLS[0]), (1, height, CELLS[1])))
    inside = (column >= 0) & (column < CELLS[0]) & (row >= 0) & (row < CELLS[1])
    cell = np.where(inside, column * CELLS[1] + row, -1).astype(int)
    out = []
    for n in range(CELLS[0] * CELLS[1]):
        one, other = a[cell == n], b[cell == n]
        if len(one) >= 400 and one.std() > 0 and other.std() > 0:
            out.append((float(np.corrcoef(_clipped(one), _clipped(other))[0, 1]), float(one.std()), float(other.std())))
    return out


def _shared(reference: Sheet, to_board: Homography, picture: Sheet, view: View) -> tuple[Array, Array]:
    """Left top and right bottom of what both show. [mm]"""
    width, height = picture.full_px
    rim = np.array([[x * width, y * height] for x in (0.02, 0.5, 0.98) for y in (0.02, 0.5, 0.98)])
    seen = view.millimetres(rim)
    across, down = reference.full_px
    own = to_board.applied(np.array([[0.0, 0.0], [across, 0.0], [across, down], [0.0, down]]))
    return np.maximum(seen.min(axis=0), own.min(axis=0)), np.minimum(seen.max(axis=0), own.max(axis=0))


def _detail(sheet: Sheet, full_px: Array, shape: tuple[int, int], per_mm: float) -> Field:
    """What a picture shows at those places, without what is coarser or finer, shape (n,)."""
    at = sheet.here(full_px).astype(np.float32).reshape(*shape, 2)
    lit = cv2.remap(sheet.grey, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    light = np.log(lit.astype(np.float32) + 20.0)
    fine, coarse = (cv2.GaussianBlur(light, (0, 0), max(mm * per_mm, 0.6)) for mm in DETAIL_MM)
    return np.asarray(fine - coarse, dtype=np.float32).ravel()


def _clipped(values: Field) -> Field:
    most = 3.0 * float(values.std())
    return np.clip(values, -most, most)
