"""Heat pictures against the heat equation, solved here by finite differences and in closed form."""

import math

import numpy as np
import pytest
from scipy import sparse
from scipy.sparse.linalg import splu

from ohmwright.errors import DataError
from ohmwright.fields.plate import Plate
from ohmwright.fields.rise import difference, lock_in
from ohmwright.fields.spots import spots_of, watts_of
from ohmwright.fields.wave import disc_wave

MM = 0.6
ROWS, COLUMNS = 90, 120
PLATE = Plate()


def stepping(dt, plate=PLATE):
    """One implicit step of k t lap T - h T - C dT/dt = -p on the pixels themselves, insulated at the edge."""
    cell = (MM * 1e-3) ** 2
    node = np.arange(ROWS * COLUMNS).reshape(ROWS, COLUMNS)
    a = np.concatenate((node[:, :-1].ravel(), node[:-1].ravel()))
    b = np.concatenate((node[:, 1:].ravel(), node[1:].ravel()))
    g = np.full(len(a), PLATE.square)
    rows, columns = np.concatenate((a, b, a, b)), np.concatenate((b, a, a, b))
    lap = sparse.csc_matrix((np.concatenate((-g, -g, g, g)), (rows, columns)), shape=(node.size, node.size))
    matrix = lap + sparse.identity(node.size, format="csc") * cell * (plate.loss + plate.capacity / dt)
    return splu(matrix.tocsc()), cell * plate.capacity / dt


def heated(power, seconds, dt, feed=lambda t: 1.0):
    """Frames of the rise, shape (n, rows, columns), for watts in pixels and a feed over time. [K]"""
    solver, keep = stepping(dt)
    source = np.zeros((ROWS, COLUMNS))
    for (x, y), watts in power.items():
        source[y, x] = watts
    t, frames = np.zeros(source.size), []
    for n in range(round(seconds / dt)):
        t = solver.solve(keep * t + source.ravel() * feed((n + 0.5) * dt))
        frames.append(t.reshape(ROWS, COLUMNS))
    return np.array(frames)


def test_closed_form_of_a_source_on_a_plate():
    """Finite differences, settled, against K0(r / L) / (2 pi k t); edges are 45 mm and more away."""
    solver, _ = stepping(1e12)
    load = np.zeros(ROWS * COLUMNS)
    load[45 * COLUMNS + 60] = 0.3
    t = solver.solve(load).reshape(ROWS, COLUMNS)
    r = np.arange(3, 12) * MM * 1e-3
    near = t[45, 63:72] - t[45, 71]
    truth = PLATE.rise(0.3, r) - PLATE.rise(0.3, r[-1:])
    assert near == pytest.approx(truth, abs=0.03 * float(truth[0]))


def test_watts_do_not_depend_on_how_heat_spreads():
    """After 40 s, not settled: the rise summed over the board gives the power (energy balance)."""
    frames = heated({(60, 45): 0.5}, 40.0, 0.5)
    kelvin_area = float(frames[-1].sum()) * (MM * 1e-3) ** 2
    assert PLATE.watts(kelvin_area, 40.0) == pytest.approx(0.5, rel=0.02)


def noisy(frames, seed=5, sd=0.05):
    return frames + np.random.default_rng(seed).normal(0.0, sd, frames.shape)


def test_two_sources_are_found_with_their_watts_under_drift():
    """The whole picture drifts by 0.8 K and tilts; with the board's edges far off (a fan) watts hold to 15 %."""
    breezy = Plate(loss=120.0)
    solver, _ = stepping(1e12, breezy)
    load = np.zeros(ROWS * COLUMNS)
    load[30 * COLUMNS + 40], load[60 * COLUMNS + 85] = 0.3, 0.1
    t = solver.solve(load).reshape(ROWS, COLUMNS)
    x = np.arange(COLUMNS) / COLUMNS
    rise = difference(noisy(25.0 + 0 * t, 1), noisy(25.8 + t + 0.4 * x, 2))
    spots = spots_of(rise)
    assert [(s.x, s.y) for s in spots[:2]] == [pytest.approx((40, 30), abs=0.3), pytest.approx((85, 60), abs=0.3)]
    assert watts_of(rise, spots[:2], MM, breezy) == pytest.approx((0.3, 0.1), rel=0.15)
    assert not rise.checked


