"""Whatever way round a package was laid, the movement that brings it right puts every pin where it belongs."""

import math

import pytest

from ohmwright.boardmap import Layer, mirrored, seated, shifted
from ohmwright.boardmap.orientation import ways_round
from ohmwright.boardmap.righting import righting
from ohmwright.geometry import PicturePoint, land_pattern, similarity


def laid(package, count, side, angle=0.0):
    to_board = similarity(0.05, 0.0, 100.0 if side == "bottom" else 0.0, 0.0, mirrored=side == "bottom")
    layer = Layer("k", side, 2000, 2000, to_board)
    made = seated("U1", land_pattern(package, [str(n + 1) for n in range(count)]), layer, PicturePoint(500, 500),
                  PicturePoint(580, 560))  # fmt: skip
    return shifted(made.place, made.pads, 0.0, 0.0, angle)


CASES = [(p, n, s) for p, n in (("SOIC-8", 8), ("TSSOP-16", 16), ("QFN-16", 16)) for s in ("top", "bottom")]


@pytest.mark.parametrize(("package", "count", "side"), CASES)
def test_each_way_round_has_the_movement_that_undoes_it(package, count, side):
    made = laid(package, count, side, 37.0)
    two_rows = not package.startswith("QFN")
    for words, order in ways_round(len(made.pads)).items():
        move = righting(made.place, made.pads, order)
        if two_rows and "quarter" in words:
            assert move is None, "a package with pins on two sides cannot lie a quarter round"
            continue
        assert move is not None, words
        pads = mirrored(made.place, made.pads).pads if move[0] else made.pads
        there = shifted(made.place, pads, 0.0, 0.0, move[1]).pads
        for n, k in enumerate(order):  # a pad under the body stays where it is
            want = made.pads[k]
            assert math.hypot(there[n].x_mm - want.x_mm, there[n].y_mm - want.y_mm) < 1e-6
        assert move[0] == ("mirrored" in words)


def test_pins_that_do_not_match_have_no_movement():
    made = laid("SOIC-8", 8, "top")
    assert righting(made.place, made.pads, (0, 1, 2)) is None
    assert righting(made.place, made.pads, (1, 0, 2, 3, 4, 5, 6, 7)) is None
