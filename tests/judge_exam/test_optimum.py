from __future__ import annotations

import importlib

import numpy as np
import pytest
from judge.world import random_of

from judge import optimum
from ohmwright.planning import Offer, in_order


def test_dynamic_programming_against_brute_force() -> None:
    for k, size in enumerate(((4, 2, 2), (3, 3, 2), (3, 2, 3), (4, 2, 2), (3, 3, 2), (5, 1, 3))):
        instance = optimum.drawn(random_of("tiny", k), size)
        assert optimum.optimum(instance) == pytest.approx(optimum.brute_force(instance), rel=1e-9)


def test_dynamic_programming_by_hand() -> None:
    # Two suspects, even odds, 10 min each: without a test 15 min; a sharp test of 1 min makes it 11.
    even, fix = np.array([0.5, 0.5]), np.array([10.0, 10.0])
    sharp = np.array([[1.0, 0.0], [0.0, 1.0]])
    assert optimum.optimum(optimum.Instance(even, (sharp,), np.array([1.0]), fix)) == pytest.approx(11.0)
    assert optimum.optimum(optimum.Instance(even, (sharp,), np.array([6.0]), fix)) == pytest.approx(15.0)


def test_it_may_read_on_between_two_removals() -> None:
    # A likely suspect that comes off in a minute; only if that was not it does the test pay that halves the rest.
    prior, fix = np.array([0.8, 0.05, 0.05, 0.05, 0.05]), np.array([1.0, 10.0, 10.0, 10.0, 10.0])
    table = np.array([[0.5, 0.5], [1.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.0, 1.0]])
    one = optimum.Instance(prior, (table,), np.array([2.0]), fix)
    # Off 1 min; in one case of five the test, 2 min, and then two suspects of 10 min each, 15 on average.
    assert optimum.optimum(one) == pytest.approx(1.0 + 0.2 * (2.0 + 15.0))
    assert optimum.chooser_minutes(one) == pytest.approx(optimum.optimum(one))


def test_the_chooser_is_the_one_that_ships() -> None:
    offers = [
        Offer(0.5, 0.5, 0.25), Offer(0.5, 0.5, 0.125), Offer(0.0, -9.0, 10.0, 0.6), Offer(0.001, -1.0, 2.0),
    ]  # fmt: skip
    # By what is told for the time; due work by the odds that it is needed; what tells nothing not at all.
    assert in_order(offers) == [1, 0, 2]
    assert in_order(offers[2:]) == [0]
    assert in_order([*offers[:2], Offer(0.0, -9.0, 10.0, 0.78)]) == [1, 2, 0]
    assert in_order([*offers[:2], Offer(0.0, -9.0, 10.0, 0.9)]) == [2, 1, 0]
    shipped = importlib.import_module("ohmwright.planning.advise")
    assert shipped.in_order is optimum.in_order is in_order


def test_chooser_never_beats_the_optimum_and_is_measured_on_the_same_model() -> None:
    excess = optimum.distances(4, "test", (5, 4, 3))
    assert (excess > -1e-9).all()
    assert excess.max() < 1.0
    flat = np.full((3, 2), 0.5)
    dull = optimum.Instance(np.array([0.5, 0.3, 0.2]), (flat,), np.array([0.1]), np.array([5.0, 5.0, 5.0]))
    assert optimum.chooser_minutes(dull) == pytest.approx(optimum.optimum(dull))
