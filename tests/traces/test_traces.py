"""Traces: change points, periods, slopes and knees against closed forms and made truth, with counts of errors."""

import itertools
import math

import numpy as np
import pytest
from tests.traces.made import made

from ohmwright.errors import DataError
from ohmwright.traces import (
    Stage,
    knee_of,
    levels_of,
    likeness,
    period_of,
    signature_of,
    slope_of,
    stage_of,
    trace_of,
)
from ohmwright.traces.levels import PRICE, changes


def cost(values: np.ndarray, cuts: tuple[int, ...], noise: float) -> float:
    ends = [0, *cuts, values.size]
    squares = sum(float(((values[a:b] - values[a:b].mean()) ** 2).sum()) for a, b in itertools.pairwise(ends))
    return squares + PRICE * math.log(values.size) * noise**2 * len(cuts)


def test_changes_are_the_cheapest_of_all_ways_to_cut():
    """Against every way to cut 14 values into levels of two or more, by brute force."""
    rng = np.random.default_rng(3)
    for _ in range(25):
        values = np.repeat(rng.uniform(0, 4, 3), [4, 5, 5]) + rng.normal(0, 0.5, 14)
        found = changes(values, 0.5)
        ways = (
            cuts for k in range(4) for cuts in itertools.combinations(range(2, 13), k)
            if all(b - a >= 2 for a, b in itertools.pairwise((0, *cuts, 14)))
        )  # fmt: skip
        assert cost(values, found, 0.5) <= min(cost(values, cuts, 0.5) for cuts in ways) + 1e-9


def test_flat_noise_shows_no_step_and_a_step_of_five_sigma_is_found():
    """300 flat traces of 200 readings; 300 with one step of five standard deviations."""
    rng = np.random.default_rng(5)
    false = sum(bool(changes(rng.normal(0, 1, 200), 1.0)) for _ in range(300))
    found = 0
    for _ in range(300):
        at = int(rng.integers(20, 180))
        cuts = changes(rng.normal(0, 1, 200) + 5.0 * (np.arange(200) >= at), 1.0)
        found += len(cuts) == 1 and abs(cuts[0] - at) <= 1
    print(f"false steps {false}/300, found {found}/300")
    assert false <= 3
    assert found >= 290


def test_levels_and_their_times():
    levels = levels_of(made([(2, 0.012), (1, 0.045), (3, 0.18), (4, 0.6)]))
    assert [v.amps for v in levels] == pytest.approx([0.012, 0.045, 0.18, 0.6], abs=5e-4)
    assert [v.start for v in levels] == pytest.approx([0, 2, 3, 6], abs=0.06)


def test_periods_are_found_to_a_hundredth_and_noise_has_none():
    """200 retrying boards of periods from 0.3 to 4 s at 20 readings a second; 200 steady and 100 stepping ones."""
    rng = np.random.default_rng(7)
    good = 0
    for seed in range(200):
        period, duty = float(rng.uniform(0.3, 4.0)), float(rng.uniform(0.2, 0.7))
        trace = made([(20, lambda x, p=period, d=duty: np.where(x % p < d * p, 0.15, 0.02))], seed=seed)
        found = period_of(trace)
        good += bool(found) and abs(found.seconds / period - 1) < 0.01
    false = sum(bool(period_of(made([(20, 0.2)], noise=0.01, seed=s))) for s in range(200))
    false += sum(bool(period_of(made([(4, 0.02), (3, 0.2), (13, 0.6)], noise=0.01, seed=s))) for s in range(100))
    print(f"period found {good}/200, false {false}/300")
    assert good >= 194
    assert false <= 2


def test_a_period_too_fast_for_the_rate_is_said_not_to_be_seen():
    trace = made([(20, 0.02)], rate=10)
    assert period_of(trace).shortest == pytest.approx(0.3, rel=0.01)
    assert any("nothing faster" in words for words in stage_of(signature_of(trace)).words)


def hiccup(period: float):
    return lambda x: np.where(x % period < 0.4 * period, 0.12, 0.02)


STAGES = {
    Stage.OPEN: lambda r: [(10, 0.0)],
    Stage.DETECT: lambda r: [(10, r.uniform(0.0015, 0.0035))],
    Stage.STANDBY: lambda r: [(10, r.uniform(0.007, 0.017))],
    Stage.STANDBY_RAILS: lambda r: [(10, r.uniform(0.027, 0.055))],
    Stage.ABORTED: lambda r: [(2, 0.012), (r.uniform(0.2, 0.9), r.uniform(0.07, 0.3)), (6, 0.012)],
    Stage.RETRYING: lambda r: [(15, hiccup(r.uniform(0.4, 3)))],
    Stage.PLATEAU: lambda r: [(2, 0.03), (10, r.uniform(0.11, 0.24))],
    Stage.SHORT: lambda r: [(10, 1.5)],
}


