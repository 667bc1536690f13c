"""A run as one JSON file and one readable table, kept beside all the others."""

from __future__ import annotations

import gzip
import hashlib
import json
import os
import platform
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from judge.costs import costs

HERE = Path(__file__).parent
FOLDER = HERE.parent / "docs" / "results"
HABIT = ("policies/habit.py", "policies/habit_sense.py")
ORDER = ("engine", "habit", "random", "F")


def habit_sha256() -> str:
    """Hash of the habit's source, line ends as they are in the repository."""
    digest = hashlib.sha256()
    for name in HABIT:
        digest.update((HERE / name).read_bytes())
    return digest.hexdigest()


def judge_sha256() -> str:
    """Hash of all of the judge's own source and data."""
    digest = hashlib.sha256()
    for path in sorted(p for p in HERE.rglob("*") if p.suffix in (".py", ".json")):
        digest.update(str(path.relative_to(HERE)).encode() + path.read_bytes())
    return digest.hexdigest()


def engine_sha256() -> str:
    """Hash of all of the program's own source and data, the built page left out."""
    digest, root = hashlib.sha256(), HERE.parent / "src" / "ohmwright"
    for path in sorted(p for p in root.rglob("*") if p.suffix in (".py", ".json") and "static" not in p.parts):
        digest.update(str(path.relative_to(root)).encode() + path.read_bytes())
    return digest.hexdigest()


def machine() -> dict[str, Any]:
    """What it ran on, without any name of it."""
    return {"cores": os.cpu_count(), "python": platform.python_version(), "numpy": np.__version__,
            "processor": platform.machine(), "system": platform.system()}  # fmt: skip


def stamp(commit: str, dirty: bool, settings: Mapping[str, Any]) -> dict[str, Any]:
    """What a reader has to know to judge or repeat a run."""
    return {
        "date": datetime.now(UTC).isoformat(timespec="seconds"), "commit": commit, "changed since": dirty,
        "machine": machine(), "costs sha256": costs().sha256, "habit sha256": habit_sha256(),
        "judge sha256": judge_sha256(), "engine sha256": engine_sha256(), "settings": dict(settings),
    }  # fmt: skip


def written(head: Mapping[str, Any], figures: Mapping[str, Any], rows: Sequence[Mapping[str, Any]], name: str,
            folder: Path = FOLDER) -> Path:  # fmt: skip
    """Write a run; a name that is taken gets a number, so nothing is ever written over."""
    folder.mkdir(parents=True, exist_ok=True)
    base = f"{str(head['date'])[:10]}-{str(head['commit'])[:8]}-{name}"
    number, path = 1, folder / f"{base}.json"
    while path.exists():
        number += 1
        path = folder / f"{base}-{number}.json"
    with path.open("x", encoding="utf-8") as file:
        json.dump({"run": head, "figures": figures}, file, default=str)
    with gzip.open(path.with_suffix(".rows.json.gz"), "xt", encoding="utf-8") as file:
        file.write("\n".join(json.dumps(row, default=str) for row in rows))
    path.with_suffix(".md").write_text(table(head, figures), encoding="utf-8")
    return path


def table(head: Mapping[str, Any], figures: Mapping[str, Any]) -> str:
    """The readable side of a run."""
    policies = figures["policies"]
    names = [p for p in ORDER if p in policies] + [p for p in policies if p not in ORDER]
    lines = [
        f"# {figures['cases']} cases, commit {str(head['commit'])[:12]}"
        + (" with changes" if head["changed since"] else ""),
        "", f"{head['date']}; {head['machine']}; settings {head['settings']}; costs {head['costs sha256'][:12]}, "
        f"habit {head['habit sha256'][:12]}, judge {head['judge sha256'][:12]}. Intervals are 95 %.", "",
        "| | " + " | ".join(names) + " |", "|---|" + "---|" * len(names),
    ]  # fmt: skip
    for label in SHARES:
        lines.append(f"| {label} | " + " | ".join(proportion(policies[p][label]) for p in names) + " |")
    for kind in policies[names[0]]["several found"] if names else ():
        cells = " | ".join(proportion(policies[p]["several found"][kind]) for p in names)
        lines.append(f"| all found, {kind} | {cells} |")
    for label in ("minutes", "needless lifted", "readings", "group size"):
        lines.append(f"| {label}, mean (median) | " + " | ".join(middle(policies[p][label]) for p in names) + " |")
    lines.append("| groups of 1, 2, 3 to 5, more | " + " | ".join(_sizes(policies[p]) for p in names) + " |")
    for label in ("seconds", "seconds per step"):
        lines.append(f"| {label} of processor, mean (median) | "
                     + " | ".join(middle(policies[p][label]) for p in names) + " |")  # fmt: skip
    lines.append("| seconds per step, 95th percentile | " + " | ".join(_p95(policies[p]) for p in names) + " |")
    lines.append("| safety violations | " + " | ".join(_rules(policies[p]) for p in names) + " |")
    for cut in ("cap", "guard", "crash"):
        lines.append(f"| cut short: {cut} | " + " | ".join(str(len(policies[p]["cut"][cut])) for p in names) + " |")
    lines += [
        "",
        *_comparisons(figures),
        *simulator_lines(figures["simulator"]),
        *_calibration(policies, names),
        *_breakdowns(figures, names),
        *_engine_breakdowns(figures),
        *_lists(figures),
    ]
    return "\n".join(lines) + "\n"


