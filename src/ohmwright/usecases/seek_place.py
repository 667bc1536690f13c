"""Where a picture that was just added lies, sought by the program itself and taken down once the page agrees.

Seeking takes seconds, in which the hand goes on drawing: it changes nothing. What was found goes on record only if
the pictures still lie as they did when it was sought; where they do not, it is sought anew.
"""

from __future__ import annotations

from dataclasses import dataclass

from ohmwright.boardmap import Chart, Layer
from ohmwright.errors import DataError, UnknownNameError
from ohmwright.usecases.desk import Desk, book_of
from ohmwright.usecases.picture_ports import Eyes
from ohmwright.usecases.register_picture import layer_of, take_place

MOST_TRIED = 3
"""Pictures that one is held against before it is said that it did not register. [1] each takes seconds"""


@dataclass(frozen=True, slots=True)
class PlaceFound:
    """Where a picture was found to lie.

    Parameters
    ----------
    was, now : Layer
        As it lay, and as it should.
    onto : Layer
        The picture it was laid on, as that lay.
    """

    was: Layer
    now: Layer
    onto: Layer


@dataclass(frozen=True, slots=True)
class NoPlace:
    """An honest no: why a picture did not register, and what to do. It is falsy."""

    why: str
    hint: str
    gone: bool = False

    def __bool__(self) -> bool:
        return False


def place_sought(desk: Desk, case: str, eyes: Eyes, key: str, side: str) -> PlaceFound | NoPlace:
    """Where a picture lies by what it has in common with the others, those of its own side first.

    Parameters
    ----------
    key : str
        Of the picture that was added.
    """
    chart = book_of(desk, case).chart
    try:
        layer = layer_of(chart, key, side)
    except UnknownNameError:  # straightened or taken away while it waited its turn
        return NoPlace("That picture is not on the map any more.", "", gone=True)
    others = others_to_try(chart, layer)
    if not others:
        return NoPlace("There is no other picture to lay this one on.", "tell the scale by a known length")
    first: DataError | None = None
    for other in others[:MOST_TRIED]:
        try:
            return PlaceFound(layer, eyes.registered(chart, layer, other), other)
        except DataError as seen:
            first = first or seen  # what its own side says counts for more than what another does
    assert first is not None
    return NoPlace(first.what, first.hint)


def others_to_try(chart: Chart, layer: Layer) -> tuple[Layer, ...]:
    """The pictures one may be laid on, best first: of its side, and of those the ones that lie for sure."""
    sure = [other for n, other in enumerate(chart.layers) if other is not layer and (n == 0 or other.how)]
    loose = [other for other in chart.layers if other is not layer and other not in sure and other.side == layer.side]
    own = [other for other in sure if other.side == layer.side]
    return (*own, *loose, *(other for other in sure if other.side != layer.side))


def settle_place(desk: Desk, case: str, found: PlaceFound, *, expected: int | None = None) -> bool:
    """Take down what was found; false, and nothing is, where the pictures do not lie as they did. [1]"""
    layers = book_of(desk, case).chart.layers
    if found.was not in layers or found.onto not in layers:
        return False
    take_place(desk, case, found.was, found.now, expected=expected)
    return True


__all__ = ["NoPlace", "PlaceFound", "others_to_try", "place_sought", "settle_place"]
