"""Where things are on a board that nobody drew for us: its pictures, and the pads laid on them.

A chart holds layers (pictures, each with its own way into the board frame) and pads. The board frame is
in millimetres, seen from the top. How large a millimetre is may be a guess at first: `Chart.scaled`
puts it right later, and everything on the chart keeps its place on the pictures.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from ohmwright.errors import DataError, UnknownNameError
from ohmwright.geometry import Homography, Pad, similarity


@dataclass(frozen=True, slots=True)
class Layer:
    """One picture in the board frame.

    Parameters
    ----------
    key : str
        SHA-256 of the picture's file, in hexadecimal.
    width_px, height_px : int
        Size once turned upright. [px]
    to_board : Homography
        Pixels to board millimetres; that of a bottom side mirrors.
    name : str
        Name of the file, for people only.
    how : str
        How it was found where it lies, and how well that fits, for people only; empty while it is a guess.
    source : str
        Key of the picture this one was straightened from; empty for a picture as it came.
    """

    key: str
    side: str
    width_px: int
    height_px: int
    to_board: Homography
    name: str = ""
    how: str = ""
    source: str = ""

    @property
    def mm_per_px(self) -> float:
        """Millimetres per pixel in the middle of the picture. [mm/px]"""
        x, y = self.width_px / 2, self.height_px / 2
        (x0, y0), (x1, y1) = self.to_board.at(x, y), self.to_board.at(x + 1.0, y)
        return float(((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5)


@dataclass(frozen=True, slots=True)
class Chart:
    """The pictures of a board and where its pads are.

    Parameters
    ----------
    scale_from : str
        What tells how large a millimetre is; empty while it is a guess.
    outline : tuple of (float, float)
        Corners of the board's edge, where a file told it. [mm]
    """

    layers: tuple[Layer, ...] = ()
    pads: tuple[Pad, ...] = ()
    scale_from: str = ""
    outline: tuple[tuple[float, float], ...] = ()

    def layer(self, key: str) -> Layer:
        """The picture of that key."""
        for layer in self.layers:
            if layer.key == key:
                return layer
        raise UnknownNameError.among("picture", key[:12], [layer.key[:12] for layer in self.layers])

    def pads_of(self, part: str) -> tuple[Pad, ...]:
        """Where the pads of a part are."""
        return tuple(pad for pad in self.pads if pad.part == part)

    def with_layer(self, layer: Layer) -> Chart:
        """The chart with one more picture, on top."""
        if any(old.key == layer.key and old.side == layer.side for old in self.layers):
            raise DataError("This picture is on the map already.", where=layer.name, hint="choose another file")
        return replace(self, layers=(*self.layers, layer))

    def with_registered(self, was: str, layer: Layer) -> Chart:
        """The chart with a picture where it was found to lie; its place among the others stays."""
        if all(old.key != was or old.side != layer.side for old in self.layers):
            raise UnknownNameError.among("picture", was[:12], [old.key[:12] for old in self.layers])
        layers = tuple(layer if old.key == was and old.side == layer.side else old for old in self.layers)
        return replace(self, layers=layers)

    def with_pads(self, part: str, pads: tuple[Pad, ...]) -> Chart:
        """The chart with the pads of a part where they now are."""
        return replace(self, pads=(*(pad for pad in self.pads if pad.part != part), *pads))

    def without(self, part: str) -> Chart:
        """The chart without a part."""
        return replace(self, pads=tuple(pad for pad in self.pads if pad.part != part))

    def scaled(self, factor: float, source: str) -> Chart:
        """The chart with every millimetre made `factor` millimetres; nothing moves on the pictures. [1]"""
        grow = similarity(factor, 0.0, 0.0, 0.0)
        layers = tuple(replace(layer, to_board=grow.after(layer.to_board)) for layer in self.layers)
        pads = tuple(
            replace(
                pad,
                x_mm=pad.x_mm * factor,
                y_mm=pad.y_mm * factor,
                width_mm=pad.width_mm * factor,
                height_mm=pad.height_mm * factor,
                drill_mm=pad.drill_mm * factor,
            )
            for pad in self.pads
        )
        return Chart(layers, pads, source, tuple((x * factor, y * factor) for x, y in self.outline))


GUESSED_MM = 100.0
"""Longer side of a board whose scale nobody has told. [mm] a guess, and said so by `Chart.scale_from`"""


def placed_layer(chart: Chart, key: str, side: str, size_px: tuple[int, int], name: str = "") -> Layer:
    """A new picture, laid over the board.

    The first one makes the frame. Any further one is made as wide as the first, edge on edge, the bottom
    mirrored: a place to start from until it is registered.

    Parameters
    ----------
    size_px : (int, int)
        Width and height. [px]
    """
    width, height = size_px
    if chart.layers:
        first = chart.layers[0]
        wide = first.width_px * first.mm_per_px
        step = wide / width
    else:
        step = GUESSED_MM / max(width, height)
        wide = width * step
    if side == "bottom":
        # Pixel centres are at whole numbers, so the right edge lies half a pixel beyond the last.
        return Layer(key, side, width, height, similarity(step, 0.0, wide - step, 0.0, mirrored=True), name)
    return Layer(key, side, width, height, similarity(step, 0.0, 0.0, 0.0), name)