def test_near_edges_watts_hold_within_what_is_stated():
    """In still air heat reaches the edges of a board of 72 by 54 mm and comes back; the page says a factor of two."""
    solver, _ = stepping(1e12)
    load = np.zeros(ROWS * COLUMNS)
    load[30 * COLUMNS + 40] = 0.3
    t = solver.solve(load).reshape(ROWS, COLUMNS)
    rise = difference(noisy(25.0 + 0 * t, 1), noisy(25.0 + t, 2))
    found = watts_of(rise, spots_of(rise)[:1], MM, PLATE)[0]
    assert 0.15 < found < 0.6


def test_a_reflection_that_moves_is_no_heat():
    """A hand warm in the mirror of a shield during the second picture, elsewhere in the third."""
    solver, _ = stepping(1e12)
    load = np.zeros(ROWS * COLUMNS)
    load[30 * COLUMNS + 40] = 0.05
    t = solver.solve(load).reshape(ROWS, COLUMNS)
    during, after = noisy(25.0 + t, 2), noisy(25.0 + 0 * t, 3)
    during[70:78, 90:98] += 4.0
    after[70:78, 90:98] += 6.0
    spots = spots_of(difference(noisy(25.0 + 0 * t, 1), during, after))
    assert (spots[0].x, spots[0].y) == pytest.approx((40, 30), abs=0.5)
    assert all(not (86 < s.x < 102 and 66 < s.y < 82) for s in spots)


@pytest.fixture(scope="module")
def series():
    """0.25 Hz, 6 periods after 4 to settle, 3 frames a second, 10 mW of swing in the stronger source."""
    feed = lambda t: 1.0 if (t * 0.25) % 1.0 < 0.5 else 0.0  # noqa: E731 - a square wave, in one line
    return heated({(40, 30): 0.06, (85, 60): 0.02}, 40.0, 1.0 / 12.0, feed)[192 + 3 :: 4]


def test_lock_in_finds_what_one_picture_cannot(series):
    """Noise of 0.1 K, a drift of 2 K, and a reflection that comes and goes at its own pace."""
    n = len(series)
    times = (np.arange(n) + 1.0) / 3.0
    frames = noisy(25.0 + series + np.linspace(0.0, 2.0, n)[:, None, None], 4, 0.1)
    frames[:, 70:78, 20:28] += 3.0 * (np.sin(times * 1.9 + 1.0) > 0.3)[:, None, None]
    rise = lock_in(frames, times, 0.25)
    spots = spots_of(rise)
    assert (spots[0].x, spots[0].y) == pytest.approx((40, 30), abs=0.6)
    assert any(math.hypot(s.x - 85, s.y - 60) < 1.0 for s in spots)
    assert all(not (18 < s.x < 30 and 68 < s.y < 80) for s in spots)
    assert -90.0 < spots[0].lag < 0.0


def test_lock_in_amplitude_and_phase_follow_the_thermal_wave(series):
    """K0 of the complex length, its amplitude 2/pi of the feed's height."""
    times = (np.arange(len(series)) + 1.0) / 3.0
    rise = lock_in(series, times, 0.25, start=0.0)
    r = np.array([3, 4, 5, 6]) * MM * 1e-3
    wave = PLATE.swing(0.06 * 2.0 / math.pi, r, 0.25)
    assert rise.kelvin[30, 43:47] == pytest.approx(np.abs(wave), rel=0.1)
    assert rise.phase[30, 43:47] == pytest.approx(np.degrees(np.angle(wave)), abs=8.0)


def disc(x, y, radius, watts):
    """Watts spread over the pixels of a disc. [px]"""
    v, u = np.mgrid[0:ROWS, 0:COLUMNS]
    under = np.argwhere(np.hypot(u - x, v - y) <= radius)
    return {(int(c), int(r)): watts / len(under) for r, c in under}


def switched(power, late):
    """A feed of 0.25 Hz that was on its way when the first frame was taken; 6 periods after 4, 3 frames a second."""
    frames = heated(power, 40.0, 1.0 / 24.0, lambda t: 1.0 if (t * 0.25 + late) % 1.0 < 0.5 else 0.0)
    return frames[384 + 7 :: 8]


