"""Values taken by themselves. The rates of trouble stand in `touches.py`; they and the seed were fixed first."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ohmwright.usecases.capture import Capture, Phase, Rules, Sample, Sound, heard, taken_by_key
from ohmwright.usecases.slides import creeping
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


OHMS = Rules(least_step=0.1, skin=2e5, ranges=2)


def sounds(*shown: float | None, rate: float = 5.0, rules: Rules = OHMS) -> list[Sound]:
    """What is heard after the probes were in the air."""
    _, signs = played(*[AIR] * 8, *[(value, value is None) for value in shown], rate=rate, rules=rules)
    return [sign.sound for sign in signs if sign.sound is not Sound.WAIT]


def test_fingers_that_let_go_are_no_slip():
    """Skin turns back again and again; twice it is alike by chance, and then the point is touched."""
    skin = (8.92e5, 8.25e5, 8.82e5, 8.18e5, 8.19e5)

    assert sounds(*skin, *[2974.0] * 8) == [Sound.CONTACT, Sound.TAKEN]
    assert sounds(*skin, None, *[2974.0] * 8) == [Sound.CONTACT, Sound.TAKEN]


def test_a_pad_of_many_ohms_is_no_skin():
    """It stood still, or rose as a charge does, before it was left by a jump, or as an averaging display shows one."""
    stood, charge = [1.889e6] * 5, (4.4e4, 9.5e4, 1.36e5, 1.83e5, 2.24e5, 2.64e5, 3.07e5, 3.49e5, 3.9e5)

    assert Sound.TAKEN not in sounds(*stood[:2], *[21.2] * 12)
    assert Sound.TAKEN not in sounds(*stood, 4.18e5, 1.084e5, 23040.0, 1339.0, 192.0, 46.8, 26.0, *[21.2] * 12)
    assert Sound.TAKEN not in sounds(*stood, *[4.0e5] * 20)
    assert Sound.TAKEN not in sounds(*charge, *[1.27e6] * 20, rate=8.0)


def test_a_rail_that_stood_still_and_then_quickens_is_no_creeping_charge():
    """The steps of a charge grow smaller; those of a slide that an averaging display spreads do not."""

    def tail(*millivolts: float) -> tuple[Sample, ...]:
        return tuple(Sample(n / 10, value * 1e-3) for n, value in enumerate(millivolts))

    assert creeping(tail(320, 329, 334, 337, 339, 340, 341), RULES)
    assert not creeping(tail(3, 3, 3, 3, 4, 6, 7), RULES)
    assert not creeping(tail(166, 197, 217, 222, 224, 225, 230), RULES)


NEAR_ZERO = Rules(floor=0.02)


@pytest.mark.parametrize(
    ("first", "then"),
    [
        ((7, 5, 6), (4, 3, 3)), ((6, 6, 6), (4, 3, 3)), ((5, 6, 6), (4, 3, 2)), ((3, 3, 3), (5, 6, 6)),
        ((1, 2, 1), (4, 5, 5)),
    ],
)  # fmt: skip
def test_another_pad_near_zero_is_not_taken(first, then):
    """Three steps apart, which the display shows as steps of one or two; a charge does not creep there."""
    shown = [*first, *then, *[then[-1]] * 12]
    assert Sound.TAKEN not in sounds(*(value * 1e-3 for value in shown), rate=8.0, rules=NEAR_ZERO)


@pytest.mark.parametrize("shown", [(6, 7, 6, 7, 6), (3, 4, 5, 4, 4), (0, 1, 0, 0, 1), (19, 20, 21, 21, 20)])
def test_a_pad_near_zero_that_flickers_is_taken(shown):
    values = [value * 1e-3 for value in (*shown, *shown, *shown)]
    assert sounds(*values, rate=8.0, rules=NEAR_ZERO) == [Sound.CONTACT, Sound.TAKEN]


def test_a_rail_that_charges_from_zero_is_taken():
    """4.7 mF at 1 mA: 0.2 V a second, then its junction; near zero the display never stands still."""
    rail = [min(0.213 * n / 8, 0.4) for n in range(40)]
    assert sounds(*rail, rate=8.0, rules=NEAR_ZERO)[:2] == [Sound.CONTACT, Sound.TAKEN]


def test_a_key_does_not_take_skin_that_stands_still_for_a_moment():
    def pressed(*shown: float) -> Sound:
        return taken_by_key(Capture(), tuple(Sample(n / 3, value) for n, value in enumerate(shown)), OHMS)[1].sound

    assert pressed(3.7e5, 4.1e5, 3.914e5, 3.914e5) is Sound.REFUSED
    assert pressed(*[3.914e5] * 6) is Sound.TAKEN


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
