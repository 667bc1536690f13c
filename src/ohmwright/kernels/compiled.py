"""Everything that is compiled, in one place; importing it takes time, so only `loading` does."""

from __future__ import annotations

import numpy as np

from ohmwright.kernels.leaning import bent, told
from ohmwright.kernels.network import settle, through
from ohmwright.kernels.weighing import numbers

__all__ = ["bent", "numbers", "settle", "through", "told", "tried"]


def tried() -> None:
    """Compile everything for what it will be asked, and check answers that are known.

    The circuit is two nodes, a resistance between them and a junction to ground.
    """
    order = (
        np.array([0, 1]), np.array([0, 1, 1]), np.array([0]), np.array([1]), np.array([0, 0, 0]),
        np.zeros((0, 3), dtype=np.intp),
    )  # fmt: skip
    end, nowhere, none = np.array([1]), np.array([-1]), np.zeros(0, dtype=np.intp)
    network = (order, np.array([0]), np.array([-1 - 1]), end, nowhere, np.array([0.05]))
    drive = (np.array([0]), nowhere, np.array([1e-3]), np.array([3.0]), np.array([100.0]))
    strength = (np.array([[1e-3]]), np.array([[1e-12]]), none, none, np.zeros(0))
    volts = np.zeros((1, 3))
    settle(network, np.array([0.6]), drive, strength, volts, 1, (1e-12, 3e-6, 120))
    through(network, (np.array([0]), nowhere), strength, volts, 1, 1e-12)
    one, lean = np.ones((1, 1)), np.full((1, 1, 1), 0.5)
    bends = bent(lean, 0.0 * lean, 2.0 * one, one, 0.02)
    single, first = np.ones((1, 1), dtype=np.float32), np.array([0])
    less = told(single[None], 2.0 * lean, first, single, first, 0.0)
    never, no = np.full((1, 1), -np.inf), np.zeros((1, 1), dtype=bool)
    odds = (np.array([-9.0]), no, np.array([-9.0]), never, no[0])
    weight = numbers(4.0 * lean, 0.0 * one, odds, np.array([-1]), 3.0, 8)[0]
    drop = 0.05 * np.log1p(1e-3 / 1e-12)
    if not (np.allclose(volts, [[1.0 + drop, drop, 0.0]], atol=1e-6) and bends.all() and np.allclose(less, 1.0)
            and np.allclose(weight, -0.5 * np.log(4.0 * np.pi), atol=1e-3)):
        raise ArithmeticError("the compiled code answers wrongly on this machine")
