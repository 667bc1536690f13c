"""What the map asks of the program's eyes; `ohmwright.pictures.eyes.Eyes` is one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from ohmwright.boardmap import Chart, Layer
from ohmwright.geometry import Homography, LandPattern, Pad, Pair


class Snapped(Protocol):
    """Where a pattern lies on a picture after it was held against what the picture shows."""

    @property
    def on_picture(self) -> Homography:
        """Pattern millimetres to pixels."""
        ...

    @property
    def moved_mm(self) -> float:
        """How far the pad that moved most did. [mm]"""
        ...

    @property
    def score(self) -> float:
        """How well the picture bears it out. [1]"""
        ...

    @property
    def doubt(self) -> str:
        """Empty, or what is not sure."""
        ...


class Differs(Protocol):
    """A box of the board that two pictures show differently. [mm]"""

    @property
    def x_mm(self) -> float:
        """Left. [mm]"""
        ...

    @property
    def y_mm(self) -> float:
        """Top. [mm]"""
        ...

    @property
    def width_mm(self) -> float:
        """[mm]"""
        ...

    @property
    def height_mm(self) -> float:
        """[mm]"""
        ...

    @property
    def strength(self) -> float:
        """How strongly. [1]"""
        ...


class Eyes(Protocol):
    """The picture work."""

    def registered(self, chart: Chart, layer: Layer, onto: Layer) -> Layer:
        """Where a picture lies, found from another by what both show."""
        ...

    def by_pairs(self, chart: Chart, layer: Layer, pairs: Sequence[tuple[Pair, Pair]]) -> Layer:
        """Where a picture lies by pairs of a place on the board and a pixel. [mm], [px]"""
        ...

    def snapped(
        self,
        layer: Layer,
        pattern: LandPattern,
        on_picture: Homography,
        *,
        scale_known: bool,
        clicks: int = 2,
        taken: Sequence[Pad] = (),
    ) -> Snapped:
        """A pattern brought onto the pads that the picture shows, off those that are laid already. [1]"""
        ...

    def pair(self, layer: Layer, on_picture: Homography, taken: Sequence[Pad] = ()) -> Snapped:
        """Two pads of no known size, a unit apart as clicked, brought onto what the picture shows."""
        ...

    def changes(self, first: Layer, second: Layer) -> Sequence[Differs]:
        """What the second picture shows otherwise than the first."""
        ...

    def board_line(self, layer: Layer) -> Sequence[Pair]:
        """Corners of the line round the board, empty where the picture does not show all of its edge. [mm]"""
        ...
