"""The plan for a feed: ratings, back-feed, refusals, energy, and what to find the place with."""

from dataclasses import replace

import pytest

from ohmwright.circuit import Feed
from ohmwright.diagnosis import diagnose
from ohmwright.facts import EntryFact, Facts, Quantity, Reading
from ohmwright.formats.board_json import read_board_json
from ohmwright.planning.feeding import COPPER, FeedPlan, back_feed, feed_plan, finder, limit_words
from ohmwright.practice.choice import boards
from ohmwright.safety import Permit, Refusal, permit
from ohmwright.safety.stopping import Account, FedSample, StopRules, after
from ohmwright.traces import slope_of

BOARD = read_board_json(boards()["logger"])
KNOWN = Facts(
    entries=(EntryFact("V5IN", battery_off=True),), readings=(Reading(Quantity.OHMS, "V18", "GND", 1.2),)
)


@pytest.fixture(scope="module")
def posterior():
    return diagnose(BOARD, KNOWN)[0]


def test_every_step_of_a_plan_is_permitted_and_stays_below_the_lowest_rating(posterior):
    plan = feed_plan(BOARD, KNOWN, posterior, "V18")
    assert isinstance(plan, FeedPlan)
    for step in plan.steps:
        assert isinstance(permit(BOARD, KNOWN, step.feed), Permit)
        assert step.watts <= step.feed.volts * step.feed.limit + 1e-12
        for path in plan.paths:
            assert path.stands is None or step.feed.volts - path.drop <= path.stands + 1e-9
    assert [s.feed.limit for s in plan.steps] == sorted(s.feed.limit for s in plan.steps)
    assert any("output off" in words for words in plan.before)


def test_what_the_supply_would_show_differs_by_suspect_and_obeys_ohm(posterior):
    """A path of R behind leads of 0.05 ohm at a limit shows I (R + leads) at most the set volts."""
    plan = feed_plan(BOARD, KNOWN, posterior, "V18")
    leading = plan.expected[0]
    assert leading.probability > 0.05
    assert 0.0 < leading.volts <= plan.steps[0].feed.volts + 1e-6
    assert 0.0 < leading.amps <= plan.steps[0].feed.limit * 1.01


@pytest.mark.parametrize(
    ("facts", "net", "volts", "gate"),
    [
        (Facts(), "V18", None, "battery"),
        (KNOWN, "V18", 3.3, "rating"),
        (KNOWN, "V18", 48.0, "rating"),
        (KNOWN, "GND", None, "clips"),
        (KNOWN, "V5IN", 5.0, "polarity"),
    ],
)
def test_refusals_say_which_rule_and_what_to_do(posterior, facts, net, volts, gate):
    answer = feed_plan(BOARD, facts, posterior, net, volts)
    assert isinstance(answer, Refusal)
    assert answer.gate == gate
    assert answer.reason
    assert answer.hint


def test_the_supplys_own_charge_is_half_c_v_squared(posterior):
    """1000 µF: 0.32 mJ at 0.8 V; the closed form, at 20 V it is 200 mJ."""
    plan = feed_plan(BOARD, KNOWN, posterior, "V18")
    volts = plan.steps[0].feed.volts
    assert plan.charge == pytest.approx(0.5 * 1e-3 * volts**2)


def test_back_feed_is_named_where_a_junction_leads_on(posterior):
    plans = [feed_plan(BOARD, KNOWN, posterior, net) for net in ("V33", "V18", "SYS", "V5F")]
    plans = [p for p in plans if isinstance(p, FeedPlan)]
    assert any(back_feed(p) for p in plans)
    for plan in plans:
        assert len(back_feed(plan)) == sum(p.drop > 0 and p.stands is not None for p in plan.paths)


@pytest.mark.parametrize(("ohms", "method"), [(0.005, "millivolts"), (0.02, "either"), (0.1, "heat"), (0.5, "heat")])
def test_heat_or_millivolts_by_the_share_of_power(ohms, method):
    """Shares of power R / (R + copper): 14 % at 5 mohm, 40 % at 20 mohm, 77 % at 100 mohm for 30 mohm of copper."""
    slope = slope_of([(a, a * ohms) for a in (1.0, 2.0)], volts_error=1e-5, amps_error=1e-5)
    assert finder(slope, 1.0, 3.0).method == method
    assert ohms / (ohms + COPPER) == pytest.approx({0.005: 0.143, 0.02: 0.4, 0.1: 0.769, 0.5: 0.943}[ohms], abs=1e-3)


def test_a_junction_in_the_path_is_no_plain_short():
    slope = slope_of([(a, 0.35 + a * 0.1) for a in (1.0, 2.0)])
    assert finder(slope, 1.0, 3.0).method == "reading"


def test_limit_with_volts_held_is_told_from_volts_collapsed():
    feed = Feed("V18", "GND", 1.0, 0.5)
    assert "no short is proven" in limit_words(0.99, 0.5, feed)
    assert "collapsed" in limit_words(0.1, 0.5, feed)
    assert limit_words(1.0, 0.1, feed) == "below the limit"


def run(rules, samples):
    account, stop = Account(), None
    for sample in samples:
        account, stop = after(account, sample, rules)
        if stop:
            break
    return account, stop


def test_energy_is_the_integral_of_volts_times_amps():
    """A ramp: 1 V, amps from 0 to 2 A over 2 s is 2 J exactly by the trapezoidal rule."""
    account, stop = run(StopRules(1.0, 3.0), [FedSample(0.1 * k, 1.0, 0.1 * k) for k in range(21)])
    assert account.energy == pytest.approx(2.0)
    assert stop is None


RULES = StopRules(1.0, 1.0, watts=0.5, energy=0.3, seconds=5.0)
DOWN = FedSample(0.0, 0.1, 1.0)


@pytest.mark.parametrize(
    ("samples", "rule"),
    [
        ([DOWN, FedSample(0.1, 0.95, 0.02)], "volts recovered"),
        ([DOWN, replace(DOWN, at=0.1, hottest=71.0)], "too hot"),
        ([DOWN, FedSample(0.1, 0.6, 0.9)], "too much power"),
        ([replace(DOWN, at=0.5 * k) for k in range(9)], "too much energy"),
        ([FedSample(0.5 * k, 0.01, 1.0) for k in range(12)], "time is up"),
        ([FedSample(0.0, 1.3, 0.1)], "beyond the setting"),
    ],
)
def test_each_stop_rule_stops(samples, rule):
    assert run(RULES, samples)[1].rule == rule


def test_what_was_never_down_has_not_recovered():
    assert run(RULES, [FedSample(0.1 * k, 1.0, 0.05) for k in range(10)])[1] is None
