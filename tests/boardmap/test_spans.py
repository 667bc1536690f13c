"""The scale told by parts of a few sizes, and not told where it cannot be."""

import numpy as np
import pytest

from ohmwright.boardmap import scale_told
from ohmwright.geometry import land_pattern

CHART = 1.7
"""True millimetres that one of the chart is, in these tests."""


def spans(cases, random, off=0.05):
    out = []
    for case in cases:
        a, b = land_pattern("C" + case, ["1", "2"]).lands
        out.append(abs(b.x_mm - a.x_mm) / CHART * np.exp(random.normal(0, off)))
    return out


def test_several_sizes_tell_the_scale():
    """Cases 0402 to 1206 after the land patterns of KiCad 6.0.11; spans off by 5 %, one in eight means nothing."""
    random, right, wrong = np.random.default_rng(5), 0, 0
    for _ in range(60):
        laid = spans(random.choice(["0402", "0402", "0402", "0603", "0805", "1206"], 21), random)
        told = scale_told([*laid, *np.exp(random.normal(0, 0.6, 3))])
        right += told is not None and abs(told / CHART - 1) < 0.06
        wrong += told is not None and abs(told / CHART - 1) >= 0.06
    assert right >= 30  # where it is not sure it keeps silent
    assert wrong <= right / 10


@pytest.mark.parametrize("count", [1, 3, 30])
def test_one_size_alone_tells_no_scale(count):
    assert scale_told(spans(["0402"] * count, np.random.default_rng(6))) is None


def test_a_chart_twice_as_large_tells_half():
    laid = spans(["0402", "0402", "0603", "0805", "1206", "0402", "0603", "0805"] * 3, np.random.default_rng(7), 0.02)
    one, two = scale_told(laid), scale_told([2 * span for span in laid])
    assert one == pytest.approx(CHART, rel=0.05)
    assert two == pytest.approx(one / 2, rel=0.02)
