"""Figures as hands type them."""

from hypothesis import given
from hypothesis import strategies as st

from ohmwright.facts import HANDHELD, Meter, Quantity
from ohmwright.quantities import format_quantity
from ohmwright.usecases.entry_scale import entered_value


@given(st.integers(1, 2999))
def test_a_drop_typed_without_its_point_is_in_millivolts(millivolts):
    bare = entered_value(str(millivolts), Quantity.DIODE, HANDHELD)
    full = entered_value(f"{millivolts / 1000:.3f}", Quantity.DIODE, HANDHELD)
    assert bare.value == full.value == millivolts / 1000
    assert bare.guessed
    assert not full.guessed


def test_a_short_typed_from_a_display_in_millivolts_is_no_drop_of_volts():
    """On a meter of 4.2 V too; a point makes it volts again."""
    wide = Meter(diode_compliance=4.2)
    for text, value in (("2", 2e-3), ("002", 2e-3), ("-3", -3e-3), ("0", 0.0)):
        assert entered_value(text, Quantity.DIODE, wide).value == value
    for text in ("2.", "2.0", "2,0", "2V"):
        assert entered_value(text, Quantity.DIODE, wide).value == 2.0


@given(st.floats(0.001, 2.99), st.sampled_from(list(Quantity)))
def test_what_the_meter_can_show_stays_as_it_is(value, quantity):
    assert entered_value(f"{value:.3f}", quantity, HANDHELD).value == float(f"{value:.3f}")


@given(st.floats(1e-3, 9.9e6), st.sampled_from([Quantity.OHMS, Quantity.PART_OHMS, Quantity.VOLTS]))
def test_ohms_and_volts_are_never_guessed(value, quantity):
    found = entered_value(format_quantity(value, "", 6).replace(" ", ""), quantity, HANDHELD)
    assert not found.guessed
    assert found.value is not None
    assert abs(found.value - value) <= 1e-5 * value


@given(st.integers(4, 2999), st.sampled_from(["mV", "m", " mV", "V", " V"]))
def test_a_unit_that_was_typed_is_never_overruled(figures, unit):
    found = entered_value(f"{figures}{unit}", Quantity.DIODE, HANDHELD)
    assert not found.guessed
    assert found.value == (figures / 1000 if "m" in unit else float(figures))


@given(st.sampled_from(["OL", "ol", "O.L", "0L", "open", " OL "]), st.sampled_from(list(Quantity)))
def test_an_overload_is_an_overload(text, quantity):
    assert entered_value(text, quantity, HANDHELD).value is None


@given(st.integers(1, 9), st.integers(0, 9))
def test_letters_stand_for_the_point(whole, part):
    """IEC 60062, clause 4."""
    for letter, scale in (("k", 1e3), ("M", 1e6), ("R", 1.0)):
        found = entered_value(f"{whole}{letter}{part}", Quantity.OHMS, HANDHELD)
        assert found.value is not None
        assert abs(found.value - (whole + part / 10) * scale) < 1e-6 * scale


def test_a_meter_with_more_compliance_keeps_more():
    assert entered_value("4.2", Quantity.DIODE, Meter(diode_compliance=5.0)).value == 4.2
    assert entered_value("120", Quantity.SUPPLY_AMPS, HANDHELD).value == 0.12
