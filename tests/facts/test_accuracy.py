"""Limits of error and what follows from them, against the GUM."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ohmwright.facts.accuracy import Accuracy, agree
from ohmwright.instruments.family import SHIPPED, read_family


def test_the_voltmeter_of_the_gum():
    """JCGM 100:2008, 4.3.7, example 2: V = 0.928 571 V, limits 14e-6 of it and 2e-6 of the 1 V range: u = 8.7 µV."""
    meter = Accuracy(percent=14e-4, counts=2.0, step=1e-6, full=2_000_000)
    assert meter.limit(0.928571) == pytest.approx(15e-6, abs=0.05e-6)
    assert meter.standard(0.928571) == pytest.approx(8.7e-6, abs=0.05e-6)


@given(st.floats(-50, 50), st.floats(0.01, 3), st.integers(1, 20))
def test_a_rectangle_by_drawing_from_it(value, percent, counts):
    """The standard deviation of even values within limits is the half width over the root of three (GUM, 4.3.7)."""
    accuracy = Accuracy(percent, counts, 1e-3)
    half = accuracy.limit(value)
    even = [half * (2 * (k + 0.5) / 2000 - 1) for k in range(2000)]
    assert accuracy.standard(value) == pytest.approx(math.sqrt(sum(x * x for x in even) / 2000), rel=1e-5)


@pytest.mark.parametrize(("value", "step"), [(0.5, 1e-4), (0.61, 1e-3), (5.9, 1e-3), (6.1, 1e-2), (599.0, 1e-1)])
def test_steps_grow_with_the_range(value, step):
    assert Accuracy(0.5, 3, 1e-4).step_at(value) == pytest.approx(step)


def test_two_meters_may_agree():
    assert agree(0.512, 0.003, 0.518, 0.003)
    assert not agree(0.512, 0.001, 0.518, 0.001)


def test_what_a_description_leaves_out_follows_from_its_limits():
    meter = read_family(SHIPPED / "practice_meter.toml").meter
    assert meter.accuracy == pytest.approx(0.01 / math.sqrt(3))  # 1 % in diode mode is the widest
    steps = meter.diode_resolution, meter.ohms_resolution, meter.volts_resolution
    assert steps == pytest.approx((2e-3, 0.3, 1.5e-4))  # 2, 3 and 3 counts; of volts two steps are counted anyway
