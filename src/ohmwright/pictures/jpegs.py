"""Pictures of practice boards and of displays as files, as a camera would hand them over."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ohmwright.circuit import Board
from ohmwright.errors import DataError


@dataclass(frozen=True, slots=True)
class SidePicture:
    """A picture of one side of a board, and the part of the board it shows, seen from that side. [mm]"""

    jpeg: bytes
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


def board_picture_sides(board: Board, dots_per_inch: float = 600.0) -> Iterator[tuple[str, SidePicture]]:
    """The sides of a board that carry parts, rendered one after the other; a few seconds each. [px/inch]"""
    import cv2  # only who wants a picture pays for loading it

    from ohmwright.pictures.render import ScanRequest, board_picture

    for side in ("top", "bottom"):
        if not any(part.place is not None and part.place.side == side for part in board.parts):
            continue
        request = ScanRequest(side=side, dots_per_inch=dots_per_inch)
        picture = board_picture(board, request)
        done, data = cv2.imencode(".jpg", picture.pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 88])
        if done:
            edge, margin = picture.outline, request.margin_mm
            size = (edge.width_mm + 2 * margin, edge.height_mm + 2 * margin)
            yield side, SidePicture(data.tobytes(), edge.left_mm - margin, edge.top_mm - margin, *size)


PHOTO_DPI = 600.0
"""Resolution of the photo of a practice board. [px/inch]"""


def practice_photo(board: Board, side: str) -> bytes:
    """The photo of one side of a practice board, JPEG; a few seconds."""
    import cv2  # only who wants a picture pays for loading it

    from ohmwright.pictures.render import ScanRequest, board_picture

    picture = board_picture(board, ScanRequest(side=side, dots_per_inch=PHOTO_DPI))
    done, data = cv2.imencode(".jpg", picture.pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])
    if not done:
        raise DataError("The photo could not be made.", where=board.name)
    return data.tobytes()


def drawn_reading(quantity: str, text: str, picture: int = 0) -> bytes:
    """A JPEG of a meter's display that shows a value in words, such as ``0.512 V``, in the mode of a quantity.

    Each `picture` has noise of its own. In diode mode drops are shown in volts, as most displays do. [1]"""
    import numpy as np

    from ohmwright.pictures.display.drawn import drawn_display  # only who tries the camera pays for loading OpenCV

    figures, _, unit = text.partition(" ")
    if figures == "OL":
        unit = {"ohms": "kΩ"}.get(quantity, "V")
    elif quantity == "diode" and unit == "mV":
        figures, unit = f"{float(figures) / 1e3:.3f}", "V"
    words = {"diode": ("diode",), "volts": ("DC",), "supply volts": ("DC",), "supply amps": ("DC",)}.get(quantity, ())
    return drawn_display(figures, unit, words, np.random.default_rng([picture, len(text)]))
