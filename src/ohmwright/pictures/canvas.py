"""The surface a board is painted on, and the shapes and blends it is painted with.

Everything is placed in millimetres and sampled per pixel from signed distances, so edges are
antialiased and every pad lies where the view says to a fraction of a pixel, at any resolution.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ohmwright.geometry.camera import View
from ohmwright.geometry.transforms import Homography, similarity

Pixels = NDArray[Any]
"""Eight-bit samples; OpenCV's stubs promise no more than some integer."""
Field = NDArray[Any]
"""Single-precision samples."""
Colour = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Spot:
    """Where something sits: board millimetres, turn in degrees, and the side it is on."""

    x_mm: float
    y_mm: float
    angle_deg: float = 0.0
    side: str = "top"

    @property
    def to_board(self) -> Homography:
        """From the thing's own frame (seen from its side) to board millimetres."""
        return similarity(1.0, self.angle_deg, self.x_mm, self.y_mm, mirrored=self.side == "bottom")


@dataclass(frozen=True, slots=True)
class Window:
    """A rectangle of the canvas with each pixel's place in the painted thing's own frame.

    Parameters
    ----------
    rows, columns : slice
    u, v : ndarray, shape (rows, columns)
        Millimetres along the thing's own axes.
    light : (float, float)
        Direction the light comes from, in the same axes. [1]
    px_mm : float
        Size of a pixel. [mm]
    """

    rows: slice
    columns: slice
    u: Field
    v: Field
    light: tuple[float, float]
    px_mm: float

    def cover(self, distance: Field) -> Field:
        """How much of each pixel lies inside a shape, from the signed distance to its edge in mm."""
        return np.clip(0.5 - distance / self.px_mm, 0.0, 1.0).astype(np.float32)

    def soft(self, distance: Field, blur_mm: float) -> Field:
        """The same with an edge that fades over `blur_mm`."""
        t = np.clip(0.5 - distance / max(blur_mm, self.px_mm), 0.0, 1.0)
        return (t * t * (3.0 - 2.0 * t)).astype(np.float32)


@dataclass(frozen=True, slots=True)
class Canvas:
    """Pixels being painted and how they see the board. Painting writes into `pixels`: it is the brush's only effect.

    Parameters
    ----------
    pixels : ndarray, shape (height, width, 3)
        sRGB, 0 to 255.
    px_per_mm : float
    light : (float, float)
        Direction in the picture the light comes from. [1]
    """

    pixels: Pixels
    view: View
    px_per_mm: float
    light: tuple[float, float] = (-0.55, -0.83)

    def window(self, spot: Spot, half_u_mm: float, half_v_mm: float) -> Window | None:
        """The pixels within a box about a spot, or None where the box lies outside the picture."""
        to_picture = self.view.plane.after(spot.to_board)
        box = np.array(
            [[-half_u_mm, -half_v_mm], [half_u_mm, -half_v_mm], [half_u_mm, half_v_mm], [-half_u_mm, half_v_mm]]
        )
        corners = to_picture.applied(box)
        height, width = self.pixels.shape[:2]
        left, top = np.maximum(np.floor(corners.min(axis=0)).astype(int) - 1, 0)
        right, bottom = np.minimum(np.ceil(corners.max(axis=0)).astype(int) + 2, (width, height))
        if left >= right or top >= bottom:
            return None
        back = to_picture.inverse.matrix
        x = np.arange(left, right, dtype=np.float32)[None, :]
        y = np.arange(top, bottom, dtype=np.float32)[:, None]
        u = (back[0, 0] * x + back[0, 1] * y + back[0, 2]).astype(np.float32)
        v = (back[1, 0] * x + back[1, 1] * y + back[1, 2]).astype(np.float32)
        light = back[:2, :2] @ np.array(self.light) * self.px_per_mm
        place = (slice(int(top), int(bottom)), slice(int(left), int(right)))
        return Window(*place, u, v, (float(light[0]), float(light[1])), 1.0 / self.px_per_mm)

    def paint(self, window: Window, cover: Field, colour: tuple[float, ...] | Field) -> None:
        """Lay a colour (one, or one per pixel) over the window as far as `cover` says."""
        under = self.pixels[window.rows, window.columns]
        weight = cover[..., None]
        over = np.asarray(colour, dtype=np.float32)
        mixed = under * (1.0 - weight) + over * weight
        self.pixels[window.rows, window.columns] = np.clip(mixed + 0.5, 0, 255).astype(np.uint8)

    def darken(self, window: Window, amount: Field) -> None:
        """Multiply the window's pixels by one less `amount`."""
        under = self.pixels[window.rows, window.columns]
        self.pixels[window.rows, window.columns] = (under * (1.0 - np.clip(amount, 0, 1))[..., None]).astype(np.uint8)


def box(u: Field, v: Field, half_u: float, half_v: float, radius: float = 0.0) -> Field:
    """Signed distance in mm to a box with rounded corners, negative inside."""
    radius = min(radius, half_u, half_v)
    du, dv = np.abs(u) - (half_u - radius), np.abs(v) - (half_v - radius)
    outside = np.hypot(np.maximum(du, 0), np.maximum(dv, 0))
    return np.asarray(outside + np.minimum(np.maximum(du, dv), 0) - radius, dtype=np.float32)


def disc(u: Field, v: Field, radius: float) -> Field:
    """Signed distance in mm to a disc."""
    return np.asarray(np.hypot(u, v) - radius, dtype=np.float32)


def dome(distance: Field, rise_mm: float) -> Field:
    """Height of a rounded edge [1]: 0 at the shape's edge, 1 from `rise_mm` inwards."""
    t = np.clip(-distance / rise_mm, 0.0, 1.0)
    return np.asarray(np.sqrt(1.0 - (1.0 - t) ** 2), dtype=np.float32)


def slope_towards(height: Field, window: Window) -> Field:
    """How far each pixel of a height field leans towards the light, about -1 to 1."""
    down, along = np.gradient(height)
    # the window's pixels may be turned against u and v: project on the picture's own axes
    step_u = (window.u[0, -1] - window.u[0, 0]) / max(window.u.shape[1] - 1, 1)
    step_v = (window.v[0, -1] - window.v[0, 0]) / max(window.u.shape[1] - 1, 1)
    size = max(float(np.hypot(step_u, step_v)), 1e-9)
    x = (window.light[0] * step_u + window.light[1] * step_v) / size
    across_u = (window.u[-1, 0] - window.u[0, 0]) / max(window.u.shape[0] - 1, 1)
    across_v = (window.v[-1, 0] - window.v[0, 0]) / max(window.u.shape[0] - 1, 1)
    y = (window.light[0] * across_u + window.light[1] * across_v) / size
    return np.asarray(-(along * x + down * y) / np.sqrt(along**2 + down**2 + 0.02), dtype=np.float32)


def tinted(level: Field, colour: Colour) -> Field:
    """A colour whose brightness follows `level` (1 is the colour itself), shape (h, w, 3)."""
    return np.asarray(level[..., None] * np.array(colour, dtype=np.float32), dtype=np.float32)


def grain(random: np.random.Generator, shape: tuple[int, int], cells: tuple[int, int], strength: float) -> Field:
    """Smooth random unevenness about zero with about `cells` blotches down and across."""
    import cv2  # lazily: it takes a fifth of a second to load

    rough = random.standard_normal((max(2, cells[0]), max(2, cells[1]))).astype(np.float32)
    return np.asarray(
        cv2.resize(rough, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC) * strength, dtype=np.float32
    )
