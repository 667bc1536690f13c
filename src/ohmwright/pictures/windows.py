"""Pieces of kept pictures put together from their tiles, so that no task has to decode a whole picture again."""

from __future__ import annotations

from typing import Protocol

import cv2
import numpy as np

from ohmwright.errors import DataError
from ohmwright.geometry.transforms import affine
from ohmwright.pictures.pyramid import TILE, Pyramid
from ohmwright.pictures.sheets import Sheet


class Tiled(Protocol):
    """What is needed of a shelf."""

    def pyramid(self, key: str) -> Pyramid:
        """How a picture is cut."""
        ...

    def tile(self, key: str, level: int, x: int, y: int) -> bytes:
        """One tile, JPEG. [1]"""
        ...


Box = tuple[float, float, float, float]
"""Left, top, right, bottom in pixels of the whole picture. [px]"""


def window(shelf: Tiled, key: str, box: Box, most_px: float = 4e6) -> Sheet:
    """What a picture shows in a box, as sharp as can be with that many pixels. [px]"""
    pyramid = shelf.pyramid(key)
    left, top = max(0.0, box[0]), max(0.0, box[1])
    right, bottom = min(float(pyramid.width_px), box[2]), min(float(pyramid.height_px), box[3])
    if right - left < 2 or bottom - top < 2:
        raise DataError("There is nothing of the picture there.", hint="choose a place on the picture")
    level = pyramid.levels - 1
    while level > 0 and (right - left) * (bottom - top) / 4 ** (pyramid.levels - 1 - level) > most_px:
        level -= 1
    width, height = pyramid.size(level)
    kx, ky = pyramid.width_px / width, pyramid.height_px / height
    x0, y0 = int(left / kx) // TILE, int(top / ky) // TILE
    x1, y1 = min(width - 1, int(right / kx)) // TILE, min(height - 1, int(bottom / ky)) // TILE
    pixels = np.zeros((min(height, (y1 + 1) * TILE) - y0 * TILE, min(width, (x1 + 1) * TILE) - x0 * TILE, 3), np.uint8)
    for y in range(y0, y1 + 1):
        for x in range(x0, x1 + 1):
            part = cv2.imdecode(np.frombuffer(shelf.tile(key, level, x, y), np.uint8), cv2.IMREAD_COLOR)
            if part is None:
                raise DataError("A tile of this picture cannot be read.", where=key[:12], hint="add the picture again")
            place = pixels[(y - y0) * TILE :, (x - x0) * TILE :][: part.shape[0], : part.shape[1]]
            place[...] = part[: place.shape[0], : place.shape[1]]
    # Pixel centres are at whole numbers.
    to_full = affine(kx, 0.0, (x0 * TILE + 0.5) * kx - 0.5, 0.0, ky, (y0 * TILE + 0.5) * ky - 0.5)
    return Sheet(pixels, to_full, (pyramid.width_px, pyramid.height_px))


def whole(shelf: Tiled, key: str, most_px: float = 16e6) -> Sheet:
    """A whole picture with at most that many pixels. [px]"""
    pyramid = shelf.pyramid(key)
    return window(shelf, key, (0.0, 0.0, float(pyramid.width_px), float(pyramid.height_px)), most_px)