SHARES = (
    "right", "contains", "exact part", "hidden culprit named by its net", "false likely", "false likely, whole run",
    "false proven", "decidable reaching likely", "decidable reaching proven", "decidable reaching proven, hidden too",
    "undecidable ending so", "undecidable said to be", "all faults of several found", "healthy accused",
    "healthy core rail accused", "solved",
)  # fmt: skip
"""Proportions of the table, in order."""


def _sizes(own: Mapping[str, Any]) -> str:
    return ", ".join(str(n) for n in own["group sizes"].values())


def _p95(own: Mapping[str, Any]) -> str:
    return f"{own['seconds per step']['p95']:.2f}" if "p95" in own["seconds per step"] else "-"


def _rules(own: Mapping[str, Any]) -> str:
    told = ", ".join(f"{rule} {n}" for rule, n in sorted(own["rules violated"].items()))
    return str(own["violations"]) + (f" ({told})" if told else "")


def simulator_lines(told: Mapping[str, Any]) -> list[str]:
    """How the truth came about: operating points, what it took to get them, and whether too many were left over."""
    retried = ", ".join(f"{n} by {name}" for name, n in told["retried"].items()) or "none"
    limit = "within" if told["within limit"] else "OVER"
    lines = [
        f"Simulator: {told['points']} operating points; retried: {retried}; left to the third solver "
        f"{told['third solver']} ({100 * told['share left']:.3f} %, {limit} the limit of {100 * told['limit']:g} %); "
        f"no solver settles {told['lost']}.\n"
    ]
    if told["left over"]:
        lines += ["Left over:\n", *(f"- {words}" for words in told["left over"]), ""]
    return lines


def proportion(figure: Mapping[str, Any]) -> str:
    """A share with its interval and count."""
    if not figure["n"]:
        return "-"
    return f"{100 * figure['share']:.1f} % [{100 * figure['low']:.1f}, {100 * figure['high']:.1f}] of {figure['n']}"


def middle(figure: Mapping[str, Any]) -> str:
    """A mean with its interval, and the median."""
    if not figure["n"]:
        return "-"
    return f"{figure['mean']:.2f} [{figure['low']:.2f}, {figure['high']:.2f}] ({figure['median']:.2f})"


def _comparisons(figures: Mapping[str, Any]) -> list[str]:
    lines = []
    gained = figures.get("minutes gained", {})
    for kind in ("mean", "median"):
        if gained.get(kind) is not None:
            low, high = gained[f"{kind} interval"]
            lines.append(
                f"(habit - engine) / (habit - F), {kind} minutes: {gained[kind]:.2f} [{low:.2f}, {high:.2f}] "
                f"over {gained['n']} cases."
            )
    for other in ("habit", "random"):
        test = figures.get(f"engine against {other}")
        if test:
            lines.append(f"Right at stop, engine against {other}: only engine {test['only engine']}, only {other} "
                         f"{test[f'only {other}']}, McNemar exact p = {test['p']:.3g}.")  # fmt: skip
    for hiding, test in figures.get("engine against habit by hiding", {}).items():
        lines.append(f"Hidden share {hiding}: only engine right {test['only engine']}, only habit {test['only habit']} "
                     f"of {test['n']}, p = {test['p']:.3g}.")  # fmt: skip
    ratio = figures.get("needless lifted, engine for one of habit")
    if ratio and ratio["mean"] is not None:
        lines.append(f"Needless parts lifted by the engine for one of the habit's: {ratio['mean']:.2f} "
                     f"[{ratio['low']:.2f}, {ratio['high']:.2f}].")  # fmt: skip
    best = figures.get("optimum")
    if best:
        lines.append(
            f"Chooser against the exact optimum, {best['instances']} instances: {100 * best['mean']:.1f} % more "
            f"minutes on average, 90th percentile {100 * best['90th percentile']:.1f} %, "
            f"worst {100 * best['worst']:.1f} %."
        )
    return [line + "\n" for line in lines]


