"""How a picture sees the board: the exact way from board millimetres to pixels and back.

A flat scan is a similarity. A photograph is a pinhole camera behind a lens whose radial distortion is
x_d = x (1 + k1 r^2 + k2 r^4) on the normalised plane (D. C. Brown, "Close-range camera calibration",
Photogrammetric Engineering 37 (1971) 855-866; the model and signs OpenCV documents).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ohmwright.geometry.frames import BoardPoint, Outline, PicturePoint
from ohmwright.geometry.transforms import Array, Homography, affine, similarity

MM_PER_INCH = 25.4
"""Exact by definition of the inch (1959)."""


@dataclass(frozen=True, slots=True)
class Lens:
    """A camera's lens and sensor.

    Parameters
    ----------
    focal_px : float
        Focal length over pixel pitch. [px]
    x_px, y_px : float
        Where the optical axis meets the picture. [px]
    k1, k2 : float
        Radial distortion; negative k1 bulges the picture like a barrel. [1]
    """

    focal_px: float
    x_px: float
    y_px: float
    k1: float = 0.0
    k2: float = 0.0

    def distorted(self, plane: Array) -> Array:
        """Points of the normalised plane, shape (n, 2), as pixels of the picture, shape (n, 2)."""
        square = (plane**2).sum(axis=1, keepdims=True)
        bent = plane * (1.0 + square * (self.k1 + square * self.k2))
        return np.asarray(bent * self.focal_px + [self.x_px, self.y_px], dtype=np.float64)

    def straightened(self, pixels: Array) -> Array:
        """The reverse of `distorted`: Newton's iteration on the radius, exact to rounding."""
        bent = (pixels - [self.x_px, self.y_px]) / self.focal_px
        target = np.sqrt((bent**2).sum(axis=1, keepdims=True))
        radius = target.copy()
        for _ in range(12):  # doubles the digits each time; twelve is ample for |k1 r^2| < 0.3
            square = radius**2
            value = radius * (1.0 + square * (self.k1 + square * self.k2)) - target
            slope = 1.0 + square * (3.0 * self.k1 + 5.0 * square * self.k2)
            radius = radius - value / slope
        return np.asarray(bent * np.where(target > 0.0, radius / np.where(target > 0.0, target, 1.0), 1.0))


@dataclass(frozen=True, slots=True)
class View:
    """The exact map of one side of a board into one picture.

    Parameters
    ----------
    side : str
        ``top`` or ``bottom``.
    plane : Homography
        Board millimetres to pixels; with a lens, to its normalised plane.
    lens : Lens or None
        None for a flat scan.
    """

    side: str
    plane: Homography
    lens: Lens | None = None

    def pixels(self, board_mm: Array) -> Array:
        """Board points in mm, shape (n, 2), as pixels, shape (n, 2)."""
        flat = self.plane.applied(board_mm)
        return flat if self.lens is None else self.lens.distorted(flat)

    def millimetres(self, pixels: Array) -> Array:
        """Pixels, shape (n, 2), as board points in mm, shape (n, 2)."""
        flat = pixels if self.lens is None else self.lens.straightened(pixels)
        return self.plane.inverse.applied(flat)

    def picture_point(self, point: BoardPoint) -> PicturePoint:
        """Where a place on the board is in the picture."""
        x, y = self.pixels(np.array([[point.x_mm, point.y_mm]]))[0]
        return PicturePoint(float(x), float(y))

    def board_point(self, point: PicturePoint) -> BoardPoint:
        """Which place on the board a pixel shows."""
        x, y = self.millimetres(np.array([[point.x_px, point.y_px]]))[0]
        return BoardPoint(float(x), float(y))


def scan_view(outline: Outline, side: str, px_per_mm: float, margin_mm: float = 0.0) -> View:
    """A flat scan of one side, the bottom one mirrored left to right as a turned board is.

    The first pixel's outer corner lies `margin_mm` outside the outline's corner.
    """
    half = 0.5  # pixel centres are at whole numbers, so the picture's edge is half a pixel before the first
    y = (margin_mm - outline.top_mm) * px_per_mm - half
    if side == "bottom":
        x = (outline.left_mm + outline.width_mm + margin_mm) * px_per_mm - half
        return View(side, similarity(px_per_mm, 0.0, x, y, mirrored=True))
    return View(side, similarity(px_per_mm, 0.0, (margin_mm - outline.left_mm) * px_per_mm - half, y))


def hand_held_view(
    outline: Outline,
    side: str,
    lens: Lens,
    *,
    distance_mm: float,
    tilt_deg: float = 8.0,
    turn_deg: float = 4.0,
    roll_deg: float = 3.0,
) -> View:
    """One side through a pinhole camera held over the board's middle, not quite straight.

    Parameters
    ----------
    distance_mm : float
        From the lens to the middle of the board. [mm]
    tilt_deg, turn_deg, roll_deg : float
        Rotation about the picture's x, its y, and the optical axis. [degrees]
    """
    middle = outline.centre
    flip = -1.0 if side == "bottom" else 1.0
    centred = affine(flip, 0.0, -flip * middle.x_mm, 0.0, 1.0, -middle.y_mm)
    turn = _rotation(tilt_deg, turn_deg, roll_deg)
    pose = np.column_stack([turn[:, 0], turn[:, 1], np.array([0.0, 0.0, distance_mm])])
    return View(side, Homography.of(pose).after(centred), lens)


def px_per_mm(dots_per_inch: float) -> float:
    """Pixels per millimetre of a scan of that resolution [px/mm].

    >>> round(px_per_mm(600), 4)
    23.622
    """
    return dots_per_inch / MM_PER_INCH


def _rotation(tilt_deg: float, turn_deg: float, roll_deg: float) -> Array:
    a, b, c = (math.radians(v) for v in (tilt_deg, turn_deg, roll_deg))
    about_x = np.array([[1, 0, 0], [0, math.cos(a), -math.sin(a)], [0, math.sin(a), math.cos(a)]])
    about_y = np.array([[math.cos(b), 0, math.sin(b)], [0, 1, 0], [-math.sin(b), 0, math.cos(b)]])
    about_z = np.array([[math.cos(c), -math.sin(c), 0], [math.sin(c), math.cos(c), 0], [0, 0, 1]])
    return np.asarray(about_z @ about_y @ about_x, dtype=np.float64)
