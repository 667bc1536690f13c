"""Figures over many answered cases, each defined once and with its interval."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

Row = Mapping[str, Any]
Z95 = 1.959963984540054
EDGES = (0.0, 0.3, 0.6, 0.8, 0.9, 0.95, 0.98, 0.995, 1.0000001)
DRAWS = 2000


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


def paired(rows: Sequence[Row], one: str, other: str) -> list[tuple[Row, Row]]:
    """The rows of two policies, case by case."""
    of = {(row["policy"], row["key"]): row for row in rows}
    keys = sorted({row["key"] for row in rows})
    return [(of[one, k], of[other, k]) for k in keys if (one, k) in of and (other, k) in of]


def against(rows: Sequence[Row], one: str, other: str) -> dict[str, Any]:
    """McNemar's test of being right at stop."""
    both = paired(rows, one, other)
    first = sum(a["right"] and not b["right"] for a, b in both)
    second = sum(b["right"] and not a["right"] for a, b in both)
    return {"n": len(both), f"only {one}": first, f"only {other}": second, "p": mcnemar(first, second)}


def minutes_gained(rows: Sequence[Row], seed: int = 1) -> dict[str, Any]:
    """(habit - engine) / (habit - F), of mean and of median minutes, with bootstrap intervals over cases. [1]"""
    of = {(row["policy"], row["key"]): row["minutes"] for row in rows}
    keys = [k for k in sorted({row["key"] for row in rows}) if all((p, k) in of for p in ("engine", "habit", "F"))]
    table = np.array([[of[p, k] for p in ("habit", "engine", "F")] for k in keys], dtype=float)
    found: dict[str, Any] = {"n": len(keys)}
    if not keys:
        return found
    random = np.random.default_rng(seed)
    for name, middle in (("mean", np.mean), ("median", np.median)):
        found[name] = _ratio(np.asarray(middle(table, axis=0)))
        drawn = [
            _ratio(np.asarray(middle(table[random.integers(len(table), size=len(table))], axis=0)))
            for _ in range(DRAWS)
        ]
        kept = [x for x in drawn if x is not None]
        found[f"{name} interval"] = [float(q) for q in np.quantile(kept, (0.025, 0.975))] if kept else None
    return found


def _ratio(minutes: np.ndarray[Any, Any]) -> float | None:
    habit, engine, floor = minutes.tolist()
    return (habit - engine) / (habit - floor) if habit > floor else None


def mean_interval(values: Sequence[float], seed: int = 1) -> dict[str, Any]:
    """Mean and median with a bootstrap interval of the mean."""
    if not values:
        return {"n": 0, "mean": None, "median": None}
    data, random = np.asarray(values, dtype=float), np.random.default_rng(seed)
    drawn = data[random.integers(len(data), size=(DRAWS, len(data)))].mean(axis=1)
    low, high = np.quantile(drawn, (0.025, 0.975))
    middle = {"mean": float(data.mean()), "median": float(np.median(data))}
    return {"n": len(data), **middle, "low": float(low), "high": float(high)}


def calibration(pairs: Sequence[tuple[float, bool]]) -> dict[str, Any]:
    """Stated probability against frequency, one statement per case.

    Returns
    -------
    dict
        The bins with Wilson intervals, and the error weighted by how many fell into each. [1]
    """
    bins, error = [], 0.0
    for low, high in pairwise(EDGES):
        inside = [(p, right) for p, right in pairs if low <= p < high]
        if not inside:
            continue
        stated = sum(p for p, _ in inside) / len(inside)
        hits = sum(right for _, right in inside)
        bottom, top = wilson(hits, len(inside))
        error += abs(stated - hits / len(inside)) * len(inside)
        bins.append({"from": low, "to": min(high, 1.0), "n": len(inside), "stated": stated,
                     "right": hits / len(inside), "low": bottom, "high": top})  # fmt: skip
    return {"n": len(pairs), "weighted error": error / len(pairs) if pairs else None, "bins": bins}


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


