"""Figures over many answered cases, each defined once and with its interval."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from judge.intervals import (
    DRAWS,
    Row,
    calibration,
    counted,
    mcnemar,
    mean_interval,
    ratio_interval,
    risk_coverage,
    share,
    weighted_error,
    wilson,
)  # fmt: skip

__all__ = [
    "against", "breakdown", "calibration", "mcnemar", "mean_interval", "minutes_gained", "of_policy", "paired",
    "risk_coverage", "share", "summary", "wilson",
]  # fmt: skip

REACHED = ("likely", "supported", "proven")
SEVERAL = {
    "two on one rail": "same rail", "two rails": "different rails", "masked": "one hidden by the other",
    "witness": "a fuse and its short",
}  # fmt: skip
"""Classes of cases with several faults, by their recipe."""
SIZES = ((1, 1, "1"), (2, 2, "2"), (3, 5, "3 to 5"), (6, 10**6, "6 and more"))
MOST_LEFT = 1e-3
"""Share of the operating points that may be left to the third solver. [1]"""
KEPT_LEFT = 50


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
        drawn: list[float | None] = []
        for _ in range(DRAWS // 20):
            chosen = random.integers(len(table), size=(20, len(table)))
            drawn += [_ratio(minutes) for minutes in np.asarray(middle(table[chosen], axis=1))]
        kept = [x for x in drawn if x is not None]
        found[f"{name} interval"] = [float(q) for q in np.quantile(kept, (0.025, 0.975))] if kept else None
    return found


def _ratio(minutes: np.ndarray[Any, Any]) -> float | None:
    habit, engine, floor = minutes.tolist()
    return (habit - engine) / (habit - floor) if habit > floor else None


def of_policy(rows: Sequence[Row]) -> dict[str, Any]:
    """All figures of one policy over some cases."""
    pairs = stated(rows)
    return {
        **_shares(rows),
        "group size": mean_interval([row["size"] for row in rows if row["culprits"] and row["contains"]]),
        "group sizes": _sizes([row["size"] for row in rows if row["culprits"]]),
        "false likely": counted(_sum(rows, "likely_false"), _sum(rows, "likely")),
        "false likely, whole run": counted(_sum(rows, "ever_likely_false"), _sum(rows, "ever_likely")),
        "false proven": counted(_sum(rows, "proven_false"), _sum(rows, "proven")),
        "several found": several_found(rows),
        "calibration": {"stop": calibration(pairs), **_early(rows)},
        "risk": risk_coverage(pairs),
        "minutes": mean_interval([row["minutes"] for row in rows]),
        "needless lifted": mean_interval([row["needless"] for row in rows]),
        "readings": mean_interval([row["readings"] for row in rows]),
        "violations": _sum(rows, "violations"),
        "rules violated": dict(sum((Counter(row.get("violated", {})) for row in rows), Counter())),
        "violating cases": [row["key"] for row in rows if row["violations"]],
        "cut": {cut: [r["key"] for r in rows if r["cut"] == cut] for cut in ("cap", "guard", "crash")},
        "seconds": mean_interval([row["seconds"] for row in rows]),
        "seconds per step": steps([step for row in rows for step in row.get("steps", ())]),
    }


def _shares(rows: Sequence[Row]) -> dict[str, Any]:
    faulty = [row for row in rows if row["culprits"]]
    decidable = [row for row in faulty if row["decidable"]]
    undecidable = [row for row in faulty if not row["decidable"]]
    mapped = [row for row in decidable if not row["hidden_culprits"]]

    def likely(row: Row) -> bool:
        return bool(row["level"] in REACHED and (row["contains"] or row["right"]))

    def proven(row: Row) -> bool:
        return bool(row["level"] == "proven" and row["proven_false"] == 0)

    return {
        "right": share(rows, lambda r: r["right"]),
        "contains": share(rows, lambda r: r["contains"]),
        "exact part": share(faulty, lambda r: r["exact"]),
        "hidden culprit named by its net": share([r for r in faulty if _all_hidden(r)], lambda r: r["right"]),
        "decidable reaching likely": share(decidable, likely),
        "decidable reaching proven": share(mapped, proven),
        "decidable reaching proven, hidden too": share(decidable, proven),
        "undecidable ending so": share(undecidable, lambda r: r["abstains"] or r["right"]),
        "undecidable said to be": share(undecidable, lambda r: r["abstains"]),
        "all faults of several found": share([r for r in faulty if len(r["culprits"]) > 1], lambda r: r["all_found"]),
        "healthy accused": share([r for r in rows if not r["culprits"]], lambda r: r["accuses"]),
        "healthy core rail accused": share([r for r in rows if r.get("sound_cores")], lambda r: r["accuses_core"]),
        "solved": share(rows, lambda r: r["solved"]),
    }


def _all_hidden(row: Row) -> bool:
    return bool(row["culprits"]) and set(row["culprits"]) <= set(row["hidden_culprits"])


def _sum(rows: Sequence[Row], name: str) -> int:
    return int(sum(row.get(name, 0) for row in rows))


def stated(rows: Sequence[Row]) -> list[tuple[float, bool]]:
    """The probability each case ended with, and whether the truth was in the group it was stated of."""
    return [(row["p"], row["contains"]) for row in rows if not row["cut"] or row["cut"] == "cap"]


def several_found(rows: Sequence[Row]) -> dict[str, Any]:
    """Cases with several faults in which all of them were found before the case was closed, class by class."""
    return {
        name: share([r for r in rows if r["tags"].get("fault") == recipe], lambda r: r["all_found"])
        for recipe, name in SEVERAL.items()
    }


def _sizes(sizes: Sequence[int]) -> dict[str, int]:
    return {name: sum(low <= size <= high for size in sizes) for low, high, name in SIZES}


def _early(rows: Sequence[Row]) -> dict[str, Any]:
    found = {}
    for mark in ("5", "10"):
        pairs = [(row["at"][mark][0], row["at"][mark][1]) for row in rows if mark in row["at"]]
        found[f"{mark} readings"] = calibration(pairs)
    return found


def steps(made: Sequence[Sequence[float]]) -> dict[str, Any]:
    """Processor seconds of thinking between two advices: `made` holds (seconds, readings before, parts off before)."""
    found = mean_interval([step[0] for step in made])
    if made:
        seconds = np.array([step[0] for step in made])
        found["p95"], found["most"] = float(np.quantile(seconds, 0.95)), float(seconds.max())
    return found


def breakdown(rows: Sequence[Row], by: Callable[[Row], str]) -> dict[str, Any]:
    """The figures of each policy, class of case by class."""
    found: dict[str, dict[str, list[Row]]] = defaultdict(lambda: defaultdict(list))
    for row in rows:
        found[by(row)][row["policy"]].append(row)
    return {
        name: {policy: _brief(own) for policy, own in sorted(policies.items())}
        for name, policies in sorted(found.items())
    }


def _brief(rows: Sequence[Row]) -> dict[str, Any]:
    return {
        **_shares(rows),
        "false likely": counted(_sum(rows, "likely_false"), _sum(rows, "likely")),
        "false proven": counted(_sum(rows, "proven_false"), _sum(rows, "proven")),
        "minutes": mean_interval([row["minutes"] for row in rows]),
        "needless lifted": mean_interval([row["needless"] for row in rows]),
        "violations": _sum(rows, "violations"),
        "weighted error": weighted_error(stated(rows)),
    }


def simulated(rows: Sequence[Row]) -> dict[str, Any]:
    """How the operating points of a run came about, and whether few enough were left to the third solver."""
    told = [row["simulator"] for row in rows if row.get("simulator")]
    points, left = sum(t["points"] for t in told), sum(t["third solver"] for t in told)
    retried: Counter[str] = Counter()
    for t in told:
        retried.update(t["retried"])
    words = [f"{row['key']}: {w}" for row in rows if row.get("simulator") for w in row["simulator"]["left over"]]
    return {
        "points": points, "retried": dict(retried), "third solver": left, "lost": sum(t["lost"] for t in told),
        "share left": left / points if points else 0.0, "limit": MOST_LEFT,
        "within limit": left <= MOST_LEFT * points, "left over": words[:KEPT_LEFT],
    }  # fmt: skip


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
        "simulator": simulated(good),
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
    if {"engine", "habit"} <= set(policies):
        found["engine against habit by hiding"] = {
            hiding: against([r for r in good if r["tags"].get("hiding") == hiding], "engine", "habit")
            for hiding in sorted({str(r["tags"].get("hiding")) for r in good})
        }
        found["needless lifted, engine for one of habit"] = needless_ratio(good)
    return found


def needless_ratio(rows: Sequence[Row]) -> dict[str, Any]:
    """Needless parts lifted by the engine for each one the habit lifts."""
    both = paired(rows, "engine", "habit")
    return ratio_interval([a["needless"] for a, _ in both], [b["needless"] for _, b in both])


def engine_rows(rows: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """The engine's answered cases."""
    return [row for row in rows if "broken" not in row and row["policy"] == "engine"]
