"""Points of the frames a board is seen in. A point of one frame cannot be taken for a point of another.

The board frame is in millimetres, seen from the top, x to the right and y down, for both sides of the
board. A picture's frame is in pixels of that picture, x to the right and y down, with (0, 0) at the
centre of its first pixel. The picture of a bottom side is mirrored: that is a property of its view.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class BoardPoint:
    """A place on the board, in millimetres seen from the top."""

    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True)
class PicturePoint:
    """A place in one picture, in pixels from the centre of its first pixel."""

    x_px: float
    y_px: float


@dataclass(frozen=True, slots=True)
class Outline:
    """A rectangle on the board that holds all of it, in millimetres seen from the top."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float

    @property
    def centre(self) -> BoardPoint:
        """Its middle."""
        return BoardPoint(self.left_mm + self.width_mm / 2, self.top_mm + self.height_mm / 2)

    @property
    def corners(self) -> tuple[BoardPoint, BoardPoint, BoardPoint, BoardPoint]:
        """Top left, top right, bottom right, bottom left."""
        right, bottom = self.left_mm + self.width_mm, self.top_mm + self.height_mm
        return (
            BoardPoint(self.left_mm, self.top_mm),
            BoardPoint(right, self.top_mm),
            BoardPoint(right, bottom),
            BoardPoint(self.left_mm, bottom),
        )