def _calibration(policies: Mapping[str, Any], names: Sequence[str]) -> list[str]:
    lines = ["## Calibration", ""]
    for name in names:
        for when, figure in policies[name]["calibration"].items():
            if not figure["n"] or name not in ("engine", "habit"):
                continue
            error = f"{figure['weighted error']:.3f} [{figure['low']:.3f}, {figure['high']:.3f}]"
            lines += [f"{name}, {when}: weighted error {error} over {figure['n']}", ""]
            lines += ["| stated | n | mean stated | right | 95 % |", "|---|---|---|---|---|"]
            for b in figure["bins"]:
                lines.append(
                    f"| {b['from']:.3g} to {b['to']:.3g} | {b['n']} | {b['stated']:.3f} | {b['right']:.3f} | "
                    f"{b['low']:.3f} to {b['high']:.3f} |"
                )
            lines.append("")
        risk = policies[name]["risk"]
        if risk["n"] and name in ("engine", "habit"):
            marks = ", ".join(f"{100 * v:.1f} % at {k}" for k, v in risk["risk at coverage"].items())
            lines += [f"{name}, wrong among the surest share: {marks}; area {risk['area']:.3f}", ""]
    return lines


def _breakdowns(figures: Mapping[str, Any], names: Sequence[str]) -> list[str]:
    lines = []
    for title, classes in figures.items():
        if not title.startswith("by "):
            continue
        lines += [
            f"## Right at stop {title}, and mean minutes",
            "",
            "| | " + " | ".join(names) + " |",
            "|---|" + "---|" * len(names),
        ]
        for name, policies in classes.items():
            cells = []
            for p in names:
                own = policies.get(p)
                cells.append(f"{proportion(own['right'])}; {own['minutes']['mean']:.0f} min" if own else "-")
            lines.append(f"| {name} | " + " | ".join(cells) + " |")
        lines.append("")
    return lines


BRIEF = ("right", "exact part", "false likely", "false proven", "decidable reaching likely",
         "decidable reaching proven", "undecidable ending so", "healthy accused")  # fmt: skip


def _engine_breakdowns(figures: Mapping[str, Any]) -> list[str]:
    """The other figures of the engine, class by class."""
    head = (*BRIEF, "minutes", "needless lifted", "weighted error", "violations")
    lines: list[str] = []
    for title, classes in figures.items():
        if not title.startswith("by ") or not any("engine" in policies for policies in classes.values()):
            continue
        lines += [f"## The engine {title}", "", "| | " + " | ".join(head) + " |", "|---|" + "---|" * len(head)]
        for name, policies in classes.items():
            own = policies.get("engine")
            if own is None:
                continue
            error = "-" if own["weighted error"] is None else f"{own['weighted error']:.3f}"
            cells = [proportion(own[label]) for label in BRIEF] + [middle(own["minutes"])]
            cells += [middle(own["needless lifted"]), error, str(own["violations"])]
            lines.append(f"| {name} | " + " | ".join(cells) + " |")
        lines.append("")
    return lines


def _lists(figures: Mapping[str, Any]) -> list[str]:
    lines = []
    for name, own in figures["policies"].items():
        for cut in ("guard", "crash"):
            if own["cut"][cut]:
                lines.append(f"{name}, {cut}: {', '.join(own['cut'][cut])}\n")
        if own["violating cases"]:
            lines.append(f"{name}, safety violations in: {', '.join(own['violating cases'])}\n")
    lines += _failures(figures.get("engine failures", ()))
    for broken in figures["broken questions"]:
        lines.append(f"Question that could not be asked: {broken['key']}: {broken['why']}\n")
    return lines


def _failures(failures: Sequence[Mapping[str, Any]]) -> list[str]:
    """A line for every case of the engine that deserves a look."""
    if not failures:
        return []
    head = ("question", "fault", "hidden share", "truth", "held", "p", "level", "ended")
    lines = ["## Where the engine was wrong, falsely sure or unsafe", ""]
    lines += ["| " + " | ".join(head) + " |", "|---" * len(head) + "|"]
    for row in sorted(failures, key=lambda r: (r["fault"], -r["p"])):
        hidden = f" (hidden: {', '.join(row['hidden_culprits'])})" if row["hidden_culprits"] else ""
        held = "; ".join(" ".join(words[:4]) for words in row["top"][:2])
        cells = (row["key"], row["fault"], row["hiding"], "; ".join(row["faults"]) + hidden, held, f"{row['p']:.2f}",
                 row["level"], row["cut"] or row["stop"])  # fmt: skip
        lines.append("| " + " | ".join(cells) + " |")
    return [*lines, ""]
