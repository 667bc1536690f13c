"""What hangs on a net without being a fault costs power: nobody builds what would waste watts."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import Board
from ohmwright.operation import Wiring, volts_at_least

Array = NDArray[np.float64]
LEAST_VOLTS = 3.0
"""Volts of a net below which its loads may be a core's, which take any current. [V]"""
ENTRY_VOLTS = 5.0
"""Least volts that come in where nobody has told how many. [V] USB, barrel jacks bring more;
common practice, no source"""
WATTS = 1.0
"""What all that nobody has drawn, or told the value of, on one net takes at most while the net is up. [W] common
practice, no source"""
STEEP = 5.0
"""How fast more than that becomes unlikely: for each factor of e. [nat] estimate"""


def least_shifts(wiring: Wiring, elements: tuple[int, ...], rails: tuple[tuple[str, float], ...]) -> Array:
    """How far down the resistances of backgrounds and of loads nobody has told may go.

    Parameters
    ----------
    elements : tuple of int
        The uncertain elements, in the order of the unknowns.
    rails : tuple of (str, float)
        Net of each load that several chips share, and the conductance of all of it at the median. [S]

    Returns
    -------
    ndarray, shape (n_elements + n_rails,)
        Natural logarithm of the least resistance over the median; -inf where anything may be.
    """
    uncertain = [wiring.elements[e] for e in elements]
    places = [(x.a, x.median) if x.label.startswith("background ") else None for x in uncertain]
    places += [(net, 1.0 / conductance) for net, conductance in rails]
    out = np.full(len(places), -np.inf)
    for k, place in enumerate(places):
        volts = None if place is None else _volts(wiring.board, place[0])
        if place is not None and volts is not None:
            out[k] = math.log(volts * volts / WATTS / place[1])
    return out


def _volts(board: Board, net: str) -> float | None:
    """Volts that a net has at least while it is up; None where its loads may be a core's. [V]"""
    told = board.net(net).nominal
    if told is not None:
        return told if told >= LEAST_VOLTS else None
    return ENTRY_VOLTS if net in board.entries else volts_at_least(board, net)


def against(shift: Array, spread: Array, least: Array) -> Array:
    """How unlikely the posterior means of classes are for what they would waste, shape (n_classes,). [nat]

    Parameters
    ----------
    shift : ndarray, shape (n_classes, n_unknowns)
        In units of the spread.
    spread : ndarray, shape (n_unknowns,)
    least : ndarray, shape (n_unknowns,)
        From `least_shifts`.
    """
    return np.asarray(STEEP * np.maximum(least - shift * spread, 0.0).sum(axis=1))
