"""Everybody who sits the examination: the engine, its honest rivals, and planted cheats that test the judge."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from judge.policies.answer import Answer, Named, Policy, Sitting
from judge.policies.clairvoyant import Clairvoyant
from judge.policies.engine import EnginePolicy
from judge.policies.habit import Habit
from judge.policies.planted import Abstainer, AlwaysClaimer, HabitCopy, Oracle, ReadsLive, Ungated
from judge.policies.random_order import RandomOrder

__all__ = ["HONEST", "PLANTED", "POLICIES", "Answer", "Named", "Policy", "Sitting"]

HONEST: Mapping[str, Callable[[Sitting], Policy]] = {
    "engine": EnginePolicy,
    "habit": Habit,
    "random": RandomOrder,
    "F": Clairvoyant,
}
PLANTED: Mapping[str, Callable[[Sitting], Policy]] = {
    "oracle": Oracle,
    "abstain": Abstainer,
    "always-claim": AlwaysClaimer,
    "habit-copy": HabitCopy,
    "ungated": Ungated,
    "battery-in": ReadsLive,
}
POLICIES: Mapping[str, Callable[[Sitting], Policy]] = {**HONEST, **PLANTED}
