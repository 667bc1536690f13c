from __future__ import annotations

import math
from typing import Any

import pytest
from scipy.stats import binomtest

from judge import metrics


def row(key: str, policy: str = "engine", **more: Any) -> dict[str, Any]:
    plain: dict[str, Any] = {
        "key": key, "policy": policy, "family": "fake", "tags": {"fault": "short"}, "culprits": ["C1"],
        "hidden_culprits": [], "decidable": True, "right": True, "contains": True, "exact": True, "size": 1,
        "p": 0.9, "at": {}, "level": "open", "likely": 0, "likely_false": 0, "proven": 0, "proven_false": 0,
        "all_found": True, "accuses": False, "abstains": False, "needless": 0, "lifted": 1, "readings": 5,
        "violations": 0, "solved": True, "minutes": 30.0, "cut": "", "seconds": 1.0,
    }  # fmt: skip
    return {**plain, **more}


def test_wilson_against_a_published_example() -> None:
    # R. G. Newcombe, "Two-sided confidence intervals for the single proportion," Statist. Med. 17, 857-872,
    # 1998, table I, method 3 (score without continuity correction): 81/263, 15/148, 0/20, 1/29.
    for hits, n, low, high in (
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ):
        bottom, top = metrics.wilson(hits, n)
        assert bottom == pytest.approx(low, abs=5e-5)
        assert top == pytest.approx(high, abs=5e-5)


def test_wilson_against_scipy_and_without_cases() -> None:
    for hits, n in ((3, 7), (50, 100), (299, 300)):
        theirs = binomtest(hits, n).proportion_ci(method="wilson")
        assert metrics.wilson(hits, n) == pytest.approx((theirs.low, theirs.high), abs=1e-12)
    assert metrics.wilson(0, 0) == (0.0, 1.0)


def test_mcnemar_against_scipy() -> None:
    # The exact test of McNemar is the binomial test of the discordant pairs at one half.
    for one, other in ((32, 8), (36, 6), (11, 5), (0, 0), (11, 11), (84, 8)):
        theirs = binomtest(one, one + other, 0.5).pvalue if one + other else 1.0
        assert metrics.mcnemar(one, other) == pytest.approx(theirs, rel=1e-9)


def test_paired_counts_only_cases_both_sat() -> None:
    rows = [row("a"), row("a", "habit", right=False), row("b", right=False), row("b", "habit"), row("c")]
    test = metrics.against(rows, "engine", "habit")
    assert (test["n"], test["only engine"], test["only habit"], test["p"]) == (2, 1, 1, 1.0)


def test_minutes_gained_by_hand() -> None:
    rows = []
    for key, habit, engine, floor in (("a", 60.0, 30.0, 10.0), ("b", 100.0, 80.0, 20.0), ("c", 20.0, 30.0, 10.0)):
        rows += [row(key, "habit", minutes=habit), row(key, minutes=engine), row(key, "F", minutes=floor)]
    gained = metrics.minutes_gained(rows)
    assert gained["mean"] == pytest.approx((60.0 - 140.0 / 3) / (60.0 - 40.0 / 3))
    assert gained["median"] == pytest.approx((60.0 - 30.0) / (60.0 - 10.0))
    low, high = gained["mean interval"]
    assert low < gained["mean"] < high


def test_calibration_by_hand() -> None:
    pairs = [(0.96, True)] * 9 + [(0.96, False)] + [(0.5, True), (0.5, False)]
    found = metrics.calibration(pairs)
    assert [b["n"] for b in found["bins"]] == [2, 10]
    assert found["bins"][1]["right"] == pytest.approx(0.9)
    assert found["weighted error"] == pytest.approx((10 * 0.06 + 2 * 0.0) / 12)
    assert (found["bins"][1]["low"], found["bins"][1]["high"]) == metrics.wilson(9, 10)


def test_risk_and_coverage_by_hand() -> None:
    found = metrics.risk_coverage([(0.9, True), (0.8, False), (0.7, True), (0.6, True)])
    assert found["risk at coverage"] == {"0.25": 0.0, "0.5": 0.5, "0.75": pytest.approx(1 / 3), "0.9": 0.25, "1": 0.25}
    assert found["area"] == pytest.approx((0 + 0.5 + 1 / 3 + 0.25) / 4)


def test_claims_and_yield_by_hand() -> None:
    rows = [
        row("a", level="proven", likely=1, proven=1),
        row("b", level="proven", likely=2, proven=1, likely_false=1, proven_false=1, contains=False, right=False),
        row("c", level="likely", likely=1),
        row("d", decidable=False, right=False, contains=False, abstains=True),
        row("e", decidable=False, right=False, contains=False),
        row("f", culprits=[], decidable=False, accuses=True),
        row("g", culprits=["A", "B"], all_found=False, right=False, contains=False),
    ]
    found = metrics.of_policy(rows)
    assert (found["false likely"]["hits"], found["false likely"]["n"]) == (1, 4)
    assert (found["false proven"]["hits"], found["false proven"]["n"]) == (1, 2)
    assert (found["decidable reaching likely"]["hits"], found["decidable reaching likely"]["n"]) == (2, 4)
    assert (found["decidable reaching proven"]["hits"], found["decidable reaching proven"]["n"]) == (1, 4)
    assert (found["undecidable ending so"]["hits"], found["undecidable ending so"]["n"]) == (1, 2)
    assert (found["all faults of several found"]["hits"], found["all faults of several found"]["n"]) == (0, 1)
    assert (found["healthy accused"]["hits"], found["healthy accused"]["n"]) == (1, 1)


def test_summary_keeps_broken_questions_in_sight() -> None:
    rows = [row("a"), {"key": "b", "family": "fake", "policy": "", "broken": "why"}]
    found = metrics.summary(rows)
    assert found["cases"] == 1
    assert found["broken questions"] == [{"key": "b", "why": "why"}]
    assert found["by fault"]["short"]["engine"]["right"]["n"] == 1
    assert math.isclose(found["policies"]["engine"]["minutes"]["mean"], 30.0)


def test_the_error_of_a_calibration_has_an_interval_around_it() -> None:
    pairs = [(0.9, k % 4 != 0) for k in range(400)] + [(0.5, k % 2 == 0) for k in range(400)]
    found = metrics.calibration(pairs)
    # Half of the cases are off by 0.15, the other half not at all; bins hold what lies from their edge upward.
    assert found["weighted error"] == pytest.approx(0.075)
    assert found["low"] < 0.075 < found["high"]
    assert found["high"] - found["low"] < 0.06