def of_policy(rows: Sequence[Row]) -> dict[str, Any]:
    """All figures of one policy over some cases."""
    faulty = [row for row in rows if row["culprits"]]
    decidable = [row for row in faulty if row["decidable"]]
    undecidable = [row for row in faulty if not row["decidable"]]
    mapped = [row for row in decidable if not row["hidden_culprits"]]
    pairs = [(row["p"], row["contains"]) for row in rows if not row["cut"] or row["cut"] == "cap"]
    likely, proven = sum(row["likely"] for row in rows), sum(row["proven"] for row in rows)
    false_likely, false_proven = sum(row["likely_false"] for row in rows), sum(row["proven_false"] for row in rows)
    levels = ("likely", "supported", "proven")
    return {
        "right": share(rows, lambda r: r["right"]),
        "contains": share(rows, lambda r: r["contains"]),
        "exact part": share(faulty, lambda r: r["exact"]),
        "group size": mean_interval([row["size"] for row in faulty if row["contains"]]),
        "false likely": _counted(false_likely, likely),
        "false proven": _counted(false_proven, proven),
        "decidable reaching likely": share(decidable, lambda r: r["level"] in levels and r["contains"]),
        "decidable reaching proven": share(mapped, lambda r: r["level"] == "proven" and r["proven_false"] == 0),
        "undecidable ending so": share(undecidable, lambda r: r["abstains"] or r["right"]),
        "all faults of several found": share([r for r in faulty if len(r["culprits"]) > 1], lambda r: r["all_found"]),
        "healthy accused": share([r for r in rows if not r["culprits"]], lambda r: r["accuses"]),
        "calibration": {"stop": calibration(pairs), **_early(rows)},
        "risk": risk_coverage(pairs),
        "minutes": mean_interval([row["minutes"] for row in rows]),
        "solved": share(rows, lambda r: r["solved"]),
        "needless lifted": mean_interval([row["needless"] for row in rows]),
        "readings": mean_interval([row["readings"] for row in rows]),
        "violations": sum(row["violations"] for row in rows),
        "violating cases": [row["key"] for row in rows if row["violations"]],
        "cut": {cut: [r["key"] for r in rows if r["cut"] == cut] for cut in ("cap", "guard", "crash")},
        "seconds": mean_interval([row["seconds"] for row in rows]),
    }  # fmt: skip


def _counted(hits: int, n: int) -> dict[str, Any]:
    low, high = wilson(hits, n)
    return {"hits": hits, "n": n, "share": hits / n if n else None, "low": low, "high": high}


def _early(rows: Sequence[Row]) -> dict[str, Any]:
    found = {}
    for mark in ("5", "10"):
        stated = [(row["at"][mark][0], row["at"][mark][1]) for row in rows if mark in row["at"]]
        found[f"{mark} readings"] = calibration(stated)
    return found


def breakdown(rows: Sequence[Row], by: Callable[[Row], str]) -> dict[str, Any]:
    """Right at stop and minutes of each policy, class of case by class."""
    found: dict[str, dict[str, list[Row]]] = defaultdict(lambda: defaultdict(list))
    for row in rows:
        found[by(row)][row["policy"]].append(row)
    return {
        name: {
            policy: {
                "right": share(own, lambda r: r["right"]),
                "minutes": mean_interval([r["minutes"] for r in own]),
                "false likely": _counted(sum(r["likely_false"] for r in own), sum(r["likely"] for r in own)),
                "false proven": _counted(sum(r["proven_false"] for r in own), sum(r["proven"] for r in own)),
            }
            for policy, own in sorted(policies.items())
        }
        for name, policies in sorted(found.items())
    }


def failed(row: Row) -> bool:
    """Whether a case deserves a look: wrong, falsely claimed, or unsafe."""
    return not row["right"] or bool(row["likely_false"] or row["proven_false"] or row["violations"])


def failure(row: Row) -> dict[str, Any]:
    """What somebody needs to find out why."""
    kept = ("key", "faults", "hidden_culprits", "decidable", "level", "p", "top", "stop", "cut", "error", "worked",
            "readings", "lifted", "likely_false", "proven_false", "violations")  # fmt: skip
    return {
        "fault": row["tags"].get("fault", ""),
        "hiding": row["tags"].get("hiding", ""),
        **{k: row.get(k) for k in kept},
    }


def summary(rows: Sequence[Row]) -> dict[str, Any]:
    """Everything."""
    good = [row for row in rows if "broken" not in row]
    policies = list(dict.fromkeys(row["policy"] for row in good))
    tags = sorted({tag for row in good for tag in row["tags"]})
    found: dict[str, Any] = {
        "cases": len({row["key"] for row in good}),
        "broken questions": [{"key": r["key"], "why": r["broken"]} for r in rows if "broken" in r],
        "policies": {p: of_policy([row for row in good if row["policy"] == p]) for p in policies},
        "by family": breakdown(good, lambda r: str(r["family"])),
        "minutes gained": minutes_gained(good),
    }
    found["engine failures"] = [failure(row) for row in good if row["policy"] == "engine" and failed(row)]
    for tag in tags:
        found[f"by {tag}"] = breakdown([r for r in good if tag in r["tags"]], lambda r, tag=tag: str(r["tags"][tag]))  # type: ignore[misc]  # a lambda with a bound default
    for other in ("habit", "random"):
        if {"engine", other} <= set(policies):
            found[f"engine against {other}"] = against(good, "engine", other)
    return found
