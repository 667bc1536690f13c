"""Parts with more than one junction in a body, as the examination draws them."""

from __future__ import annotations

import numpy as np
from judge.laws import LAWS, Hint

from ohmwright.circuit import Pin

HINT = Hint({}, frozenset(), 1e3)


def test_a_transistor_conducts_from_its_base_to_both_other_legs() -> None:
    """Both junctions of a sound NPN read alike (common practice, no source)."""
    pins = {
        "anode": [Pin("1", "B", "anode")],
        "cathode": [Pin("2", "E", "cathode"), Pin("3", "C", "cathode")],
    }
    for seed in range(20):
        inside = LAWS["diode"](np.random.default_rng(seed), pins, HINT)
        drops = {(part.a, part.b): part.size for part in inside if part.kind == "D"}
        assert set(drops) == {("1", "2"), ("1", "3")}
        assert abs(drops["1", "2"] - drops["1", "3"]) < 0.03


def test_one_junction_is_drawn_as_before_the_second() -> None:
    """That a body has a second junction changes nothing about its first."""
    one = {"anode": [Pin("1", "A", "anode")], "cathode": [Pin("2", "K", "cathode")]}
    two = one | {"anode": [*one["anode"], Pin("3", "A", "anode")]}
    for seed in range(5):
        single = LAWS["schottky"](np.random.default_rng(seed), one, HINT)
        double = LAWS["schottky"](np.random.default_rng(seed), two, HINT)
        assert double[: len(single)] == single
        assert {(part.a, part.b) for part in double} == {("1", "2"), ("3", "2")}