@pytest.mark.parametrize("late", [0.0, 0.3, 0.71])
def test_watts_of_a_series_are_those_fed_whatever_the_size_and_the_moment_it_began(late):
    """Finite differences: an 0402's worth and a coil of 5 mm, neither of which is a point to a wave of 2 mm."""
    series = switched({(40, 30): 0.02, **disc(85, 60, 4.2, 0.05)}, late)
    times = np.arange(len(series)) / 3.0
    rise = lock_in(noisy(25.0 + series, 8, 0.05), times, 0.25)
    near = [
        sum(w for s, w in zip(spots, watts_of(rise, spots, MM, PLATE), strict=True) if math.hypot(s.x - x, s.y - y) < 6)
        for spots in (spots_of(rise),)
        for x, y in ((40, 30), (85, 60))
    ]
    # The fundamental of an even on-off feed is 2/pi of its height (Fourier).
    assert near == pytest.approx((0.02 * 2.0 / math.pi, 0.05 * 2.0 / math.pi), rel=0.15)


def test_the_whole_plate_takes_what_is_fed_however_it_spreads():
    """Energy: the wave of a watt, summed over the plate, is 1 / (h + i w C), for a dot and for a large coil."""
    r = np.linspace(0.0, 40e-3, 400_001)
    for radius in (0.4e-3, 4.8e-3):
        whole = np.trapezoid(2.0 * math.pi * r * disc_wave(PLATE, r, 0.25, radius), r)
        assert whole == pytest.approx(1.0 / (PLATE.loss + 2j * math.pi * 0.25 * PLATE.capacity), rel=1e-3)


def test_what_brightens_all_at_once_with_the_feed_has_no_watts():
    """A lamp in the mirror of a shield that goes on with the supply, twice as strong as the part."""
    series = switched({(40, 30): 0.04}, 0.2)
    times = np.arange(len(series)) / 3.0
    on = ((times + 1.0 / 3.0) * 0.25 + 0.2) % 1.0 < 0.5
    v, u = np.mgrid[0:ROWS, 0:COLUMNS]
    glare = np.exp(-((u - 90) ** 2 + (v - 60) ** 2) / (2.0 * 6.0**2))
    rise = lock_in(noisy(25.0 + series + 2.0 * glare * on[:, None, None], 9, 0.05), times, 0.25)
    spots = spots_of(rise)
    watts = watts_of(rise, spots, MM, PLATE)
    assert any(math.hypot(s.x - 90, s.y - 60) < 6 for s in spots)
    assert sum(w for s, w in zip(spots, watts, strict=True) if math.hypot(s.x - 90, s.y - 60) < 25) == 0.0
    own = sum(w for s, w in zip(spots, watts, strict=True) if math.hypot(s.x - 40, s.y - 30) < 3)
    assert own == pytest.approx(0.04 * 2.0 / math.pi, rel=0.15)


def test_frames_need_not_come_evenly(series):
    """The same wave where every second frame of the first half was dropped, each with its own time."""
    kept = np.array([k for k in range(len(series)) if k > len(series) // 2 or k % 2 == 0])
    times = (np.arange(len(series)) + 1.0) / 3.0
    whole, thinned = lock_in(series, times, 0.25), lock_in(series[kept], times[kept], 0.25)
    assert thinned.kelvin[30, 43:47] == pytest.approx(whole.kelvin[30, 43:47], rel=0.1)
    # Told that they came evenly, it is no wave of that period any more.
    wrong = lock_in(series[kept], np.linspace(times[0], times[-1], len(kept)), 0.25)
    assert abs(wrong.kelvin[30, 43] / whole.kelvin[30, 43] - 1.0) > 0.1


def test_a_series_in_which_nothing_follows_has_no_spots_and_no_watts():
    times = np.arange(60) / 3.0
    rise = lock_in(noisy(np.full((60, 20, 30), 25.0), 6), times, 0.25)
    assert spots_of(rise) == ()
    assert watts_of(rise, (), MM, PLATE) == ()


def test_series_too_short_or_too_slow_are_refused():
    with pytest.raises(DataError, match="too few"):
        lock_in(np.zeros((20, 8, 8)), np.arange(20) / 20.0, 0.25)
    with pytest.raises(DataError, match="far apart"):
        lock_in(np.zeros((20, 8, 8)), np.arange(20) * 3.0, 0.25)
    with pytest.raises(DataError, match="differ in size"):
        difference(np.zeros((8, 8)), np.zeros((8, 9)))
