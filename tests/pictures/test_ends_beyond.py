"""Beyond the ends of a row there must be no pad: rows one pitch off and packages of too few pins are told by that."""

import math

import cv2
import numpy as np
import pytest

from ohmwright.geometry import affine, land_pattern
from ohmwright.pictures.sheets import Sheet
from ohmwright.pictures.showing import ends_beyond, ways_shown
from ohmwright.pictures.snapping import snapped

PX = 24.0
"""Pixels to the millimetre. [px/mm]"""


def shown(package, count):
    return ways_shown(land_pattern(package, [str(n + 1) for n in range(count)]))[0]


@pytest.mark.parametrize(
    ("package", "count", "ends"), [("SOIC-8", 8, 4), ("TSSOP-14", 14, 4), ("QFN-16", 16, 8), ("header", 4, 2)]
)
def test_each_row_ends_twice_one_pitch_on(package, count, ends):
    lands = shown(package, count)
    pitch = min(math.dist((a.x_mm, a.y_mm), (b.x_mm, b.y_mm)) for n, a in enumerate(lands) for b in lands[:n])
    beyond = ends_beyond(lands)
    assert len(beyond) == ends
    for one in beyond:
        nearest = min(math.dist((one.x_mm, one.y_mm), (land.x_mm, land.y_mm)) for land in lands)
        assert nearest == pytest.approx(pitch, abs=0.02) or (package.startswith("QFN") and nearest < pitch)


def test_the_place_of_the_pin_that_a_sot_23_5_lacks_is_one_of_them():
    """JEDEC MO-178 AA has five leads on the places of six; the middle one of a side is missing."""
    beyond = ends_beyond(shown("SOT-23-5", 5))
    assert any(abs(one.y_mm) < 0.01 and one.x_mm > 0 for one in beyond)
    assert not any(abs(one.y_mm) < 0.01 for one in ends_beyond(shown("SOT-23-6", 6)))


def test_two_pads_are_no_row():
    assert ends_beyond(land_pattern("R0603", ["1", "2"]).lands) == ()


def drawn(pattern, middle):
    """A bare footprint on green board. [px]"""
    picture = np.full((900, 900, 3), (60, 100, 40), np.uint8)
    for land in pattern.lands:
        x, y = middle[0] + land.x_mm * PX, middle[1] + land.y_mm * PX
        corners = [(round(x + i * land.width_mm * PX / 2), round(y + j * land.height_mm * PX / 2)) for i, j in
                   ((-1, -1), (1, 1))]  # fmt: skip
        cv2.rectangle(picture, *corners, (200, 200, 205), -1)
    noise = np.random.default_rng(3).normal(0, 2, picture.shape)
    return Sheet.whole(np.clip(picture + noise, 0, 255).astype(np.uint8))


def test_a_pattern_of_too_few_pins_scores_less_than_the_true_one():
    true, fewer = (land_pattern(f"TSSOP-{n}", [str(k + 1) for k in range(n)]) for n in (16, 14))
    picture = drawn(true, (450, 450))
    scores = []
    for pattern in (true, fewer):
        on = affine(PX, 0, 450 + 3, 0, PX, 450 - 4)
        scores.append(snapped(picture, pattern, on, scale_known=True).score)
    assert scores[0] > 1.1 * scores[1]
