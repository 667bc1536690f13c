"""The map of a board without a drawing: pictures, pads, and how parts are laid on them."""

from ohmwright.boardmap.chart import Chart, Layer, placed_layer
from ohmwright.boardmap.seating import PAIR, Seating, far_land, seated, seated_on, seated_pair, shifted

__all__ = [
    "PAIR", "Chart", "Layer", "Seating", "far_land", "placed_layer", "seated", "seated_on", "seated_pair", "shifted",
]  # fmt: skip
