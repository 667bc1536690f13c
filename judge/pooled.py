"""``python -m judge report RESULT ...``: several runs as one, and the goals held against them."""

from __future__ import annotations

import argparse
import gzip
import json
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from judge import goals, metrics, report
from judge.running import UNFINISHED, read_running

MIXED = {
    "commit": "commits: the figures are of no single engine",
    "costs sha256": "cost files",
    "habit sha256": "habits",
    "judge sha256": "judges: some figures may be of old definitions",
}
"""What should be one in all runs, and what to call it where it is not."""
ROWS = ".rows.json.gz"


@dataclass(frozen=True)
class Run:
    """One kept run.

    Parameters
    ----------
    head : dict
        Date, commit, machine, hashes, settings.
    optimum : dict or None
        The comparison with the exact optimum, where the run made one.
    """

    name: str
    head: Mapping[str, Any]
    rows: tuple[Mapping[str, Any], ...]
    optimum: Mapping[str, Any] | None = None


def read(path: Path) -> Run:
    """A run from its ``.json``, its ``.rows.json.gz``, or the file of one in progress."""
    if path.name.endswith(UNFINISHED):
        head, rows = read_running(path)
        return Run(path.name, head, tuple(rows))
    base = path.name.removesuffix(ROWS).removesuffix(".json")
    told = json.loads((path.parent / f"{base}.json").read_text(encoding="utf-8"))
    with gzip.open(path.parent / f"{base}{ROWS}", "rt", encoding="utf-8") as file:
        kept = tuple(json.loads(line) for line in file if line.strip())
    return Run(base, told["run"], kept, told["figures"].get("optimum"))


def pooled(runs: Sequence[Run]) -> tuple[list[dict[str, Any]], int]:
    """The rows of all runs, and how many were there twice.

    A case is known by commit and key: the same question asked of two commits is two cases, the same of one
    commit is one, however many files tell of it.
    """
    rows, seen, twice = [], set(), 0
    for run in runs:
        commit = str(run.head["commit"])[:8]
        for row in run.rows:
            mark = (commit, row["key"], row["policy"])
            twice += mark in seen
            if mark not in seen:
                seen.add(mark)
                rows.append({**row, "key": f"{commit}/{row['key']}"})
    return rows, twice


def told(runs: Sequence[Run], twice: int) -> list[str]:
    """What was pooled, and what does not belong together."""
    lines = ["# Pooled runs", "", "| run | commit | seed | from commit | cases | costs | habit | judge |"]
    lines.append("|---" * 8 + "|")
    for run in runs:
        head = run.head
        cases = len({row["key"] for row in run.rows})
        changed = " with changes" if head.get("changed since") or head.get("changed during run") else ""
        settings = head["settings"]
        lines.append(
            f"| {run.name} | {str(head['commit'])[:12]}{changed} | {settings['seed']} | "
            f"{'yes' if settings.get('seed from commit') else 'NO'} | {cases} | {head['costs sha256'][:8]} | "
            f"{head['habit sha256'][:8]} | {head['judge sha256'][:8]} |"
        )
    lines.append("")
    for name, what in MIXED.items():
        several = len({run.head[name] for run in runs})
        if several > 1:
            lines.append(f"{several} different {what}.\n")
    if twice:
        lines.append(f"{twice} rows were there twice and count once.\n")
    return lines


def main(words: Sequence[str]) -> int:
    """Pool and print."""
    asked = argparse.ArgumentParser("python -m judge report", description=__doc__)
    asked.add_argument("files", nargs="+", type=Path, help="results (.json), or runs in progress (.jsonl)")
    asked.add_argument("--full", action="store_true", help="all tables as well, not the goals alone")
    asked.add_argument("--out", type=Path, help="also write it there")
    given = asked.parse_args(words)
    try:
        runs = [read(path) for path in given.files]
    except (OSError, ValueError, KeyError) as trouble:
        print(f"not a result of the judge: {trouble}", file=sys.stderr)
        return 2
    rows, twice = pooled(runs)
    best = max((run.optimum for run in runs if run.optimum), key=lambda o: int(o["instances"]), default=None)
    figures = metrics.summary(rows)
    lines = [*told(runs, twice), *goals.table(goals.judged(rows, best)), *report.simulator_lines(figures["simulator"])]
    if given.full:
        figures["optimum"] = best
        lines += ["", report.table(runs[-1].head, figures)]
    text = "\n".join(lines)
    print(text)
    if given.out:
        given.out.write_text(text + "\n", encoding="utf-8")
    return 0
