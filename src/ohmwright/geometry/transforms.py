"""Maps between plane frames, as values: similarity, affine and projective, composed and inverted.

All three are one type, a 3 by 3 matrix that acts on homogeneous points; they differ in how they are
made. The estimates follow Hartley and Zisserman, "Multiple View Geometry in Computer Vision", 2nd ed.,
Alg. 4.2 (projective, normalised) and S. Umeyama, "Least-squares estimation of transformation parameters
between two point patterns", IEEE PAMI 13 (1991) 376-380 (similarity).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ohmwright.errors import DataError

Array = NDArray[np.float64]
Row = tuple[float, float, float]
Pair = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Homography:
    """A projective map of the plane: nine numbers, row by row, of which the last is 1 where it can be."""

    rows: tuple[Row, Row, Row]

    @classmethod
    def of(cls, matrix: Array) -> Homography:
        """The map with that 3 by 3 matrix."""
        scaled = matrix / matrix[2, 2] if abs(matrix[2, 2]) > 1e-12 * float(np.abs(matrix).max()) else matrix
        rows = [(float(r[0]), float(r[1]), float(r[2])) for r in scaled]
        return cls((rows[0], rows[1], rows[2]))

    @property
    def matrix(self) -> Array:
        """Its 3 by 3 matrix."""
        return np.array(self.rows, dtype=np.float64)

    def applied(self, points: Array) -> Array:
        """The images of points.

        Parameters
        ----------
        points : ndarray, shape (n, 2)
            In the unit of the frame it maps from.

        Returns
        -------
        ndarray, shape (n, 2)
            In the unit of the frame it maps to.
        """
        matrix = self.matrix
        mapped = points @ matrix[:, :2].T + matrix[:, 2]
        return np.asarray(mapped[:, :2] / mapped[:, 2:], dtype=np.float64)

    def at(self, x: float, y: float) -> Pair:
        """The image of one point."""
        a, b, c = self.rows
        w = c[0] * x + c[1] * y + c[2]
        return (a[0] * x + a[1] * y + a[2]) / w, (b[0] * x + b[1] * y + b[2]) / w

    def after(self, first: Homography) -> Homography:
        """The map that does `first` and then this one."""
        return Homography.of(self.matrix @ first.matrix)

    @property
    def inverse(self) -> Homography:
        """The map back, or a clear error where the map flattens the plane."""
        matrix = self.matrix
        if abs(np.linalg.det(matrix)) < 1e-14 * float(np.abs(matrix).max()) ** 3:
            raise DataError(
                "This map cannot be undone: it squeezes the plane onto a line.",
                hint="choose reference points that do not lie on one line",
            )
        return Homography.of(np.asarray(np.linalg.inv(matrix), dtype=float))

    @property
    def mirrors(self) -> bool:
        """Whether it turns a left hand into a right hand."""
        return float(np.linalg.det(self.matrix)) < 0.0


def similarity(scale: float, angle_deg: float, x: float, y: float, *, mirrored: bool = False) -> Homography:
    """Scale [1] and turn (counter-clockwise as seen, y being down), then move by (x, y) of the target frame.

    A mirrored one flips x first.
    """
    c, s = math.cos(math.radians(angle_deg)) * scale, math.sin(math.radians(angle_deg)) * scale
    f = -1.0 if mirrored else 1.0
    return Homography(((c * f, s, x), (-s * f, c, y), (0.0, 0.0, 1.0)))


def affine(a: float, b: float, x: float, c: float, d: float, y: float) -> Homography:
    """The map (u, v) -> (a u + b v + x, c u + d v + y)."""
    return Homography(((a, b, x), (c, d, y), (0.0, 0.0, 1.0)))


def similarity_from_pairs(source: Sequence[Pair], target: Sequence[Pair]) -> Homography:
    """The similarity without mirroring that brings `source` nearest to `target` (Umeyama 1991)."""
    _refuse_few(source, target, 2)
    x, y = np.array(source, dtype=np.float64), np.array(target, dtype=np.float64)
    mean_x, mean_y = x.mean(axis=0), y.mean(axis=0)
    spread = float(((x - mean_x) ** 2).sum(axis=1).mean())
    if spread == 0.0:
        raise _degenerate()
    u, d, vt = np.linalg.svd((y - mean_y).T @ (x - mean_x) / len(x))
    sign = np.array([1.0, 1.0 if np.linalg.det(u) * np.linalg.det(vt) > 0 else -1.0])
    turn = u @ np.diag(sign) @ vt
    scale = float((d * sign).sum()) / spread
    matrix = np.eye(3)
    matrix[:2, :2] = scale * turn
    matrix[:2, 2] = mean_y - scale * turn @ mean_x
    return Homography.of(matrix)


def affine_from_pairs(source: Sequence[Pair], target: Sequence[Pair]) -> Homography:
    """The least-squares affine map from three pairs or more."""
    _refuse_few(source, target, 3)
    design = np.column_stack([np.array(source, dtype=np.float64), np.ones(len(source))])
    if np.linalg.matrix_rank(design) < 3:
        raise _degenerate()
    found = np.linalg.lstsq(design, np.array(target, dtype=np.float64), rcond=None)[0]
    return Homography.of(np.vstack([found.T, [0.0, 0.0, 1.0]]))


def homography_from_pairs(source: Sequence[Pair], target: Sequence[Pair]) -> Homography:
    """The projective map from four pairs or more (Hartley and Zisserman, Alg. 4.2)."""
    _refuse_few(source, target, 4)
    to_source, x = _normalised(np.array(source, dtype=np.float64))
    to_target, y = _normalised(np.array(target, dtype=np.float64))
    rows = []
    for (u, v), (p, q) in zip(x, y, strict=True):
        rows.append([0, 0, 0, -u, -v, -1, q * u, q * v, q])
        rows.append([u, v, 1, 0, 0, 0, -p * u, -p * v, -p])
    _, sizes, vt = np.linalg.svd(np.array(rows, dtype=np.float64))
    if sizes[7] < 1e-9 * sizes[0]:
        raise _degenerate()
    return Homography.of(np.linalg.inv(to_target) @ vt[8].reshape(3, 3) @ to_source)


def _normalised(points: Array) -> tuple[Array, Array]:
    """The map that centres points at mean distance sqrt(2), and the points so mapped."""
    centre = points.mean(axis=0)
    distance = float(np.sqrt(((points - centre) ** 2).sum(axis=1)).mean())
    if distance == 0.0:
        raise _degenerate()
    k = math.sqrt(2.0) / distance
    return np.array([[k, 0, -k * centre[0]], [0, k, -k * centre[1]], [0, 0, 1]]), (points - centre) * k


def _refuse_few(source: Sequence[Pair], target: Sequence[Pair], least: int) -> None:
    if len(source) != len(target):
        raise ValueError(f"source has {len(source)} points and target {len(target)}; they must be pairs")
    if len(source) < least:
        raise DataError(f"{len(source)} pairs of points are too few.", hint=f"mark at least {least} points")


def _degenerate() -> DataError:
    return DataError(
        "These reference points do not fix the map.",
        why="too many of them fall on one line or on one spot",
        hint="choose points far apart, near the corners of the board",
    )
