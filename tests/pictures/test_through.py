"""Spots of both sides against what chance gives, and pictures that contradict each other."""

import cv2
import numpy as np
from tests.pictures.made_boards import made_board

from ohmwright.pictures.contradiction import contradicted
from ohmwright.pictures.render import ScanRequest, board_picture
from ohmwright.pictures.sheets import Sheet
from ohmwright.pictures.through import PX_PER_MM, round_spots, same_spots


def test_spots_at_the_same_places_are_told_from_spots_at_random():
    random = np.random.default_rng(3)
    above = random.uniform(0, 50, (300, 2))
    below = np.concatenate([above[:20] + random.normal(0, 0.04, (20, 2)), random.uniform(0, 50, (50, 2))])
    same = same_spots(above, below)
    assert same.sure
    assert same.count >= 19
    assert np.hypot(*(same.of_reference - same.of_picture).T).max() < 0.15
    assert not same_spots(above, random.uniform(0, 50, (70, 2))).sure
    # A cluster is one place: a screw's ring alone does not tell.
    ring = np.array([25.0, 25.0]) + random.uniform(-1, 1, (12, 2))
    assert not same_spots(np.concatenate([above, ring]), np.concatenate([ring, random.uniform(0, 50, (50, 2))])).sure


def test_round_spots_are_found_and_lines_are_not():
    board = np.full((400, 400), 120, np.uint8)
    for x, y in ((100, 100), (300, 120), (200, 320)):
        cv2.circle(board, (x, y), round(0.27 * PX_PER_MM), 40, -1, cv2.LINE_AA)
    cv2.line(board, (20, 220), (380, 220), 40, 5, cv2.LINE_AA)
    found = round_spots(board, 3)
    assert sorted(map(tuple, np.round(found / 10) * 10)) == [(100.0, 100.0), (200.0, 320.0), (300.0, 120.0)]


def test_another_board_contradicts_and_the_same_does_not():
    small = {"width": 30.0, "height": 22.0, "large": 3, "small": 10}
    one, other = (board_picture(made_board(n, **small), ScanRequest(dots_per_inch=300, seed=n)) for n in (41, 42))
    noise = np.random.default_rng(1).normal(0, 4, one.pixels.shape)
    again = np.clip(cv2.GaussianBlur(one.pixels, (0, 0), 0.8) * 0.8 + noise, 0, 255).astype(np.uint8)
    first, second, third = (Sheet.whole(np.ascontiguousarray(p[..., ::-1])) for p in (one.pixels, other.pixels, again))
    onto = one.view.plane.inverse
    assert contradicted(first, onto, second, other.view)
    assert not contradicted(first, onto, third, one.view)
