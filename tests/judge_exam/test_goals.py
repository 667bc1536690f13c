"""Each goal is judged by its number of cases, its interval and its value, and can come out each way."""

from __future__ import annotations

from typing import Any

import pytest
from judge.intervals import counted
from tests.judge_exam.test_metrics import row

from judge import goals, metrics


def full(key: str, policy: str = "engine", kind: str = "short", hiding: str = "0", **more: Any) -> dict[str, Any]:
    tags = {"fault": "hard short", "hiding": hiding}
    return row(key, policy, **{"faults": [f"C1 {kind} 1-2 0.1"], "nets": 200, "tags": tags, **more})


def state(rows: list[dict[str, Any]], what: str, optimum: dict[str, Any] | None = None) -> str:
    found = [held for held in goals.judged(rows, optimum) if held.what.startswith(what)]
    assert found, what
    return found[0].state


def test_enough_cases_decide_by_value_and_few_only_by_interval() -> None:
    for hits, n, expected in ((300, 300, goals.REACHED), (270, 300, goals.MISSED), (20, 20, goals.FEW),
                              (10, 20, goals.MISSED), (0, 9, goals.FEW), (0, 0, goals.FEW)):  # fmt: skip
        assert goals.at_least("x", counted(hits, n), 0.98).state == expected, (hits, n)
    for hits, n, expected in ((5, 300, goals.REACHED), (12, 300, goals.MISSED), (1, 20, goals.FEW),
                              (10, 20, goals.MISSED)):  # fmt: skip
        assert goals.below("x", counted(hits, n), 0.03).state == expected, (hits, n)


def test_shorts_count_only_where_nothing_is_hidden_and_one_thing_is_wrong() -> None:
    bad = [full(f"hidden {k}", hiding="0.4", right=False) for k in range(50)]
    two = [full(f"two {k}", right=False, faults=["C1 short 1-2 1", "C2 short 1-2 1"]) for k in range(50)]
    rows = [full(str(k)) for k in range(300)] + bad + two
    assert state(rows, "right at stop, shorts") == goals.REACHED
    assert state(rows, "right at stop, leaks") == goals.FEW
    assert state(rows, "right at stop, all kinds, 40 %") == goals.MISSED


def test_proven_claims_need_a_thousand_or_a_low_bound() -> None:
    few = [full(str(k), proven=1) for k in range(300)]
    many = [full(str(k), proven=1) for k in range(1000)]
    assert state(few, "false proven") == goals.FEW
    assert state(many, "false proven") == goals.REACHED
    assert state([*many[:-1], full("bad", proven=1, proven_false=1)], "false proven") == goals.MISSED


def test_above_habit_needs_a_difference_in_the_right_direction() -> None:
    def against(engine: int, habit: int) -> list[dict[str, Any]]:
        rows = []
        for k in range(engine + habit):
            rows += [full(str(k), hiding="0.12", right=k < engine),
                     full(str(k), "habit", hiding="0.12", right=k >= engine)]  # fmt: skip
        return rows

    assert state(against(30, 2), "above habit, 12 %") == goals.REACHED
    assert state(against(3, 2), "above habit, 12 %") == goals.FEW
    assert state(against(2, 30), "above habit, 12 %") == goals.MISSED


def test_calibration_bins_are_held_to_their_points() -> None:
    rows = [full(str(k), p=0.97, contains=k >= 12) for k in range(400)]
    assert state(rows, "calibration, stated 0.95") == goals.REACHED
    assert state(rows, "calibration, weighted") == goals.REACHED
    worse = [full(str(k), p=0.97, contains=k >= 40) for k in range(400)]
    assert state(worse, "calibration, stated 0.95") == state(worse, "calibration, weighted") == goals.MISSED


def test_minutes_steps_optimum_and_safety() -> None:
    rows = []
    for k in range(300):
        rows += [full(str(k), minutes=30.0, needless=0, steps=[[0.01, 9, 0]]),
                 full(str(k), "habit", minutes=60.0, needless=1), full(str(k), "F", minutes=15.0)]  # fmt: skip
    assert state(rows, "(habit - engine) / (habit - F), mean") == goals.REACHED
    assert state(rows, "needless") == goals.REACHED
    assert state(rows, "warm whole step, p95, 8") == goals.REACHED
    assert state([{**r, "steps": [[0.5, 9, 0]]} for r in rows], "warm whole step, p95, 8") == goals.MISSED
    assert state(rows, "cold first advice") == goals.ELSEWHERE
    assert state(rows, "safety") == goals.REACHED
    assert state([*rows, full("x", violations=1)], "safety") == goals.MISSED
    for mean, n, expected in ((0.1, 200, goals.REACHED), (0.2, 200, goals.MISSED), (0.1, 20, goals.FEW)):
        assert state(rows, "distance", {"mean": mean, "90th percentile": 0.3, "instances": n}) == expected


def test_the_table_tells_every_goal() -> None:
    text = "\n".join(goals.table(goals.judged([full("a")])))
    for words in ("shorts", "40 % hidden", "proven", "calibration", "healthy board", "same rail", "needless", "optimum",
                  "safety violations", goals.ELSEWHERE):  # fmt: skip
        assert words in text


def test_simulator_is_summed_and_its_limit_flagged() -> None:
    def told(points: int, left: int) -> dict[str, Any]:
        return {"points": points, "retried": {"gmin stepping": 2}, "third solver": left, "lost": 0,
                "left over": ["9 nodes"] * left}  # fmt: skip

    fine = metrics.simulated([row("a", simulator=told(5000, 0)), row("b", simulator=told(5000, 10))])
    assert (fine["points"], fine["retried"], fine["third solver"]) == (10000, {"gmin stepping": 4}, 10)
    assert fine["within limit"]
    assert fine["left over"][0] == "b: 9 nodes"
    assert not metrics.simulated([row("a", simulator=told(5000, 6))])["within limit"]
    assert metrics.simulated([row("a")])["points"] == 0


def test_ratio_by_hand() -> None:
    rows = [row("a", needless=1), row("a", "habit", needless=2), row("b", needless=0), row("b", "habit", needless=2)]
    assert metrics.needless_ratio(rows)["mean"] == pytest.approx(0.25)
