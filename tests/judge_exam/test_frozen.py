"""Costs and habit were frozen before the engine was tuned. Whoever changes them makes old results incomparable."""

from __future__ import annotations

import json

from judge.costs import costs
from judge.report import HERE, habit_sha256


def test_costs_and_habit_are_what_they_were_when_frozen() -> None:
    frozen = json.loads((HERE / "frozen.json").read_text(encoding="utf-8"))
    assert costs().sha256 == frozen["costs sha256"]
    assert habit_sha256() == frozen["habit sha256"]
