"""How large a millimetre is, by the small parts that were laid already.

Two-terminal parts come in few sizes. Of all scales those are likely under which each part that was laid has one of
them. Sizes lie in nearly even steps, so it takes several parts of several sizes until one scale is left.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ohmwright.geometry import land_pattern

SHARES = {
    "0201": 0.06, "0402": 0.34, "0603": 0.26, "0805": 0.18, "1206": 0.08, "1210": 0.04, "2010": 0.01, "2512": 0.03,
}  # fmt: skip
"""Of the two-terminal parts of a board, how many have that case. [1] a guess: no count was found"""
WRONG = 0.3
"""Of the parts laid, how many lie so badly that their span tells nothing. [1] a guess, wide"""
OFF = 0.07
"""How far a span is off, its logarithm, one standard deviation. [1] land patterns differ by about as much"""
LEAST_GROWN, MOST_GROWN = 0.15, 8.0
"""Scales that are thought of: how many true millimetres a guessed one may be. [1]"""
ELSEWHERE = OFF * math.sqrt(2.0 * math.pi) / math.log(100.0)
"""Density of spans that lie anywhere in a hundredfold range, in the units of `_size_density`. [1]"""
CLOSE = 0.08
"""How far from the likeliest scale one counts as the same, its logarithm. [1]"""
SETTLED = 0.9
"""Belief within that from which the scale is taken as told. [1]"""
GROUPS, APART = 3, 0.25
"""Sizes that must be among the parts before they tell a scale, each of two parts at least, and how far their
logarithms lie apart: 0603 and 0805 are one such group. Two groups fit nearly as well a size up or down. [1]"""
STEP = 0.02
"""Between the logarithms that are looked at. [1]"""

Array = NDArray[np.float64]


def scale_told(laid_mm: Sequence[float]) -> float | None:
    """How many true millimetres one of the chart is, by the parts that were laid; None where they do not settle it.

    Parts of one size alone never do: they may be of any.

    Parameters
    ----------
    laid_mm : sequence of float
        Distances of the pads of the two-terminal parts that were laid, in millimetres of the chart. [mm]
    """
    if _groups(laid_mm) < GROUPS:
        return None
    scales = _scales()
    belief = _scale_belief(laid_mm, scales)
    best = scales[int(belief.argmax())]
    near = np.abs(scales - best) < CLOSE
    if belief[near].sum() < SETTLED:
        return None
    return math.exp(float((belief * scales)[near].sum() / belief[near].sum()))


def _scale_belief(laid_mm: Sequence[float], scales: Array) -> Array:
    """How likely each number of true millimetres to a guessed one is. [1]"""
    told = np.zeros(len(scales))
    for span in laid_mm:
        told += np.log(WRONG * ELSEWHERE + (1.0 - WRONG) * _size_density(math.log(max(span, 1e-9)) + scales))
    chance = np.exp(told - told.max())
    return np.asarray(chance / chance.sum())


def _groups(laid_mm: Sequence[float]) -> int:
    """How many sizes there are, each of two parts at least. [1]"""
    at = np.sort(np.log(np.maximum(laid_mm, 1e-9)))
    parts = np.split(at, np.flatnonzero(np.diff(at) > APART) + 1)
    return sum(len(part) > 1 for part in parts)


def _scales() -> Array:
    return np.asarray(np.arange(math.log(LEAST_GROWN), math.log(MOST_GROWN), STEP))


def _size_density(span: Array) -> Array:
    """How common parts of that span are, its logarithm of true millimetres; at most about 1. [1]"""
    sizes, shares = _sizes()
    return np.asarray((np.sqrt(shares) * np.exp(-0.5 * ((span[..., None] - sizes) / OFF) ** 2)).sum(axis=-1))


@lru_cache
def _sizes() -> tuple[Array, Array]:
    """Logarithms of the spans of the cases, and their shares. [1]"""
    spans = []
    for case in SHARES:
        both = [land_pattern(letter + case, ["1", "2"]).lands for letter in "CR"]
        spans.append(np.mean([math.log(abs(b.x_mm - a.x_mm)) for a, b in both]))
    return np.array(spans), np.array(list(SHARES.values()))
