"""A picture cut into tiles at several sizes, so that a page loads only what it shows.

Level 0 fits into one tile; each further level has twice as many pixels along each edge, the last one all
of them. Tiles lie at ``LEVEL/X-Y.jpg`` below a folder, with ``tiles.json`` telling the size.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from ohmwright.errors import DataError
from ohmwright.pictures.pyramid import TILE, Pyramid

Pixels = NDArray[np.uint8]
QUALITY = 88
"""Of the JPEG tiles; 100 is best. [1]"""


def cut(pixels: Pixels, into: Path) -> Pyramid:
    """Write the tiles of a picture.

    Parameters
    ----------
    pixels : ndarray, shape (height, width, 3)
        Blue, green, red.
    """
    height, width = pixels.shape[:2]
    pyramid = Pyramid(width, height)
    for level, sheet in _sheets(pixels, pyramid):
        folder = into / str(level)
        folder.mkdir(parents=True)
        across, down = pyramid.grid(level)
        for y in range(down):
            for x in range(across):
                tile = sheet[y * TILE : (y + 1) * TILE, x * TILE : (x + 1) * TILE]
                done, data = cv2.imencode(".jpg", tile, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
                if not done:
                    raise DataError("A tile of the picture could not be written.", where=f"level {level}, {x}-{y}")
                (folder / f"{x}-{y}.jpg").write_bytes(data.tobytes())
    (into / "tiles.json").write_text(json.dumps({"width": width, "height": height}), encoding="utf-8")
    return pyramid


def _sheets(pixels: Pixels, pyramid: Pyramid) -> Iterator[tuple[int, Pixels]]:
    """The picture at each level, the largest first; each is halved from the one before."""
    sheet = pixels
    for level in reversed(range(pyramid.levels)):
        if level < pyramid.levels - 1:
            sheet = np.asarray(cv2.resize(sheet, pyramid.size(level), interpolation=cv2.INTER_AREA), dtype=np.uint8)
        yield level, sheet
