"""What the program's eyes do with the pictures of a map: register one, snap pads, and tell two apart.

This is the one door to the picture work; `ohmwright.usecases.picture_ports.Eyes` says what is asked of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from ohmwright.boardmap import Chart, Layer
from ohmwright.errors import DataError
from ohmwright.geometry import Homography, LandPattern, Pad, Pair, View, affine
from ohmwright.geometry.registration import Residuals, residuals, view_from_pairs
from ohmwright.geometry.transforms import Array
from ohmwright.pictures.copper import pad_corners
from ohmwright.pictures.difference import Change, changes
from ohmwright.pictures.extent import LOOKED_AT, board_shown
from ohmwright.pictures.matching import Match, matched
from ohmwright.pictures.outline import laid_by_edge, straightened
from ohmwright.pictures.pairs import pair_found
from ohmwright.pictures.sheets import Sheet
from ohmwright.pictures.shelf import PictureShelf
from ohmwright.pictures.snapping import Snap, snapped
from ohmwright.pictures.tiles import cut
from ohmwright.pictures.windows import whole, window

STRAIGHT_PX = 0.75
"""How far a picture may bend from a plain scan before it is straightened. [px]"""
MOST_STRAIGHTENED = 60e6
"""Pixels of a straightened picture. [px]"""
AROUND_MM = 2.5
"""What is looked at around a part that is snapped. [mm]"""
PAIR_ABOUT = 4.0
"""The same around two pads of no known size, over the distance of the clicks. [1]"""


class Eyes:
    """The picture work on one shelf."""

    def __init__(self, shelf: PictureShelf) -> None:
        self._shelf = shelf
        self._lines: dict[str, Array | None] = {}

    def registered(self, chart: Chart, layer: Layer, onto: Layer) -> Layer:
        """Where a picture lies, found from another by what both show. Raises DataError where it does not register."""
        key = layer.source or layer.key  # from the picture as it came, whatever was made of it before
        reference, picture = whole(self._shelf, onto.key), whole(self._shelf, key)
        if layer.side == onto.side:
            try:
                match = matched(reference, onto.to_board, picture, layer.side)
                how = "matched"
            except DataError as seen:
                try:
                    match, how = laid_by_edge(reference, onto.to_board, onto.side, picture, layer.side), "by its edge"
                except DataError:
                    raise seen from None
        else:
            match, how = laid_by_edge(reference, onto.to_board, onto.side, picture, layer.side), "by its edge"
        words = _words(match.residuals, chart)
        return self._laid(layer, key, match, f"{how} to {onto.name or onto.side}, {words}")

    def by_pairs(self, chart: Chart, layer: Layer, pairs: Sequence[tuple[Pair, Pair]]) -> Layer:
        """Where a picture lies by pairs of a place on the board and its pixel on the layer. [mm], [px]"""
        board, pixels = [at for at, _ in pairs], [there for _, there in pairs]
        size = (layer.width_px, layer.height_px)
        view = view_from_pairs(board, pixels, layer.side, size, lens=True)
        left = residuals(view, np.array(board), np.array(pixels))
        how = f"by {len(pairs)} pairs of points, {_words(left, chart)}"
        return self._laid(layer, layer.key, Match(view, left, 1.0, len(pairs)), how)

    def snapped(
        self,
        layer: Layer,
        pattern: LandPattern,
        on_picture: Homography,
        *,
        scale_known: bool,
        clicks: int = 2,
        taken: Sequence[Pad] = (),
    ) -> Snap:
        """The pattern brought onto the pads that the picture shows, where none of those laid already lies. [1]"""
        reach = max(max(abs(n.x_mm) + n.width_mm, abs(n.y_mm) + n.height_mm) for n in pattern.lands)
        reach = max(reach, *pattern.body_mm) + (AROUND_MM if pattern.sourced else 1.2 * reach)
        sheet = self._about(layer, on_picture, reach)
        on_this = _quads(layer, taken)
        return snapped(sheet, pattern, on_picture, scale_known=scale_known, clicks=clicks, taken=on_this)

    def pair(self, layer: Layer, on_picture: Homography, taken: Sequence[Pad] = ()) -> Snap:
        """Two pads of no known size, a unit apart as clicked, brought onto what the picture shows."""
        return pair_found(self._about(layer, on_picture, PAIR_ABOUT), on_picture, _quads(layer, taken))

    def _about(self, layer: Layer, on_picture: Homography, reach: float) -> Sheet:
        """The picture about a pattern."""
        corners = [on_picture.at(x, y) for x in (-reach, reach) for y in (-reach, reach)]
        xs, ys = [x for x, _ in corners], [y for _, y in corners]
        return window(self._shelf, layer.key, (min(xs), min(ys), max(xs), max(ys)))

    def changes(self, first: Layer, second: Layer) -> tuple[Change, ...]:
        """What the second picture shows otherwise than the first, both lying on the board."""
        return changes(
            whole(self._shelf, first.key), first.to_board, whole(self._shelf, second.key), second.to_board
        )

    def board_line(self, layer: Layer) -> tuple[Pair, ...]:
        """Corners of the line round the board, empty where the picture does not show all of its edge. [mm]"""
        if layer.key not in self._lines:
            self._lines[layer.key] = board_shown(whole(self._shelf, layer.key, LOOKED_AT))
        line = self._lines[layer.key]
        return () if line is None else tuple((float(x), float(y)) for x, y in layer.to_board.applied(line))

    def _laid(self, layer: Layer, key: str, match: Match, how: str) -> Layer:
        """The layer where that picture was found to lie, straightened where it has to be."""
        pyramid = self._shelf.pyramid(key)
        size = (pyramid.width_px, pyramid.height_px)
        flat = _flat(match.view, size)
        if flat is not None:
            return replace(layer, key=key, width_px=size[0], height_px=size[1], to_board=flat, how=how, source="")
        box, scale = _covered(match.view, size)
        made_from = f"{key} {match.view!r} {box} {scale:.6f}"
        kept = self._shelf.keep(made_from, lambda into: self._straighten(key, match.view, box, scale, into))
        mirrored = layer.side == "bottom"
        step = 1.0 / scale
        x = box[2] - 0.5 * step if mirrored else box[0] + 0.5 * step
        to_board = affine(-step if mirrored else step, 0.0, x, 0.0, step, box[1] + 0.5 * step)
        return replace(
            layer, key=kept.key, width_px=kept.width_px, height_px=kept.height_px, to_board=to_board, how=how,
            source=key,
        )  # fmt: skip

    def _straighten(
        self, key: str, view: View, box: tuple[float, float, float, float], scale: float, into: Path
    ) -> None:
        sheet = whole(self._shelf, key, MOST_STRAIGHTENED)
        pixels = straightened(sheet, view, box, scale).pixels
        # An underside is kept as it is seen, mirrored, as pictures come.
        cut(np.ascontiguousarray(pixels[:, ::-1] if view.side == "bottom" else pixels).astype(np.uint8), into)


def _quads(layer: Layer, pads: Sequence[Pad]) -> list[Array]:
    """Corners of the pads that show on that side. [px]"""
    here = layer.to_board.inverse
    return [here.applied(pad_corners(pad)) for pad in pads if pad.side == layer.side or pad.drill_mm]


def _words(left: Residuals, chart: Chart) -> str:
    guessed = "" if chart.scale_from else ", by a guessed scale"  # no millimetre is known yet
    median, worst = (f"{mm:.2f} mm" if mm >= 0.005 else "under 0.01 mm" for mm in (left.median_mm, left.worst_mm))
    return f"{median} off at the median, {worst} at 95 %{guessed}"


def _flat(view: View, size: tuple[int, int]) -> Homography | None:
    """Pixels to board, if the picture is as flat as a scan."""
    width, height = size
    grid = np.stack(np.meshgrid(np.linspace(0, width - 1, 9), np.linspace(0, height - 1, 9)), -1).reshape(-1, 2)
    board = view.millimetres(grid)
    design = np.column_stack([grid, np.ones(len(grid))])
    fit = np.linalg.lstsq(design, board, rcond=None)[0]
    pixel = float(np.sqrt(abs(np.linalg.det(fit[:2]))))
    if np.hypot(*(design @ fit - board).T).max() > STRAIGHT_PX * pixel:
        return None
    return Homography.of(np.vstack([fit.T, [0.0, 0.0, 1.0]]))


def _covered(view: View, size: tuple[int, int]) -> tuple[tuple[float, float, float, float], float]:
    """The box of the board that a picture shows, and pixels to the millimetre that keep its detail."""
    width, height = size
    rim = np.concatenate([
        np.column_stack([np.linspace(0, width - 1, 9), np.full(9, y)]) for y in np.linspace(0, height - 1, 9)
    ])  # fmt: skip
    board = view.millimetres(rim)
    low, high = board.min(axis=0), board.max(axis=0)
    middle = np.median(board, axis=0)
    step = view.pixels(np.array([middle, middle + np.array([0.05, 0.0]), middle + np.array([0.0, 0.05])]))
    native = float(max(np.hypot(*(step[1] - step[0])), np.hypot(*(step[2] - step[0])))) / 0.05
    area = float(np.prod(high - low))
    scale = min(native, (MOST_STRAIGHTENED / max(area, 1e-6)) ** 0.5)
    return (float(low[0]), float(low[1]), float(high[0]), float(high[1])), scale
