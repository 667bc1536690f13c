from __future__ import annotations

import numpy as np
import pytest
from judge.world import random_of

from judge import optimum


def test_dynamic_programming_against_brute_force() -> None:
    for k in range(12):
        instance = optimum.drawn(random_of("tiny", k), (4, 3, 2))
        assert optimum.optimum(instance) == pytest.approx(optimum.brute_force(instance), rel=1e-9)


def test_dynamic_programming_by_hand() -> None:
    # Two suspects, even odds, 10 min each: without a test 15 min; a sharp test of 1 min makes it 11.
    even, fix = np.array([0.5, 0.5]), np.array([10.0, 10.0])
    sharp = np.array([[1.0, 0.0], [0.0, 1.0]])
    assert optimum.optimum(optimum.Instance(even, (sharp,), np.array([1.0]), fix)) == pytest.approx(11.0)
    assert optimum.optimum(optimum.Instance(even, (sharp,), np.array([6.0]), fix)) == pytest.approx(15.0)


def test_chooser_never_beats_the_optimum_and_is_measured_on_the_same_model() -> None:
    excess = optimum.distances(5, "test", (6, 5, 3))
    assert (excess > -1e-9).all()
    flat = np.full((3, 2), 0.5)
    dull = optimum.Instance(np.array([0.5, 0.3, 0.2]), (flat,), np.array([0.1]), np.array([5.0, 5.0, 5.0]))
    assert optimum.chooser_minutes(dull) == pytest.approx(optimum.optimum(dull))
