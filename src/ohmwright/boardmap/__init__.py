"""The map of a board without a drawing: pictures, pads, and how parts are laid on them."""

from ohmwright.boardmap.chart import Chart, Layer, placed_layer
from ohmwright.boardmap.seating import PAIR, Seating, far_land, mirrored, seated, seated_on, seated_pair, shifted
from ohmwright.boardmap.spans import SHARES, scale_told

__all__ = [
    "PAIR", "SHARES", "Chart", "Layer", "Seating", "far_land", "mirrored", "placed_layer", "scale_told",
    "seated", "seated_on", "seated_pair", "shifted",
]  # fmt: skip
