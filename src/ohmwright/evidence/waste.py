"""What hangs on a net without being a fault costs power: nobody builds what would waste watts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import Board
from ohmwright.operation import REGULATED, Wiring, volts_at_least
from ohmwright.operation.wiring import RailLoad

Array = NDArray[np.float64]
LEAST_VOLTS = 3.0
"""Volts of a net below which its loads may be a core's, which take any current. [V]"""
WATTS = 1.0
"""What all that nobody has drawn, or told the value of, on one net takes at most while the net is up. [W] common
practice, no source"""
MOST = 40.0
"""Farthest any resistance is taken to lie from its median, as a natural logarithm. [1]"""
STEEP = 5.0
"""How fast more than that becomes unlikely: for each factor of e. [nat] estimate"""


@dataclass(frozen=True, slots=True, eq=False)
class Budget:
    """What takes power on one net without being told: its background, and loads of chips whose value nobody knows.

    Parameters
    ----------
    watts : ndarray, shape (n,)
        What each takes at its median while the net is up. [W]
    own, shared : ndarray of int, shape (n,)
        Its own unknown, and the one it shares with the other loads of the rail; -1 for none.
    """

    watts: Array
    own: NDArray[np.intp]
    shared: NDArray[np.intp]


def budgets(wiring: Wiring, elements: tuple[int, ...], rails: tuple[RailLoad, ...]) -> tuple[Budget, ...]:
    """Of each net whose volts tell what it may waste.

    Parameters
    ----------
    elements : tuple of int
        The uncertain elements, in the order of the unknowns.
    rails : tuple of RailLoad
        In the order of the unknowns that follow: what the loads of a rail share.
    """
    unknown = {e: k for k, e in enumerate(elements)}
    takes: dict[str, list[tuple[float, int, int]]] = {}
    for k, e in enumerate(elements):
        if wiring.elements[e].label.startswith("background "):
            takes.setdefault(wiring.elements[e].a, []).append((wiring.elements[e].median, k, -1))
    for r, rail in enumerate(rails):
        loads = [(wiring.elements[e].median, unknown.get(e, -1), len(elements) + r) for e in rail.elements]
        takes.setdefault(rail.net, []).extend(loads)
    out = []
    for net, taken in takes.items():
        volts = _volts(wiring.board, net)
        if volts is not None:
            ohms, own, shared = zip(*taken, strict=True)
            out.append(Budget(volts * volts / np.array(ohms), np.array(own), np.array(shared)))
    return tuple(out)


def least_ohms(board: Board, net: str) -> float:
    """What all that nobody has drawn on a net shows to ground at least, as less would waste too much; else 0. [Ω]"""
    volts = _volts(board, net)
    return 0.0 if volts is None else volts * volts / WATTS


def _volts(board: Board, net: str) -> float | None:
    """Volts that a net has at least while it is up; None where its loads may be a core's. [V]"""
    volts = volts_at_least(board, net)
    least = REGULATED if board.net(net).nominal is None else LEAST_VOLTS
    return volts if volts is not None and volts >= least else None


def against(shift: Array, spread: Array, limits: tuple[Budget, ...]) -> Array:
    """How unlikely the posterior means of classes are for what they would waste, shape (n_classes,). [nat]

    Parameters
    ----------
    shift : ndarray, shape (n_classes, n_unknowns)
        In units of the spread.
    spread : ndarray, shape (n_unknowns,)
        Of the natural logarithm of each resistance. [1]
    limits : tuple of Budget
    """
    lower = np.zeros((len(shift), shift.shape[1] + 1))  # the last for what is not an unknown
    lower[:, :-1] = np.clip(-shift * spread, -MOST, MOST)
    out = np.zeros(len(shift))
    for limit in limits:
        watts = np.exp(lower[:, limit.own] + lower[:, limit.shared]) @ limit.watts
        out += STEEP * np.log(np.maximum(watts / WATTS, 1.0))
    return out
