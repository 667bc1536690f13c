"""Proportions, means and curves, each with its interval."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

Row = Mapping[str, Any]
Z95 = 1.959963984540054
EDGES = (0.0, 0.3, 0.6, 0.8, 0.9, 0.95, 0.98, 0.995, 1.0000001)
DRAWS, ERROR_DRAWS = 2000, 500
AT_ONCE = 2_000_000
"""Random numbers held at a time. [1]"""


def wilson(hits: int, n: int, z: float = Z95) -> tuple[float, float]:
    """Score interval of a proportion [1]_; (0, 1) without any case.

    References
    ----------
    .. [1] E. B. Wilson, "Probable inference, the law of succession, and statistical inference," J. Amer.
       Statist. Assoc., vol. 22, pp. 209-212, 1927.
    """
    if n == 0:
        return 0.0, 1.0
    p = hits / n
    middle = p + z * z / (2 * n)
    half = z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    scale = 1 + z * z / n
    return max((middle - half) / scale, 0.0), min((middle + half) / scale, 1.0)


def share(rows: Iterable[Row], hit: Callable[[Row], Any]) -> dict[str, Any]:
    """How many of some rows, with the Wilson interval."""
    kept = list(rows)
    hits = sum(bool(hit(row)) for row in kept)
    low, high = wilson(hits, len(kept))
    value = hits / len(kept) if kept else None
    return {"hits": hits, "n": len(kept), "share": value, "low": low, "high": high}


def mcnemar(only_one: int, only_other: int) -> float:
    """Two-sided exact test that two policies are right equally often, from the cases where they differ. [1]"""
    n = only_one + only_other
    if n == 0:
        return 1.0
    tail = float(sum(math.comb(n, k) for k in range(min(only_one, only_other) + 1)) / 2**n)
    return min(1.0, 2.0 * tail)


def counted(hits: int, n: int) -> dict[str, Any]:
    """A share from its counts, with the Wilson interval."""
    low, high = wilson(hits, n)
    return {"hits": hits, "n": n, "share": hits / n if n else None, "low": low, "high": high}


def mean_interval(values: Sequence[float], seed: int = 1) -> dict[str, Any]:
    """Mean and median with a bootstrap interval of the mean."""
    if not values:
        return {"n": 0, "mean": None, "median": None}
    data, random = np.asarray(values, dtype=float), np.random.default_rng(seed)
    step = max(AT_ONCE // len(data), 1)
    drawn = np.concatenate([
        data[random.integers(len(data), size=(min(step, DRAWS - k), len(data)))].mean(axis=1)
        for k in range(0, DRAWS, step)
    ])  # fmt: skip
    low, high = np.quantile(drawn, (0.025, 0.975))
    middle = {"mean": float(data.mean()), "median": float(np.median(data))}
    return {"n": len(data), **middle, "low": float(low), "high": float(high)}


def calibration(pairs: Sequence[tuple[float, bool]], seed: int = 1) -> dict[str, Any]:
    """Stated probability against frequency, one statement per case.

    Returns
    -------
    dict
        The bins with Wilson intervals, and the error weighted by how many fell into each, with a bootstrap
        interval over the cases. With few cases chance alone makes that error large. [1]
    """
    bins = [b for low, high in pairwise(EDGES) if (b := bin_of(pairs, low, high)) is not None]
    found: dict[str, Any] = {"n": len(pairs), "weighted error": weighted_error(pairs), "bins": bins}
    if pairs:
        found["low"], found["high"] = _error_interval(pairs, seed)
    return found


def _error_interval(pairs: Sequence[tuple[float, bool]], seed: int) -> tuple[float, float]:
    """Bootstrap interval of the weighted error: per bin the sum of what was stated less what was right."""
    n = len(pairs)
    inside = np.digitize([p for p, _ in pairs], EDGES[1:-1])
    off = np.zeros((n, len(EDGES) - 1))
    off[np.arange(n), inside] = [p - right for p, right in pairs]
    times = np.random.default_rng(seed).multinomial(n, np.full(n, 1.0 / n), size=ERROR_DRAWS)
    low, high = np.quantile(np.abs(times @ off).sum(axis=1) / n, (0.025, 0.975))
    return float(low), float(high)


def risk_coverage(pairs: Sequence[tuple[float, bool]]) -> dict[str, Any]:
    """Share of wrong answers among the surest so many, and the area under that curve. [1]"""
    ranked = sorted(pairs, key=lambda pair: -pair[0])
    wrong, curve = 0, []
    for k, (_, right) in enumerate(ranked, 1):
        wrong += not right
        curve.append(wrong / k)
    marks = {}
    for coverage in (0.25, 0.5, 0.75, 0.9, 1.0):
        if curve:
            marks[f"{coverage:g}"] = curve[max(math.ceil(coverage * len(curve)) - 1, 0)]
    return {"n": len(curve), "area": sum(curve) / len(curve) if curve else None, "risk at coverage": marks}


def ratio_interval(over: Sequence[float], under: Sequence[float], seed: int = 1) -> dict[str, Any]:
    """Mean of one over mean of the other, case by case alike, with a bootstrap interval over the cases. [1]"""
    table = np.array([over, under], dtype=float)
    n = table.shape[1]
    if n == 0 or table[1].sum() == 0.0:
        return {"n": n, "mean": None, "low": None, "high": None}
    random = np.random.default_rng(seed)
    drawn = [table[:, random.integers(n, size=n)].mean(axis=1) for _ in range(DRAWS)]
    ratios = [a / b for a, b in drawn if b > 0.0]
    low, high = np.quantile(ratios, (0.025, 0.975))
    return {"n": n, "mean": float(table[0].mean() / table[1].mean()), "low": float(low), "high": float(high)}


def bin_of(pairs: Sequence[tuple[float, bool]], low: float, high: float) -> dict[str, Any] | None:
    """One bin of a calibration; None where nothing fell into it."""
    inside = [(p, right) for p, right in pairs if low <= p < high]
    if not inside:
        return None
    found = counted(sum(right for _, right in inside), len(inside))
    stated = sum(p for p, _ in inside) / len(inside)
    return {"from": low, "to": min(high, 1.0), "n": found["n"], "stated": stated, "right": found["share"],
            "low": found["low"], "high": found["high"]}  # fmt: skip


def weighted_error(pairs: Sequence[tuple[float, bool]]) -> float | None:
    """Distance of stated from true, weighted by how many fell into each bin; None without any. [1]"""
    bins = [b for low, high in pairwise(EDGES) if (b := bin_of(pairs, low, high)) is not None]
    if not bins:
        return None
    return float(sum(abs(b["stated"] - b["right"]) * b["n"] for b in bins) / len(pairs))
