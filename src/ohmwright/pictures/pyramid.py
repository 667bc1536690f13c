"""How a picture is cut into tiles; the numbers only, so that asking for a tile loads no picture library."""

from __future__ import annotations

import math
from dataclasses import dataclass

TILE = 512
"""Edge of a tile. [px]"""


@dataclass(frozen=True, slots=True)
class Pyramid:
    """How a picture is cut.

    Parameters
    ----------
    width_px, height_px : int
        Size of the whole picture. [px]
    """

    width_px: int
    height_px: int

    @property
    def levels(self) -> int:
        """How many sizes there are. [1]"""
        return 1 + max(0, math.ceil(math.log2(max(self.width_px, self.height_px) / TILE)))

    def size(self, level: int) -> tuple[int, int]:
        """Width and height at a level. [px]"""
        k = 2 ** (self.levels - 1 - level)
        return math.ceil(self.width_px / k), math.ceil(self.height_px / k)

    def grid(self, level: int) -> tuple[int, int]:
        """Tiles across and down at a level. [1]"""
        width, height = self.size(level)
        return math.ceil(width / TILE), math.ceil(height / TILE)

    def holds(self, level: int, x: int, y: int) -> bool:
        """Whether there is such a tile."""
        if not 0 <= level < self.levels:
            return False
        across, down = self.grid(level)
        return 0 <= x < across and 0 <= y < down
