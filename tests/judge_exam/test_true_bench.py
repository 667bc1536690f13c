"""The planted policies on the true bench: boards of the generator, truth from ngspice."""

from __future__ import annotations

from typing import Any

import pytest
from judge.costs import costs

from judge import exam, metrics

SITTERS = ("habit", "habit-copy", "F", "abstain", "always-claim", "ungated")


@pytest.fixture(scope="module")
def rows() -> list[dict[str, Any]]:
    asked = exam.questions(("sensor-node", "tablet"), 3, "planted", SITTERS, 60.0, nets=(15, 40), fault="hard short")
    return [row for answered in exam.run(asked) for row in answered]


def test_every_question_was_asked_of_everybody(rows: list[dict[str, Any]]) -> None:
    assert [row for row in rows if "broken" in row or row["cut"] == "crash"] == []
    assert len(rows) == 6 * len(SITTERS)


def test_the_floor_is_right_and_below_everybody(rows: list[dict[str, Any]]) -> None:
    floor = [row for row in rows if row["policy"] == "F"]
    assert all(row["right"] and row["violations"] == 0 and row["proven_false"] == 0 for row in floor)
    for one, other in metrics.paired(rows, "F", "habit"):
        assert one["minutes"] < other["minutes"]


def test_planted_policies_score_as_what_they_are(rows: list[dict[str, Any]]) -> None:
    figures = metrics.summary(rows)["policies"]
    assert figures["ungated"]["violations"] > 0
    assert figures["abstain"]["right"]["hits"] == 0
    assert figures["abstain"]["minutes"]["mean"] == costs().cap
    assert figures["always-claim"]["false proven"]["hits"] >= 3
    for one, other in metrics.paired(rows, "habit", "habit-copy"):
        assert (one["right"], one["minutes"], one["readings"]) == (other["right"], other["minutes"], other["readings"])


def test_the_same_question_comes_out_the_same_twice() -> None:
    question = exam.questions(("tablet",), 1, "twice", ("habit",), 60.0, nets=(15, 40))[0]
    first, second = exam.sat(question), exam.sat(question)
    for row in (*first, *second):
        row.pop("seconds")
    assert first == second
