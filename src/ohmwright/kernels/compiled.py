"""Everything that is compiled, in one place; importing it takes time, so only `loading` does."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ohmwright.kernels.leaning import told
from ohmwright.kernels.moving import asked, moved
from ohmwright.kernels.network import settle, through
from ohmwright.kernels.shelving import shelved
from ohmwright.kernels.weighing import numbers

__all__ = ["asked", "moved", "numbers", "settle", "shelved", "through", "told", "tried"]


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
    single, first = np.ones((1, 1), dtype=np.float32), np.array([0])
    less = told(single[None], 2.0 * lean, first, single, first, 0.0)
    never, no = np.full((1, 1), -np.inf), np.zeros((1, 1), dtype=bool)
    odds = (np.array([-9.0]), no, np.array([-9.0]), never, no[0])
    weight = numbers(4.0 * lean, 0.0 * one, odds, (np.array([-1]), 3.0, 8), (np.zeros((0, 0)), no))[0]
    shown = _moved(odds)
    drop = 0.05 * np.log1p(1e-3 / 1e-12)
    if not (np.allclose(volts, [[1.0 + drop, drop, 0.0]], atol=1e-6) and np.allclose(less, 1.0)
            and np.allclose(weight, -0.5 * np.log(4.0 * np.pi), atol=1e-3)
            and np.allclose(shown, np.log(1001.0 + np.array([0.05, 0.05, 0.05])), atol=1e-3)):
        raise ArithmeticError("the compiled code answers wrongly on this machine")


def _moved(odds: Any) -> NDArray[np.float64]:
    """One reading of a kilohm to ground, with an ohm of lead, asked alone and with its class."""
    none, zeros = np.zeros(0, dtype=np.intp), np.zeros(0)
    order = (np.array([0]), np.array([0, 0]), none, none, np.array([0, 0]), np.zeros((0, 3), dtype=np.intp))
    end, ground = np.array([0]), np.array([-1])
    place, spread = np.arange(4), np.array([0.1, 0.1, 0.1, 0.4])
    flat = (
        *order, np.array([-1]), end, ground, none, none, none, zeros, zeros, end, none, none, np.array([0]), place,
        spread,
    )  # fmt: skip
    cuts = np.array([[0] * len(flat), [len(field) for field in flat]])
    board = (flat, cuts, (1, 0, 1, 0, np.array([1])), np.array([0.1, 0.0, 0.0, 0.0]))
    figures = np.array([[1.0, 1.0, 1e-3, 3000.0, 1.0, 0.05, np.inf, 0.0]])
    lines = (
        end, np.array([[1e-3]]), np.zeros((1, 0)), np.array([0, 0]), none, np.array([1.0]),
        np.array([[0, -1, 0, -1]]), np.array([[1e-3, 3.0, 3000.0]]), end, figures,
    )  # fmt: skip
    table = (np.zeros((1, 1, 5), dtype=np.intp), np.ones(1), np.ones(1), np.zeros((0, 2), dtype=np.intp), 6e-4)
    nothing, at, limits = np.full((1, 3), -1), np.zeros((1, 7)), (1e-12, 3e-6, 120)
    y, lean, _ = asked(board, lines, table, (end, nothing, nothing), at, np.zeros((1, 2)), limits)
    kept = shelved(board, lines, table, (end, nothing), np.zeros((1, 2)), limits)[0]
    one = np.ones(1)
    stack = (y.copy(), np.array([False]), 9.0 * one, 0.1 * one, 9.0 * one, end)
    rules = (odds, (np.array([-1]), 3.0, 8))
    own = (nothing[None], nothing, np.ones((1, 7)), np.zeros((1, 1)), at, at.copy(), np.ones((1, 7)))
    flags = np.ones((1, 1), dtype=bool)
    there = (flags, flags.copy(), np.zeros((1, 1, 2)), flags.copy(), np.ones((1, 1, 1)))
    points = (y[None] - 1.0, lean[None], np.zeros((1, 1, 7)), *there)
    moved(board, lines, table, stack, (rules, 2.0, 0), own, points, (0.02, 4.0, 1.5, 0.1, 1.0, 3), limits)
    return np.array([y[0], points[0][0, 0], kept[0]])
