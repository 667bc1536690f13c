"""From pairs of points to the way a picture sees the board, and how well the pairs bear it out.

What is fitted grows with what there is to fit it to: a similarity from two pairs, an affine map from three,
a projective one from four, the lens's radial distortion from eight that are spread well. The last step is
least squares on the distance in the picture, with a soft loss so that a wrong pair pulls little (P. J. Huber,
"Robust Statistics", Wiley 1981; the model is Brown's, see `camera`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from ohmwright.errors import DataError
from ohmwright.geometry.camera import Lens, View
from ohmwright.geometry.transforms import (
    Array,
    Homography,
    Pair,
    affine_from_pairs,
    homography_from_pairs,
    similarity_from_pairs,
)

LENS_PAIRS = 8
"""Fewest pairs that the distortion of a lens is fitted to. [1] ten numbers are fitted, sixteen are then given"""
SOFT_PX = 1.5
"""Distance in the picture from which a pair counts as doubtful. [px]"""
FLIP = Homography(((-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)))
"""What the picture of an underside does to the board. [1]"""


@dataclass(frozen=True, slots=True)
class Residuals:
    """How far pairs of points lie from where a view puts them, on the board.

    Parameters
    ----------
    each_mm : tuple of float
        In the order of the pairs. [mm]
    """

    each_mm: tuple[float, ...]

    @property
    def median_mm(self) -> float:
        """[mm]"""
        return float(np.median(self.each_mm)) if self.each_mm else math.nan

    @property
    def worst_mm(self) -> float:
        """Under which 95 % of them lie. [mm]"""
        return float(np.quantile(self.each_mm, 0.95)) if self.each_mm else math.nan


def view_from_pairs(
    board_mm: Sequence[Pair], pixels: Sequence[Pair], side: str, size_px: tuple[int, int], *, lens: bool = False
) -> View:
    """The way a picture sees the board, from places that are known in both.

    Parameters
    ----------
    board_mm, pixels : sequences of (float, float)
        The same places on the board and in the picture. [mm], [px]
    size_px : (int, int)
        Width and height of the picture. [px]
    lens : bool
        Whether it was taken through a lens whose distortion is to be found; needs `LENS_PAIRS`.

    Raises
    ------
    DataError
        If there are too few pairs, they do not fix the map, or it would turn the board inside out.
    """
    if len(board_mm) == 2:
        plane = _two(board_mm, pixels, side)
    elif len(board_mm) == 3:
        plane = affine_from_pairs(board_mm, pixels)
    else:
        plane = homography_from_pairs(board_mm, pixels)
    view = View(side, plane)
    if len(board_mm) > 4:
        bend = lens and len(board_mm) >= LENS_PAIRS
        view = refined(view, np.array(board_mm), np.array(pixels), size_px, lens=bend)
    refuse_folded(view, np.array(board_mm, dtype=np.float64))
    return view


def refined(
    view: View,
    board_mm: Array,
    pixels: Array,
    size_px: tuple[int, int],
    *,
    lens: bool,
    soft_px: float = SOFT_PX,
) -> View:
    """A view brought nearest to the pairs.

    Parameters
    ----------
    board_mm, pixels : ndarray, shape (n, 2)
        The same places on the board and in the picture. [mm], [px]
    soft_px : float
        Distance from which a pair counts as doubtful. [px]
    """
    start = view.lens or _plain_lens(size_px)
    centre, spread = board_mm.mean(axis=0), float(np.ptp(board_mm, axis=0).max()) or 1.0
    # Board points near 1 keep the nine numbers of the plane of like size.
    inward = Homography(((1 / spread, 0.0, -centre[0] / spread), (0.0, 1 / spread, -centre[1] / spread), (0, 0, 1)))
    plane = _normal_plane(view, start).after(inward.inverse)
    near = inward.applied(board_mm)

    def unpacked(p: Array) -> tuple[Homography, Lens]:
        matrix = np.append(p[:8], 1.0).reshape(3, 3)
        k1, k2 = (float(p[8]), float(p[9])) if lens else (start.k1, start.k2)
        return Homography.of(matrix), Lens(start.focal_px, start.x_px, start.y_px, k1, k2)

    def misses(p: Array) -> Array:
        found, glass = unpacked(p)
        return (glass.distorted(found.applied(near)) - pixels).ravel()

    begin = np.append(plane.matrix.ravel()[:8], [start.k1, start.k2] if lens else [])
    done = least_squares(misses, begin, loss="soft_l1", f_scale=soft_px, x_scale="jac", max_nfev=200)
    found, glass = unpacked(done.x)
    if not lens and view.lens is None:
        flat = _pixel_plane(glass).after(found).after(inward)
        return View(view.side, flat)
    return View(view.side, found.after(inward), glass)


def residuals(view: View, board_mm: Array, pixels: Array) -> Residuals:
    """How far apart on the board the two places of each pair are. Shapes (n, 2), mm and px."""
    away = np.hypot(*(view.millimetres(pixels) - board_mm).T)
    return Residuals(tuple(float(v) for v in away))


def refuse_folded(view: View, board_mm: Array) -> None:
    """Refuse a view that mirrors what it should not, or does not mirror what it should, or folds the board over."""
    turns = _turns(view, board_mm)
    wanted = -1.0 if view.side == "bottom" else 1.0
    if np.all(turns * wanted > 0.0):
        return
    if np.all(turns * wanted < 0.0):
        raise DataError(
            "These pairs put the picture on the board as in a mirror.",
            why="an underside shows everything mirrored left to right, an upper side nothing",
            hint="say which side the picture shows, or check that no two pairs are exchanged",
        )
    raise DataError(
        "These pairs would fold the picture over.",
        why="at least one of them is on the wrong place",
        hint="take the pair that is farthest off away and mark it again",
    )


def _turns(view: View, board_mm: Array) -> Array:
    """Sign and size of the area of a small triangle in the picture, for one at each place on the board."""
    step = 0.1
    here = view.pixels(board_mm)
    right = view.pixels(board_mm + np.array([step, 0.0])) - here
    down = view.pixels(board_mm + np.array([0.0, step])) - here
    return np.asarray(right[:, 0] * down[:, 1] - right[:, 1] * down[:, 0])


def _two(board_mm: Sequence[Pair], pixels: Sequence[Pair], side: str) -> Homography:
    if side != "bottom":
        return similarity_from_pairs(board_mm, pixels)
    return similarity_from_pairs([(-x, y) for x, y in board_mm], pixels).after(FLIP)


def _plain_lens(size_px: tuple[int, int]) -> Lens:
    # A plane seen through a free projective map does not tell the focal length; any one serves as the unit of k1, k2.
    width, height = size_px
    return Lens(float(max(width, height)), (width - 1) / 2, (height - 1) / 2)


def _pixel_plane(lens: Lens) -> Homography:
    return Homography(((lens.focal_px, 0.0, lens.x_px), (0.0, lens.focal_px, lens.y_px), (0.0, 0.0, 1.0)))


def _normal_plane(view: View, lens: Lens) -> Homography:
    """Board to the lens's normalised plane."""
    return view.plane if view.lens is not None else _pixel_plane(lens).inverse.after(view.plane)
