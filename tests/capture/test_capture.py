"""Values taken by themselves. The rates of trouble stand in `touches.py`; they and the seed were fixed first."""

import math

from hypothesis import given, settings
from hypothesis import strategies as st

from ohmwright.usecases.capture import Capture, Phase, Rules, Sample, Sound, heard, taken_by_key
from tests.capture.touches import run

RULES = Rules()
AIR = (None, True)


def played(*shown: tuple[float | None, bool], rate: float = 5.0, rules: Rules = RULES, start: Capture | None = None):
    capture, signs = start or Capture(), []
    for n, (value, overload) in enumerate(shown):
        capture, sign = heard(capture, Sample(n / rate, value, overload), rules)
        signs += [sign] if sign else []
    return capture, signs


def test_ten_thousand_touches():
    """No false capture, under 1 % missed."""
    tally = run(10_000)
    assert tally.touches >= 10_000
    assert tally.false == []
    assert len(tally.missed) < 0.01 * tally.touches, tally.missed[:20]
    assert tally.taken > 8_500  # or nothing would have been tried


def test_a_steady_value_is_taken_once():
    _, signs = played(*[AIR] * 4, *[(0.425, False)] * 12)
    assert [s.sound for s in signs] == [Sound.CONTACT, Sound.TAKEN]
    assert signs[-1].value == 0.425


def test_nothing_is_taken_before_the_probes_were_seen_in_the_air():
    """A display that is frozen, or probes that still lie on the point before."""
    _, signs = played(*[(0.425, False)] * 50)
    assert signs == []


def test_an_overload_is_taken_by_key_only():
    capture, signs = played(*[AIR] * 60)
    assert signs == []
    after, sign = taken_by_key(capture, tuple(Sample(n / 5, None, True) for n in range(5)), RULES)
    assert (sign.sound, sign.value, after.phase) == (Sound.TAKEN, None, Phase.LIFT)


def test_a_key_does_not_take_what_moves():
    moving = tuple(Sample(n / 5, 0.1 * n) for n in range(5))
    _, sign = taken_by_key(Capture(), moving, RULES)
    assert sign.sound is Sound.REFUSED


def test_a_held_display_is_refused():
    capture, _ = played(*[AIR] * 4)
    _, sign = heard(capture, Sample(1.0, 0.3, held=True), RULES)
    assert sign is not None
    assert sign.sound is Sound.REFUSED


@settings(max_examples=60, deadline=None)
@given(
    constant=st.floats(0.05, 6.0),
    volts=st.floats(0.1, 1.5),
    rate=st.sampled_from([3.0, 5.0, 10.0]),
    seed=st.integers(0, 9),
)
def test_a_charging_rail_is_taken_within_a_percent(constant, volts, rate, seed):
    """The closed form v (1 - exp(-t/T)), whatever T; the display rounds to 1 mV."""
    capture, taken = Capture(), None
    for n in range(4):
        capture, _ = heard(capture, Sample(n / rate, None, True), RULES)
    began = 4 / rate + seed / 100
    for n in range(int(12 * constant * rate) + 40):
        at = began + n / rate
        shown = round(volts * (1 - math.exp(-(at - began) / constant)), 3)
        capture, sign = heard(capture, Sample(at, shown), RULES)
        if sign is not None and sign.sound is Sound.TAKEN:
            taken = sign.value
            break
    assert taken is not None
    assert abs(taken - volts) <= 0.01 * volts + 0.003
