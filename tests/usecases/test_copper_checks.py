"""Copper clicked in the wrong order, and places beside it, are named and not taken for the nearest spot."""

import pytest

from ohmwright.errors import DataError
from ohmwright.facts import CopperShape, Gradient, GradientPoint, Run
from ohmwright.usecases.copper_checks import check_copper

BOX = ((0.0, 0.0), (76.0, 0.0), (76.0, 30.0), (0.0, 30.0))
CUT = ((30.0, -1.0), (32.0, -1.0), (32.0, 31.0), (30.0, 31.0))
SLOT = ((30.0, 5.0), (45.0, 5.0), (45.0, 25.0), (30.0, 25.0))


def along(outline=BOX, holes=(), runs=(), source=(5.0, 5.0), black=(70.0, 25.0), red=((10.0, 14.0), (60.0, 20.0))):
    points = tuple(GradientPoint(x, y, 1e-3) for x, y in red)
    return Gradient("V5", CopperShape(runs, outline, holes), source, 3.0, points, black, 1e-5)


@pytest.mark.parametrize(
    ("gradient", "words"),
    [
        (along(outline=(BOX[0], BOX[2], BOX[1], BOX[3])), "The edge crosses itself"),
        (along(holes=((SLOT[0], SLOT[2], SLOT[1], SLOT[3]),)), "Hole 1 crosses itself"),
        (along(source=(200.0, 20.0)), "Plus lies 124 mm off the copper"),
        (along(black=(70.0, 45.0)), "Black lies 15 mm off the copper"),
        (along(red=((10.0, 14.0), (-20.0, 14.0))), "Red 2 lies 20 mm off the copper"),
        (along(holes=(SLOT,), red=((10.0, 14.0), (37.5, 15.0))), "mm in a hole of the copper"),
        (along(holes=(CUT,)), "Plus lies on a piece of copper that a hole parts"),
        (along(outline=(), runs=(Run((0.0, 10.0), (70.0, 10.0)),)), "Plus lies 5 mm off"),
    ],
)
def test_what_cannot_be_is_named(gradient, words):
    with pytest.raises(DataError) as told:
        check_copper(gradient)
    assert words in told.value.what


@pytest.mark.parametrize("gradient", [
    along(), along(holes=(SLOT,)), along(black=None), along(source=(-2.0, 5.0)),
    along(outline=((0.0, 0.0), *BOX, (0.0, 30.0))),
    along(outline=(), runs=(Run((0.0, 10.0), (70.0, 10.0), 12.0),), black=(70.0, 12.0), red=((9.0, 12.0), (60.0, 4.5))),
])  # fmt: skip
def test_what_a_hand_clicks_is_taken(gradient):
    check_copper(gradient)
