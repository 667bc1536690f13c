"""A camera that was knocked between the pictures. The pictures are moved with OpenCV's warps, not with our own."""

import cv2
import numpy as np
import pytest

from ohmwright.errors import DataError
from ohmwright.fields.plate import Plate
from ohmwright.fields.rise import difference, lock_in
from ohmwright.fields.spots import sources_of
from ohmwright.fields.steadied import moved_between
from ohmwright.fields.wave import disc_wave

HIGH, WIDE, PX, NOISE = 120, 160, 0.5, 0.05


def shining(seed=5):
    """Parts that shine differently: blocks a kelvin colder or warmer, with soft edges. [K]"""
    chance = np.random.default_rng(seed)
    y, x = np.mgrid[0:HIGH, 0:WIDE] * PX
    out = np.zeros((HIGH, WIDE))
    for _ in range(60):
        cx, cy, a, b = chance.uniform(5, 75), chance.uniform(5, 55), *chance.uniform(0.5, 4.0, 2)
        soft = 1 / (1 + np.exp(-4.0 * (a - np.abs(x - cx)))) / (1 + np.exp(-4.0 * (b - np.abs(y - cy))))
        out += chance.normal(0.0, 0.8) * soft
    return out


def taken(chance, across=0.0, down=0.0, turn=0.0, watts=0.0):
    """One picture, the view moved. [px], [deg], [W]"""
    y, x = np.mgrid[0:HIGH, 0:WIDE] * PX
    kelvin = shining() + (Plate().rise(watts, np.hypot(x - 40.0, y - 30.0) * 1e-3) if watts else 0.0)
    way = cv2.getRotationMatrix2D(((WIDE - 1) / 2, (HIGH - 1) / 2), turn, 1.0)
    way[:, 2] += (across, down)
    moved = cv2.warpAffine(kelvin, way, (WIDE, HIGH), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return 24.0 + moved + chance.normal(0.0, NOISE, moved.shape)


@pytest.mark.parametrize(("across", "down"), [(0.3, -0.2), (1.0, 0.6), (-2.4, 1.0), (5.0, -3.0), (-5.8, 5.5), (8, 7)])
@pytest.mark.parametrize("watts", [0.0, 0.3, 3.0])
def test_a_move_is_found_beside_heat(across, down, watts):
    """Three watts are more than a hundred kelvin in the middle, beside edges of less than one."""
    chance = np.random.default_rng(1)
    still, seen = taken(chance), taken(chance, across, down, watts=watts)
    move = moved_between(still, seen, NOISE * 1.4)
    assert (move.across, move.down) == pytest.approx((across, down), abs=0.06)


def test_a_turn_is_found():
    chance = np.random.default_rng(2)
    move = moved_between(taken(chance), taken(chance, 1.0, 0.0, turn=0.8), NOISE * 1.4)
    assert abs(np.degrees(move.turn)) == pytest.approx(0.8, abs=0.1)


@pytest.mark.parametrize("watts", [0.0, 0.1, 1.0])
def test_a_camera_that_stood_still_did_not_move(watts):
    chance = np.random.default_rng(3)
    for _ in range(5):
        assert moved_between(taken(chance), taken(chance, watts=watts), NOISE * 1.4) is None
    noise = [chance.normal(24.0, NOISE, (HIGH, WIDE)) for _ in range(2)]
    assert moved_between(*noise, NOISE * 1.4) is None


def test_rims_of_a_knocked_camera_are_no_heat():
    """Nothing got warm: unless the pictures are laid on each other every edge of a part is a spot."""
    chance = np.random.default_rng(4)
    rise = difference(taken(chance), taken(chance, 1.0, 0.6), taken(chance, 0.4, -0.7))
    assert sources_of(rise, PX, Plate())[0] == ()
    assert rise.moved == pytest.approx(np.hypot(1.0, 0.6), abs=0.6)
    warm = difference(taken(chance), taken(chance, 1.0, 0.6, watts=0.2), taken(chance, 0.4, -0.7))
    (spot,), (watts,), _ = sources_of(warm, PX, Plate())
    assert (spot.x, spot.y) == pytest.approx((40.0 / PX + 1.0, 30.0 / PX + 0.6), abs=0.5)
    assert watts == pytest.approx(0.2, rel=0.1)


@pytest.mark.parametrize(("watts", "knock"), [(0.0, 0.0), (0.01, 0.0), (0.01, 3.0)])
def test_a_series_from_a_hand_that_shakes(watts, knock):
    """A pixel to all sides, and a knock after half: unless it is laid straight, edges of parts swing with the feed."""
    chance = np.random.default_rng(6)
    times = np.arange(96) / 4.0
    y, x = np.mgrid[0:HIGH, 0:WIDE] * PX
    wave = watts * disc_wave(Plate(), np.hypot(x - 40.0, y - 30.0) * 1e-3, 0.25, 1e-3)
    frames = []
    for t in times:
        across, down = chance.normal(0.0, 1.0, 2) + knock * (t > 11.0)
        way = np.array([[1.0, 0.0, across], [0.0, 1.0, down]])
        seen = shining() + (wave * np.exp(2j * np.pi * 0.25 * t)).imag
        moved = cv2.warpAffine(seen, way, (WIDE, HIGH), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
        frames.append(24.0 + moved + chance.normal(0.0, NOISE, moved.shape))
    rise = lock_in(np.array(frames), times, 0.25)
    found, powers, _ = sources_of(rise, PX, Plate())
    assert len(found) == (watts > 0.0)
    assert 1.5 < rise.moved < 7.0
    if watts:
        assert powers[0] == pytest.approx(watts, rel=0.15)


def test_another_view_is_refused():
    chance = np.random.default_rng(7)
    with pytest.raises(DataError) as told:
        difference(taken(chance), taken(chance, 13.0, 4.0))
    assert "moved by 1" in told.value.what
