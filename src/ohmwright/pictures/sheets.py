"""A picture at the size that a task needs, with the way back to the pixels of the whole."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from ohmwright.geometry.transforms import Array, Homography, affine
from ohmwright.pictures.canvas import Pixels


@dataclass(frozen=True)
class Sheet:
    """A picture, perhaps made smaller, perhaps cut out of a larger one.

    Parameters
    ----------
    pixels : ndarray, shape (height, width, 3)
        Blue, green, red.
    to_full : Homography
        From pixels here to pixels of the whole picture.
    full_px : (int, int)
        Width and height of the whole picture. [px]
    """

    pixels: Pixels
    to_full: Homography
    full_px: tuple[int, int]

    @classmethod
    def whole(cls, pixels: Pixels) -> Sheet:
        """A picture as it is."""
        return cls(pixels, affine(1, 0, 0, 0, 1, 0), (pixels.shape[1], pixels.shape[0]))

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height here. [px]"""
        return int(self.pixels.shape[1]), int(self.pixels.shape[0])

    @cached_property
    def grey(self) -> NDArray[np.uint8]:
        """Its lightness, shape (height, width)."""
        return np.asarray(cv2.cvtColor(self.pixels, cv2.COLOR_BGR2GRAY), dtype=np.uint8)

    def full(self, points: Array) -> Array:
        """Pixels here, shape (n, 2), as pixels of the whole."""
        return self.to_full.applied(points)

    def here(self, points: Array) -> Array:
        """Pixels of the whole, shape (n, 2), as pixels here."""
        return self.to_full.inverse.applied(points)

    def smaller(self, factor: float) -> Sheet:
        """The same with its edges `factor` times as long, at most as they are. [1]"""
        if factor >= 0.999:
            return self
        width, height = self.size_px
        size = (max(1, round(width * factor)), max(1, round(height * factor)))
        small = np.asarray(cv2.resize(self.pixels, size, interpolation=cv2.INTER_AREA))
        kx, ky = width / size[0], height / size[1]
        # Pixel centres are at whole numbers.
        back = affine(kx, 0.0, (kx - 1) / 2, 0.0, ky, (ky - 1) / 2)
        return Sheet(small, self.to_full.after(back), self.full_px)

    def at_most(self, pixels: float) -> Sheet:
        """The same with no more pixels than that. [px]"""
        width, height = self.size_px
        return self.smaller((pixels / (width * height)) ** 0.5)