def test_stages_by_what_the_table_says_of_them():
    """40 made traces of each stage of the table of common practice (no source): how often the likeliest is right."""
    wrong = {}
    for stage, pieces in STAGES.items():
        miss = 0
        for seed in range(40):
            noise = 0.0002 if stage in (Stage.OPEN, Stage.DETECT) else 0.0008
            trace = made(pieces(np.random.default_rng(seed)), seed=seed, noise=noise)
            miss += stage_of(signature_of(trace), trace.step).stage is not stage
        wrong[stage.name] = miss
    print("wrong of 40:", wrong)
    assert sum(wrong.values()) <= 0.05 * 40 * len(STAGES)


def test_watts_are_judged_not_amps():
    """The same watts at 5 V and at 19.5 V are the same stage."""
    at_five = made([(2, 0.01), (8, 0.17 * 19.5 / 5)], volts=5.0, limit=3.0)
    at_nineteen = made([(2, 0.01), (8, 0.17)])
    assert stage_of(signature_of(at_five)).stage is stage_of(signature_of(at_nineteen)).stage is Stage.PLATEAU


def test_limit_with_volts_held_is_no_short():
    trace = made([(10, 1.5)])
    held = trace_of(trace.times, trace.amps, [19.4] * len(trace.times), 19.5, 1.0)
    assert stage_of(signature_of(held)).stage is Stage.LIMIT_HELD
    assert stage_of(signature_of(trace)).ohms == pytest.approx(0.3 * 19.5, rel=0.01)


def test_who_retries():
    trace = made([(20, lambda x: np.where(x % 0.5 < 0.2, 0.12, 0.02))])
    assert any("supervisor" in words for words in stage_of(signature_of(trace)).words)


def test_a_trace_is_like_its_own_repeat_and_parts_from_another_where_it_parts():
    """40 repeats with up to 4 % of stretch; 40 that stop at another level at a known moment."""
    rng = np.random.default_rng(11)
    same, right = 0, 0
    for seed in range(40):
        at, stretch = float(rng.uniform(1, 4)), float(rng.uniform(-0.15, 0.15))
        first = made([(at, 0.015), (2, 0.05), (6 - at, 0.2)], seed=seed)
        again = made([(at + stretch, 0.015), (2, 0.05), (6 - at, 0.2)], seed=seed + 1000)
        other = made([(at, 0.015), (2, 0.05), (6 - at, 0.09)], seed=seed + 2000)
        same += likeness(first, again).same
        parts = likeness(first, other).parts_at
        right += parts is not None and abs(parts - at - 2) < 0.25
    print(f"same {same}/40, parting placed {right}/40")
    assert same >= 39
    assert right >= 39


def test_slope_takes_out_leads_and_names_a_junction():
    """V = 0.3 + I (R + leads), R = 0.1 ohm exactly."""
    slope = slope_of([(a, 0.3 + a * 0.15) for a in (0.5, 1.0, 2.0)], leads=0.05, leads_error=0.005)
    assert slope.best == pytest.approx(0.1, abs=1e-9)
    assert slope.junction
    assert slope.offset == pytest.approx(0.3, abs=1e-9)
    assert not slope_of([(0.5, 0.05), (1.0, 0.1)]).junction


def test_the_interval_of_a_slope_holds_the_truth_in_95_of_100():
    rng = np.random.default_rng(13)
    held, n = 0, 2000
    for _ in range(n):
        ohms, leads = rng.uniform(0.01, 2.0), rng.normal(0.06, 0.01)
        points = []
        for amps in (0.5, 1.0, 2.0):
            true = amps + rng.normal(0, 2e-3)
            points.append((amps, true * (ohms + leads) + rng.normal(0, 2e-3)))
        held += ohms in slope_of(points, leads=0.06, leads_error=0.01).ohms
    print(f"slope interval holds {held}/{n}")
    assert 0.93 < held / n < 0.985


def test_currents_too_close_are_refused():
    with pytest.raises(DataError, match="too close"):
        slope_of([(1.0, 0.1), (1.1, 0.11)])


def test_knees_are_found_where_they_are_and_a_resistance_has_none():
    """Two straight lines that meet at a known volt; 60 of them, and 60 resistances."""
    rng = np.random.default_rng(17)
    volts = np.linspace(0.5, 20, 25)
    found = held = false = 0
    for _ in range(60):
        at = float(rng.uniform(4, 16))
        amps = 1e-3 * volts + 0.05 * np.maximum(volts - at, 0) + rng.normal(0, 2e-3, 25)
        knee = knee_of(list(zip(volts, amps, strict=True)))
        found += bool(knee) and abs(knee.volts - at) < 0.3
        held += bool(knee) and at in knee.between
        false += bool(knee_of(list(zip(volts, 1e-2 * volts + rng.normal(0, 2e-3, 25), strict=True))))
    print(f"knee found {found}/60, interval holds {held}/60, false {false}/60")
    assert found >= 59
    assert held >= 53
    assert false == 0


def test_bad_traces_are_refused_with_words():
    for times, amps in (([0, 1], [0, 0]), ([*range(9), 8], [0.0] * 10), (range(10), [math.nan] * 10)):
        with pytest.raises(DataError) as caught:
            trace_of(list(times), list(amps), [1.0] * len(amps), 5.0, 1.0)
        assert caught.value.hint or caught.value.what
