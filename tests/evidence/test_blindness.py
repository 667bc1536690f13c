"""What a meter cannot see, against closed forms."""

import math
from dataclasses import replace

import pytest
from scipy.special import lambertw

from ohmwright.evidence.blindness import EMISSION, blind_words, drop_with_leak, largest_leak_seen
from ohmwright.facts import HANDHELD, Meter, Quantity


@pytest.mark.parametrize("leak", [300.0, 1e3, 5e3, 20e3])
def test_the_drop_with_a_leak_is_the_closed_form(leak):
    """A junction beside a resistor by Lambert's W: v = R(I + I0) - nVt W(R I0 / nVt exp(R (I + I0) / nVt))."""
    amps, drop = HANDHELD.diode_current, 0.5
    saturation = amps / math.expm1(drop / EMISSION)
    x = leak * (amps + saturation) / EMISSION
    known = leak * (amps + saturation) - EMISSION * lambertw(leak * saturation / EMISSION * math.exp(x)).real
    assert drop_with_leak(HANDHELD, drop, leak) == pytest.approx(known, abs=1e-6)


def test_a_stronger_current_sees_less_of_a_leak():
    assert largest_leak_seen(replace(HANDHELD, diode_current=3e-4)) > 2 * largest_leak_seen(HANDHELD)


def test_a_better_display_sees_more():
    fine = replace(HANDHELD, accuracy=1e-4, diode_resolution=1e-5)
    assert largest_leak_seen(fine) > largest_leak_seen(HANDHELD)


def test_it_is_said_with_the_figure_that_was_worked_out():
    words = blind_words(HANDHELD, Quantity.DIODE)
    assert any("cannot see a leak above" in w and "use ohms" in w for w in words)
    assert "k" in words[0]


def test_a_fine_four_wire_meter_is_blind_to_little():
    fine = Meter(four_wire=True, ohms_resolution=1e-4, ohms_compliance=0.2, accuracy=1e-4)
    assert blind_words(fine, Quantity.OHMS) == ()
    assert blind_words(HANDHELD, Quantity.VOLTS) == ()
