"""A known board laid on a picture by pairs of points: held against cameras of known geometry."""

import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ohmwright.boardmap.laying import fitted, laid_pads, to_mark
from ohmwright.geometry import Homography, Pad, similarity

CORNERS = [(2.0, 3.0), (97.0, 4.0), (95.0, 66.0), (3.0, 68.0), (50.0, 30.0), (20.0, 45.0), (75.0, 12.0)]


def tilted(tilt: float) -> Homography:
    """A board of 100 by 70 mm seen by a camera that leans over it."""
    return Homography.of(np.array([[1.02, 0.05, 4.0], [-0.04, 0.98, 7.0], [tilt, 0.4 * tilt, 1.0]]))


@given(st.floats(0.2, 5.0), st.floats(-180, 180), st.floats(-200, 200), st.integers(2, 7))
@settings(max_examples=60, deadline=None)
def test_a_plain_move_is_found_exactly(scale, angle, shift, count):
    true = similarity(scale, angle, shift, -shift)
    file = CORNERS[:count]
    fit = fitted(file, [true.at(*p) for p in file])
    assert fit.kind == "similarity"
    assert fit.rms_mm < 1e-6 * scale * 100
    for point in CORNERS:
        assert fit.to_board.at(*point) == pytest.approx(true.at(*point), abs=1e-6 * scale * 100)


def test_a_photo_from_askew_wants_the_projective_map():
    true = tilted(0.0015)
    chance = random.Random(3)
    noisy = [tuple(v + chance.gauss(0.0, 0.05) for v in true.at(*p)) for p in CORNERS]
    fit = fitted(CORNERS, noisy)
    assert fit.kind == "projective"
    assert fit.spare == 3
    assert fit.rms_mm < 0.1
    grid = [(x, y) for x in range(5, 96, 15) for y in range(5, 66, 15)]
    assert max(math.dist(fit.to_board.at(*p), true.at(*p)) for p in grid) < 0.25


def test_one_wrong_point_is_an_honest_no():
    board = list(CORNERS)
    board[4] = (80.0, 60.0)
    told = fitted(CORNERS, board)
    assert not told
    assert told.worst == 4
    assert "another board" in told.reason


@pytest.mark.parametrize(
    ("file", "board"),
    [
        (CORNERS[:1], CORNERS[:1]), (CORNERS[:4], [(1.0, 1.0)] * 4),
        ([(0.0, 0.0), (10.0, 0.0), (20.0, 0.0)], [(0.0, 0.0), (10.0, 30.0), (20.0, 0.0)]),
        (CORNERS[:4], [(100.0 - x, y) for x, y in CORNERS[:4]]),  # the other side of the board
    ],
)  # fmt: skip
def test_points_that_fix_nothing_or_mirror(file, board):
    assert not fitted(file, board)


def test_pads_turn_and_grow_with_the_board():
    fit = fitted([(0.0, 0.0), (10.0, 0.0)], [(5.0, 5.0), (5.0, -15.0)])
    (pad,) = laid_pads([Pad("C1", "1", 10.0, 5.0, 1.0, 0.5, 0.0, "top", 0.3)], fit)
    assert (pad.x_mm, pad.y_mm) == pytest.approx((15.0, -15.0))
    assert (pad.width_mm, pad.height_mm, pad.drill_mm) == pytest.approx((2.0, 1.0, 0.6))
    assert pad.angle_deg == pytest.approx(90.0)


def test_pads_to_mark_lie_far_apart_and_on_the_side_in_sight():
    pads = [Pad(f"C{n}", "1", *p, 1.0, 1.0, 0.0, "top") for n, p in enumerate(CORNERS)]
    pads += [
        Pad("X1", "1", 300.0, 300.0, 1.0, 1.0, 0.0, "bottom"),
        Pad("J1", "2", 120.0, 3.0, 1, 1, 0.0, "bottom", 0.8),
    ]
    chosen = to_mark(pads, "top", 4)
    assert len(chosen) == 4
    assert "X1" not in {pad.part for pad in chosen}
    assert "J1" in {pad.part for pad in chosen}
    spread = min(math.dist((a.x_mm, a.y_mm), (b.x_mm, b.y_mm)) for a in chosen for b in chosen if a is not b)
    assert spread > 40.0
    assert to_mark([], "top") == ()
