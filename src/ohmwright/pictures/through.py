"""Round spots that both sides of a board show at the same places: vias, pins and holes that go through.

An underside and an upper side have nothing else in common. How many spots would agree by chance is told by the same
spots moved about: what goes through agrees at one place only, far more often than anywhere near.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.spatial import cKDTree

from ohmwright.geometry.transforms import Array
from ohmwright.pictures.canvas import Field, Pixels

PX_PER_MM = 20.0
"""Resolution at which spots are sought. [px/mm]"""
RADII_MM = (0.13, 0.19, 0.27, 0.4)
"""Of spots, from a small via's hole to a pin's solder. [mm] common practice, no source"""
ROUND = 0.6
"""Least 4 det / trace^2 of the curvature at a spot; 1 is a round one, 0 a line. [1]"""
APART_MM = 0.6
"""Spots lie at least so far apart. [mm]"""
BELOW, ABOVE = 80, 400
"""Most spots that are taken of an underside, which is mostly bare, and of an upper side. [1]"""
SAME_MM = 0.15
"""How near two spots of both sides lie that are one. [mm] a view by the edge is true to 0.1"""
SHIFTS_MM = np.array([
    (r * np.cos(a), r * np.sin(a))
    for r in np.arange(1.0, 4.1, 0.3)
    for a in np.linspace(0.0, 2 * np.pi, 18, endpoint=False) + r
])  # fmt: skip
"""Where the same spots are moved to, to learn what chance does. [mm]"""
ONE_PLACE_MM = 3.5
"""What agrees within that is one place. [mm] the ring about a screw is as wide"""
LEAST_PLACES = 6
"""Fewer places that agree may be chance. [1] another board of one outline and screws reached 4, all at its screws"""
CLEARLY = 5.0
"""By how many standard deviations spots that agree are more than by chance. [1] true ones reach 5 to 32"""


@dataclass(frozen=True, slots=True)
class Through:
    """What both sides show at one place.

    Parameters
    ----------
    of_reference, of_picture : ndarray, shape (n, 2)
        Where either picture shows each spot, laid on the board. [mm]
    clearly : float
        By how many standard deviations there are more than by chance. [1]
    """

    of_reference: Array
    of_picture: Array
    clearly: float

    @property
    def count(self) -> int:
        """How many spots agree. [1]"""
        return len(self.of_reference)

    @property
    def sure(self) -> bool:
        """Whether this cannot be chance."""
        return len(apart(self.of_reference)) >= LEAST_PLACES and self.clearly >= CLEARLY


def apart(points: Array) -> list[Array]:
    """Of points those that lie well apart, a cluster counting once. [mm]"""
    kept: list[Array] = []
    for point in points:
        if all(np.hypot(*(point - other)) > ONE_PLACE_MM for other in kept):
            kept.append(point)
    return kept


def same_spots(of_reference: Array, of_picture: Array) -> Through:
    """Spots of two sides that lie at one place of the board; of the second all are sought in the first. [mm]"""
    if not len(of_reference) or not len(of_picture):
        return Through(np.zeros((0, 2)), np.zeros((0, 2)), 0.0)
    tree = cKDTree(of_reference)
    away, nearest = tree.query(of_picture)
    same = away < SAME_MM
    moved = (of_picture[None] + SHIFTS_MM[:, None]).reshape(-1, 2)
    chance = (tree.query(moved)[0] < SAME_MM).reshape(len(SHIFTS_MM), -1).sum(axis=1)
    clearly = (int(same.sum()) - float(chance.mean())) / max(float(chance.std()), 1.0)
    return Through(of_reference[nearest[same]], of_picture[same], clearly)


def round_spots(grey: Pixels, most: int) -> Array:
    """The strongest round spots of a straightened picture of `PX_PER_MM`, light or dark, shape (n, 2). [px]"""
    image = grey.astype(np.float32)
    # The light falls off over a photo: a spot is as strong as it differs from the lightness about it.
    image = image / (cv2.GaussianBlur(image, (0, 0), 1.5 * PX_PER_MM) + 8.0)
    strength = np.zeros_like(image)
    for radius in RADII_MM:
        strength = np.maximum(strength, _roundness(image, radius * PX_PER_MM / 2**0.5))
    window = 2 * int(APART_MM * PX_PER_MM / 2) + 1
    peak = (strength == cv2.dilate(strength, np.ones((window, window), np.uint8))) & (strength > 0)
    v, u = np.nonzero(peak)
    best = np.argsort(-strength[v, u], kind="stable")[:most]
    return np.column_stack([u[best], v[best]]).astype(np.float64)


def _roundness(image: Field, sigma: float) -> Field:
    """Size of the Laplacian where the curvature is alike in all directions, else 0."""
    soft = cv2.GaussianBlur(image, (0, 0), sigma)
    xx, yy, xy = (
        cv2.Sobel(soft, cv2.CV_32F, dx, dy, ksize=3) * (sigma * sigma / 4) for dx, dy in ((2, 0), (0, 2), (1, 1))
    )
    trace = xx + yy
    return np.where(4 * (xx * yy - xy * xy) > ROUND * trace * trace, np.abs(trace), 0.0).astype(np.float32)
