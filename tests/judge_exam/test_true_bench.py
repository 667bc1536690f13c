"""A slice of the examination: every family, every planted policy, on the true bench with truth from ngspice."""

from __future__ import annotations

from typing import Any

import pytest
from judge.cases import FAMILIES
from judge.costs import costs

from judge import exam, metrics

SITTERS = ("habit", "habit-copy", "F", "oracle", "abstain", "always-claim", "ungated", "battery-in")


@pytest.fixture(scope="module")
def rows() -> list[dict[str, Any]]:
    asked = exam.questions(FAMILIES, 1, "planted", SITTERS, 60.0, nets=(15, 60), fault="hard short")
    return [row for answered in exam.run(asked) for row in answered]


def test_every_question_was_asked_of_everybody(rows: list[dict[str, Any]]) -> None:
    assert [row for row in rows if "broken" in row or row["cut"] == "crash"] == []
    assert len(rows) == len(FAMILIES) * len(SITTERS)
    assert {row["family"] for row in rows} == set(FAMILIES)


def test_the_floor_is_right_and_below_everybody(rows: list[dict[str, Any]]) -> None:
    floor = [row for row in rows if row["policy"] == "F"]
    assert all(row["right"] and row["violations"] == 0 and row["proven_false"] == 0 for row in floor)
    for one, other in metrics.paired(rows, "F", "habit"):
        assert one["minutes"] < other["minutes"]


def test_planted_policies_score_as_what_they_are(rows: list[dict[str, Any]]) -> None:
    figures = metrics.summary(rows)["policies"]
    assert figures["ungated"]["rules violated"]["over rating"] > 0
    assert figures["ungated"]["rules violated"]["battery left in"] > 0
    for careful in ("habit", "F", "oracle", "abstain"):
        assert figures[careful]["violations"] == 0
    assert figures["oracle"]["right"]["share"] == 1.0
    assert figures["oracle"]["minutes"]["mean"] - figures["F"]["minutes"]["mean"] < 2.0
    assert figures["abstain"]["right"]["hits"] == 0
    assert figures["abstain"]["minutes"]["mean"] == costs().cap
    assert figures["always-claim"]["false proven"]["hits"] >= 3
    for one, other in metrics.paired(rows, "habit", "habit-copy"):
        assert (one["right"], one["minutes"], one["readings"]) == (other["right"], other["minutes"], other["readings"])


def test_a_battery_left_in_is_a_violation_where_there_is_one(rows: list[dict[str, Any]]) -> None:
    own = {row["family"]: row["violated"] for row in rows if row["policy"] == "battery-in"}
    for family in ("notebook", "tablet"):
        # Read, fed, lifted.
        assert own[family]["battery left in"] == 3
    assert "battery left in" not in own["server-card"]


def test_the_simulator_is_accounted_for(rows: list[dict[str, Any]]) -> None:
    told = metrics.simulated(rows)
    assert told["points"] > 1000
    assert told["within limit"], told["left over"]
    assert told["lost"] == 0


def test_the_engine_sits_a_question_of_the_slice() -> None:
    question = exam.questions(("sensor-node",), 1, "slice", ("engine",), 3.0, nets=(15, 30))[0]
    (row,) = exam.sat(question)
    assert (row["violations"], row["error"]) == (0, "")
    assert row["cut"] in ("", "guard")
    assert row["first"] > 0.0


def test_the_same_question_comes_out_the_same_twice() -> None:
    question = exam.questions(("tablet",), 1, "twice", ("habit",), 60.0, nets=(15, 40))[0]
    first, second = exam.sat(question), exam.sat(question)
    for row in (*first, *second):
        row.pop("seconds")
    assert first == second
