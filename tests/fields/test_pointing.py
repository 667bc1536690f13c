"""Where millivolts point, and whether the stated error holds."""

import math
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.gradient import COPPERS, trials

from ohmwright.errors import ReadingError
from ohmwright.facts import CopperShape, Gradient, GradientPoint
from ohmwright.fields.layout import layout_of
from ohmwright.fields.next_point import next_points, outlook
from ohmwright.fields.pointing import pointing_of

PLANE = CopperShape(outline=((0.0, 0.0), (200.0, 0.0), (200.0, 150.0), (0.0, 150.0)))


def read(at, sink=(150.0, 40.0), step=1e-5, current=3.0, sign=1.0):
    seen = layout_of(PLANE).seen_from(np.array([(10.0, 10.0), sink]))
    rise = np.subtract(*seen.response(np.array([*at, (30.0, 100.0)], dtype=float)))
    volts = np.round(sign * current * 0.6e-3 * (rise[:-1] - rise[-1]) / step) * step
    points = tuple(GradientPoint(float(x), float(y), float(v)) for (x, y), v in zip(at, volts, strict=True))
    return Gradient("V12", PLANE, (10.0, 10.0), sign * current, points, (30.0, 100.0), step, offset=1e-6)


EIGHT = [(40, 40), (100, 20), (180, 20), (180, 80), (120, 60), (150, 120), (60, 130), (100, 100)]


@pytest.mark.slow
def test_the_stated_ellipse_holds_the_truth_on_traces():
    """1,000 invented readings, the seed fixed first: 95 % ± 2 of them hold the truth."""
    found = trials(COPPERS["traces"], 1000, seed=20261125)
    assert found.ellipse == pytest.approx(0.95, abs=0.02)
    assert found.region == pytest.approx(0.95, abs=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["planes", "drawn copper"])
def test_the_stated_ellipse_holds_the_truth_on_areas(name):
    """As above with few trials, readings from finite elements: `benchmarks.gradient` measures more. Four sd of 20."""
    found = trials(COPPERS[name], 20, seed=7)
    assert found.ellipse > 0.95 - 4.0 * math.sqrt(0.95 * 0.05 / 20)
    assert found.region > 0.95 - 4.0 * math.sqrt(0.95 * 0.05 / 20)


def test_it_points_to_the_sink_and_solves_the_sheet():
    found = pointing_of(read(EIGHT))
    assert np.hypot(*(found.mean - (150.0, 40.0))) < 4.0
    assert found.in_ellipse((150.0, 40.0))
    mean, sd = found.square_ohms
    assert abs(mean - 0.6e-3) < 3.0 * sd + 2e-5
    assert found.odds_of_fit > 0.01
    assert found.strain == 1.0


def test_the_ground_side_is_the_mirror():
    """At the ground clip current is taken out: all signs turn, and nothing else."""
    up, down = pointing_of(read(EIGHT)), pointing_of(read(EIGHT, sign=-1.0))
    assert down.mean == pytest.approx(up.mean, abs=1e-6)


def test_copper_that_is_not_as_drawn_shows():
    """One reading off by 60 steps."""
    gradient = read(EIGHT)
    points = list(gradient.points)
    points[2] = replace(points[2], volts=points[2].volts + 6e-4)
    assert pointing_of(replace(gradient, points=tuple(points))).odds_of_fit < 0.01


def test_an_offset_that_is_not_known_cancels():
    gradient = replace(read(EIGHT), black=None)
    moved = replace(gradient, points=tuple(replace(p, volts=p.volts + 0.2) for p in gradient.points))
    assert pointing_of(moved).mean == pytest.approx(pointing_of(gradient).mean, abs=0.02)


def test_the_next_point_helps_more_than_a_bad_one():
    gradient = read(EIGHT[:4])
    pointing = pointing_of(gradient)
    candidates = np.array([(20.0, 140.0), (140.0, 30.0), (160.0, 60.0), (30.0, 101.0), (110.0, 50.0)])
    best = next_points(pointing, candidates)
    assert best[0].bits > best[-1].bits
    with_best, with_worst = (
        pointing_of(read([*EIGHT[:4], (worth.x_mm, worth.y_mm)])).radius_mm for worth in (best[0], best[-1])
    )
    assert with_best < with_worst <= pointing.radius_mm * 1.05


def test_hopeless_is_said_with_what_it_would_need():
    """On a plane of 200 by 150 mm, 1 A and 0.1 mV tell nothing, 10 µV and 3 A do (common practice, no source)."""
    at = np.array(EIGHT, dtype=float)
    blunt = outlook(replace(read(EIGHT), current=1.0, resolution=1e-4), at, 8.0)
    assert not blunt.enough
    assert blunt.radius_mm > 20.0
    assert blunt.resolution is not None
    assert blunt.resolution < 5e-5
    sharp = outlook(replace(read(EIGHT), current=1.0, resolution=blunt.resolution), at, 8.0)
    assert sharp.enough
    assert outlook(read(EIGHT), at, 8.0).enough


@pytest.mark.parametrize(
    "wrong", [{"current": 0.0}, {"current": 300.0}, {"resolution": 0.0}, {"points": (GradientPoint(0, 0, 9.0),)}]
)
def test_readings_that_cannot_be_are_refused(wrong):
    with pytest.raises(ReadingError):
        replace(read(EIGHT), **wrong)


def test_one_reading_has_no_direction():
    with pytest.raises(ReadingError, match="1 readings"):
        pointing_of(replace(read(EIGHT), points=read(EIGHT).points[:1]))
