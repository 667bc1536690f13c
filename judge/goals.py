"""The goals set for the engine, each held against what a run measured: reached, not reached, or too few to tell.

With as many cases as a goal asks for, the measured value decides; with fewer, only an interval that lies wholly
on the wrong side does. The interval stands beside either, so that a narrow "reached" can be seen for what it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from judge import metrics
from judge.intervals import DRAWS, Row, calibration, counted, share

REACHED, MISSED, FEW, ELSEWHERE = "reached", "NOT reached", "too few to tell", "not measured here"
ENOUGH = 300
"""Cases that decide where the goal names no number. [1]"""
LEAST = 10
"""Cases below which no interval decides against the engine. [1]"""
BIN = 400
"""Statements in a bin from which it is judged by itself. [1]"""
NETS = (150, 250)
"""Boards taken for boards of 200 nets. [1]"""
EARLIER = 8
ELSEWHERE_GOALS = (
    ("values belief uses against ngspice, every meter mode", "max(0.5 mV, 0.5 %), max(0.05 ohm, 0.5 %)"),
    ("warm whole step, p95, 2,000 nets", "100 ms"),
    ("cold first advice, fresh process: 60 / 200 / 2,000 nets", "0.3 / 1 / 5 s, under 1 GiB"),
    ("seconds for N identical readings, ngspice / ours, per core", "100 or more"),
)


@dataclass(frozen=True, slots=True)
class Held:
    """One goal beside what was measured.

    Parameters
    ----------
    what, wanted : str
    found : str
        The measured value with its interval.
    n : int
        Cases, claims or statements it rests on. [1]
    state : str
        `REACHED`, `MISSED`, `FEW`, `ELSEWHERE`, or "" for what is only told beside a goal.
    """

    what: str
    wanted: str
    found: str = ""
    n: int = 0
    state: str = ELSEWHERE


def at_least(what: str, figure: Mapping[str, Any], goal: float, enough: int = ENOUGH) -> Held:
    """A share that has to be so large."""
    n = figure["n"]
    state = FEW if figure["high"] >= goal or n < LEAST else MISSED
    if n >= enough:
        state = REACHED if figure["share"] >= goal else MISSED
    return Held(what, f"{100 * goal:g} %, n {enough}", percent(figure), n, state)


def below(what: str, figure: Mapping[str, Any], goal: float, enough: int = ENOUGH) -> Held:
    """A share that has to stay under so much."""
    n = figure["n"]
    state = FEW if figure["low"] < goal or n < LEAST else MISSED
    if n >= enough:
        state = REACHED if figure["share"] < goal else MISSED
    return Held(what, f"under {100 * goal:g} %, n {enough}", percent(figure), n, state)


def percent(figure: Mapping[str, Any]) -> str:
    """A share with its interval."""
    if not figure["n"]:
        return "-"
    return (
        f"{100 * figure['share']:.1f} % [{100 * figure['low']:.1f}, {100 * figure['high']:.1f}] ({figure['hits']} hits)"
    )


def judged(rows: Sequence[Row], optimum: Mapping[str, Any] | None = None) -> list[Held]:
    """Every goal against the rows of one or several runs."""
    good = [row for row in rows if "broken" not in row]
    own = [row for row in good if row["policy"] == "engine"]
    return [
        *_right(own), *_hidden(good, own), *_yield(own), *_false(own), *_calibrated(own), *_accusing(own),
        *_several(own), *_minutes(good), _optimum(optimum), *_steps(own),
        *(Held(what, wanted) for what, wanted in ELSEWHERE_GOALS), _safe(own),
    ]  # fmt: skip


def _of(rows: Iterable[Row], tag: str, *values: str) -> list[Row]:
    return [row for row in rows if str(row["tags"].get(tag)) in values]


def _right(own: Sequence[Row]) -> list[Held]:
    found = []
    for word, kind, goal in (("shorts", "short", 0.98), ("leaks", "leak", 0.85), ("opens", "open", 0.80)):
        alike = [row for row in own if len(row["faults"]) == 1 and row["faults"][0].split()[1] == kind]
        mapped = share(_of(alike, "hiding", "0"), _is_right)
        found.append(at_least(f"right at stop, {word}, nothing hidden", mapped, goal))
        beside = share(alike, _is_right)
        found.append(Held(f"  beside it: {word}, all hidden shares", "", percent(beside), beside["n"], ""))
    return found


def _is_right(row: Row) -> Any:
    return row["right"]


def _hidden(good: Sequence[Row], own: Sequence[Row]) -> list[Held]:
    found = []
    for words, hiding, goal in (("12 % hidden", "0.12", 0.88), ("40 % hidden", "0.4", 0.80)):
        found.append(at_least(f"right at stop, all kinds, {words}", share(_of(own, "hiding", hiding), _is_right), goal))
        test = metrics.against(_of(good, "hiding", hiding), "engine", "habit")
        better = test["only engine"] > test["only habit"]
        told = f"p = {test['p']:.3g}, only engine {test['only engine']}, only habit {test['only habit']}"
        state = REACHED if better and test["p"] < 0.01 else MISSED if test["n"] >= ENOUGH else FEW
        state = MISSED if not better and test["p"] < 0.05 else state
        found.append(Held(f"above habit, {words}", "p under 0.01", told, test["n"], state))
    return found


def _yield(own: Sequence[Row]) -> list[Held]:
    figures = metrics.of_policy(own)
    return [
        at_least("decidable cases reaching likely", figures["decidable reaching likely"], 0.85),
        at_least("decidable cases reaching proven, culprit on the map", figures["decidable reaching proven"], 0.75),
        at_least("undecidable ending in not decidable, or right", figures["undecidable ending so"], 0.90),
        Held("  beside it: ending in not decidable, those right apart", "", percent(figures["undecidable said to be"]),
             figures["undecidable said to be"]["n"], ""),
    ]  # fmt: skip


def _false(own: Sequence[Row]) -> list[Held]:
    def likely(rows: Sequence[Row]) -> dict[str, Any]:
        return counted(sum(r["likely_false"] for r in rows), sum(r["likely"] for r in rows))

    whole = _of(own, "hiding", "0")
    partly = [row for row in own if str(row["tags"].get("hiding")) != "0"]
    proven = counted(sum(r["proven_false"] for r in own), sum(r["proven"] for r in own))
    sure = (proven["hits"] == 0 and proven["n"] >= 1000) or proven["high"] < 0.003
    state = REACHED if sure else MISSED if proven["n"] >= 1000 or proven["low"] > 0.003 else FEW
    return [
        below("false likely, nothing hidden", likely(whole), 0.03),
        below("false likely, parts hidden", likely(partly), 0.05),
        Held("false proven", "none in 1,000, or upper bound under 0.3 %", percent(proven), proven["n"], state),
    ]


def _calibrated(own: Sequence[Row]) -> list[Held]:
    found = calibration(metrics.stated(own))
    if not found["n"]:
        return [Held("calibration, weighted error at stop", "under 0.02", "-", 0, FEW)]
    told = f"{found['weighted error']:.3f} [{found['low']:.3f}, {found['high']:.3f}]"
    state = FEW if found["low"] < 0.02 or found["n"] < 5 * LEAST else MISSED
    if found["n"] >= ENOUGH:
        state = REACHED if found["weighted error"] < 0.02 else MISSED
    lines = [Held("calibration, weighted error at stop", "under 0.02", told, found["n"], state)]
    for b in found["bins"]:
        goal, off = (0.01 if b["from"] >= 0.95 else 0.02), abs(b["stated"] - b["right"])
        told = f"stated {b['stated']:.3f}, right {b['right']:.3f} [{b['low']:.3f}, {b['high']:.3f}]"
        state = FEW if b["n"] < BIN else REACHED if off <= goal else MISSED
        lines.append(Held(f"calibration, stated {b['from']:.3g} to {b['to']:.3g}",
                          f"within {100 * goal:g} of 100, n {BIN}", told, b["n"], state))  # fmt: skip
    return lines


def _accusing(own: Sequence[Row]) -> list[Held]:
    figures = metrics.of_policy(own)
    return [
        below("accusing a healthy board, over the whole run", figures["healthy accused"], 0.01, 1000),
        below("accusing a healthy core rail, over the whole run", figures["healthy core rail accused"], 0.01, 1000),
    ]


def _several(own: Sequence[Row]) -> list[Held]:
    found = metrics.several_found(own)
    goals = (("same rail", 0.85), ("different rails", 0.80), ("one hidden by the other", 0.60))
    return [at_least(f"two faults, both found, {name}", found[name], goal) for name, goal in goals]


def _minutes(good: Sequence[Row]) -> list[Held]:
    gained, lines = metrics.minutes_gained(good), []
    for kind, goal in (("mean", 0.6), ("median", 0.4)):
        value, interval = gained.get(kind), gained.get(f"{kind} interval") or (-np.inf, np.inf)
        told = "-" if value is None else f"{value:.2f} [{interval[0]:.2f}, {interval[1]:.2f}]"
        state = FEW if value is None or interval[1] >= goal or gained["n"] < LEAST else MISSED
        if value is not None and gained["n"] >= ENOUGH:
            state = REACHED if value >= goal else MISSED
        lines.append(Held(f"(habit - engine) / (habit - F), {kind} minutes", f"{goal:g}", told, gained["n"], state))
    ratio = metrics.needless_ratio(good)
    told = "-" if ratio["mean"] is None else f"{ratio['mean']:.2f} [{ratio['low']:.2f}, {ratio['high']:.2f}]"
    state = FEW if ratio["mean"] is None or ratio["low"] <= 0.5 or ratio["n"] < LEAST else MISSED
    if ratio["mean"] is not None and ratio["n"] >= ENOUGH:
        state = REACHED if ratio["mean"] <= 0.5 else MISSED
    return [*lines, Held("needless parts lifted, engine for one of habit", "0.5 or less", told, ratio["n"], state)]


def _optimum(optimum: Mapping[str, Any] | None) -> Held:
    what, wanted = "distance to the exact optimum, mean", "15 %, n 200"
    if not optimum:
        return Held(what, wanted, "-", 0, FEW)
    low, high = optimum.get("mean interval", (optimum["mean"], optimum["mean"]))
    told = (f"{100 * optimum['mean']:.1f} % [{100 * low:.1f}, {100 * high:.1f}], "
            f"90th percentile {100 * optimum['90th percentile']:.1f} %")  # fmt: skip
    state = REACHED if optimum["mean"] <= 0.15 else MISSED
    return Held(what, wanted, told, optimum["instances"], state if optimum["instances"] >= 200 else FEW)


def _steps(own: Sequence[Row]) -> list[Held]:
    about = [row for row in own if NETS[0] <= row["nets"] <= NETS[1]]
    made = [step for row in about for step in row.get("steps", ())]
    where = f"boards of {NETS[0]} to {NETS[1]} nets, processor time"
    warm = [seconds for seconds, readings, off in made if readings >= EARLIER and not off]
    return [
        _quick(f"warm whole step, p95, {EARLIER} or more readings, {where}", warm, 0.020),
        _quick(f"step after a part came off, p95, {where}", [s for s, _, off in made if off], 0.300),
    ]


def _quick(what: str, seconds: Sequence[float], goal: float) -> Held:
    if not seconds:
        return Held(what, f"{1e3 * goal:g} ms", "-", 0, FEW)
    data, random = np.array(seconds), np.random.default_rng(1)

    def p95(values: np.ndarray[Any, Any]) -> float:
        return float(np.quantile(values, 0.95))

    drawn = [p95(data[random.integers(len(data), size=len(data))]) for _ in range(DRAWS // 4)]
    low, high = (float(q) for q in np.quantile(drawn, (0.025, 0.975)))
    told = f"{1e3 * p95(data):.0f} ms [{1e3 * low:.0f}, {1e3 * high:.0f}]"
    state = FEW if low <= goal or len(data) < LEAST else MISSED
    if len(data) >= ENOUGH:
        state = REACHED if p95(data) <= goal else MISSED
    return Held(what, f"{1e3 * goal:g} ms", told, len(data), state)


def _safe(own: Sequence[Row]) -> Held:
    hurt = sum(row["violations"] for row in own)
    return Held("safety violations", "0", str(hurt), len(own), MISSED if hurt else REACHED if own else FEW)


def table(held: Iterable[Held]) -> list[str]:
    """The goals as lines of a table."""
    lines = ["## Goals", "", "| what | goal | measured, 95 % | n | |", "|---|---|---|---|---|"]
    lines += [f"| {h.what} | {h.wanted} | {h.found} | {h.n or ''} | {h.state} |" for h in held]
    return [*lines, ""]
