"""``python -m judge``: sit the examination.

python -m judge --count 20 --jobs 2           a run, kept in docs/results/
python -m judge --slice                       the fixed-size slice of CI
python -m judge --name full --resume          go on with a run that was killed
python -m judge report RESULT.json ...        pool results and hold them against the goals
python -m judge --case KEY --verbose          one case again, every advice and reading told
"""

from __future__ import annotations

import argparse
import hashlib
import os
import signal
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

from judge import exam, goals, metrics, optimum, pooled, report  # noqa: E402 - threads are counted when numpy loads
from judge.cases import FAMILIES  # noqa: E402 - as above
from judge.policies import HONEST, POLICIES  # noqa: E402 - as above
from judge.running import CannotResume, Running  # noqa: E402 - as above

SLICE_SEED = "slice"
SLICE_POLICIES = ("engine", "habit", "random", "F", "oracle", "abstain", "always-claim", "ungated", "battery-in")
SLICE_NETS = (15, 60)
SLICE_GUARD = 12.0
"""Seconds a policy may think over a case of the slice. [s]"""


def main(words: Sequence[str] | None = None) -> int:
    """Read the options and sit, or pool what was sat."""
    said = list(sys.argv[1:] if words is None else words)
    if said[:1] == ["report"]:
        return pooled.main(said[1:])
    given = options().parse_args(said)
    if given.case:
        return _one_case(given.case, given.policy or ["engine"], given.verbose, given.guard or exam.GUARD)
    head = report.stamp(*exam.measured_commit(), {})
    head["settings"] = settings = _settings(given, str(head["commit"]))
    name, folder = given.name or ("slice" if given.slice else "run"), given.folder
    try:
        running = None if given.dry else (Running.resumed if given.resume else Running.begun)(head, name, folder)
    except CannotResume as trouble:
        print(trouble, file=sys.stderr)
        return 2
    if running is not None and given.resume:
        head = running.head
        settings["seed"] = head["settings"]["seed"]
        head["settings"] = {**settings, "resumed": True}
    rows, complete = _sit(_asked(settings), given, running)
    figures = metrics.summary(rows)
    if given.optimum and complete:
        figures["optimum"] = optimum.report(given.optimum, settings["seed"], jobs=given.jobs)
    head["changed during run"] = report.engine_sha256() != head["engine sha256"]
    print(report.table(head, figures))
    print("\n".join(goals.table(goals.judged(rows, figures.get("optimum")))))
    if running is not None and complete:
        print(report.written(head, figures, rows, name, folder).name)
        running.finished()
    elif running is not None:
        print(f"not finished; {len(rows)} rows are in {running.path.name}, --resume goes on", file=sys.stderr)
    return _state(given.slice, figures, complete)


def _state(slice_only: bool, figures: Mapping[str, Any], complete: bool) -> int:
    """Exit state: a slice fails on a question that cannot be asked, an unsafe engine, a crash or a doubtful truth."""
    if not slice_only:
        return 0 if complete else 3
    own = figures["policies"].get("engine", {})
    crashed = any(p["cut"]["crash"] for p in figures["policies"].values())
    broken = bool(figures["broken questions"]) or not figures["simulator"]["within limit"]
    return int(broken or crashed or bool(own.get("violations", 0)) or not complete)


def _settings(given: argparse.Namespace, commit: str) -> dict[str, Any]:
    """What decides which questions are asked of whom."""
    count = given.count or (1 if given.slice else 10)
    fixed = SLICE_SEED if given.slice else ""
    return {
        "families": given.family or list(FAMILIES), "count": count,
        "seed": given.seed or fixed or hashlib.sha256(commit.encode()).hexdigest()[:12],
        "seed from commit": not (given.seed or given.slice),
        "policies": given.policy or list(SLICE_POLICIES if given.slice else HONEST),
        "guard": given.guard or (SLICE_GUARD if given.slice else exam.GUARD), "jobs": given.jobs, "note": given.note,
        "nets": tuple(given.nets or (SLICE_NETS if given.slice else ())) or None, "hiding": given.hiding,
        "fault": given.fault, "files": tuple(given.file) or None,
    }  # fmt: skip


def _asked(settings: Mapping[str, Any]) -> list[exam.Question]:
    more = {name: settings[name] for name in ("nets", "hiding", "fault", "files")}
    return exam.questions(
        settings["families"], settings["count"], settings["seed"], settings["policies"], settings["guard"], **more
    )


def _sit(
    asked: Sequence[exam.Question], given: argparse.Namespace, running: Running | None
) -> tuple[list[dict[str, Any]], bool]:
    """The rows, those of an earlier part of the run first, and whether every question was answered."""
    rows: list[dict[str, Any]] = [] if running is None else list(running.rows)
    done = frozenset() if running is None else running.done
    left = [question for question in asked if question.key not in done]
    if len(left) < len(asked):
        print(f"{len(asked) - len(left)} of {len(asked)} questions are answered already", file=sys.stderr)
    began = time.monotonic()
    until = None if given.minutes is None else began + 60.0 * given.minutes
    answered = 0
    signal.signal(signal.SIGTERM, _interrupt)
    try:
        for fresh in exam.run(left, given.jobs, until):
            answered += 1
            rows += fresh
            if running is not None:
                running.add(fresh)
            spent = (time.monotonic() - began) / 60.0
            togo = spent / answered * (len(left) - answered)
            for row in fresh:
                print(f"{len(asked) - len(left) + answered}/{len(asked)} {line(row)}", file=sys.stderr)
            print(f"    {spent:.1f} min, about {togo:.0f} min to go", file=sys.stderr, flush=True)
    except KeyboardInterrupt:
        print("interrupted", file=sys.stderr)
    return rows, answered == len(left)


def _interrupt(number: int, frame: object) -> None:
    raise KeyboardInterrupt


def line(row: dict[str, Any]) -> str:
    """A row as one line of a log."""
    if "broken" in row:
        return f"{row['key']} BROKEN {row['broken']}"
    verdict = "right" if row["right"] else "WRONG"
    flags = "".join(f" {name}!" for name in ("likely_false", "proven_false", "violations") if row[name])
    return (
        f"{row['key']} {row['policy']:7} {verdict} p={row['p']:.3f} {row['level']} {row['minutes']:.0f} min "
        f"{row['seconds']:.0f} s {row['cut']}{flags} truth {row['faults']}"
        f"{' hidden ' + ' '.join(row['hidden_culprits']) if row['hidden_culprits'] else ''}"
        f"{'' if row['decidable'] else ' undecidable'} top {row['top'][:2]} {row['error']}"
    )


def _one_case(key: str, policies: Sequence[str], verbose: bool, guard: float) -> int:
    question = parsed(key, tuple(policies), guard, verbose)
    made = exam.exam_of(question)
    print(exam.about(made, question))
    for row in exam.sat_at(made, question):
        print(line(row))
        print(row)
    return 0


def parsed(key: str, policies: tuple[str, ...], guard: float = exam.GUARD, verbose: bool = False) -> exam.Question:
    """The question of a key as results and logs print it."""
    name, *extra = key.split(",")
    family, seed, index = name.replace("/", ":").split(":")
    options: list[tuple[str, Any]] = []
    rest = ",".join(extra)
    if rest:
        options = [(word, _value(text)) for word, _, text in (p.partition("=") for p in _pieces(rest))]
    return exam.Question(family, seed, int(index), policies, guard, tuple(options), verbose)


def _pieces(text: str) -> list[str]:
    """Split at commas that do not stand in brackets."""
    found, depth, piece = [], 0, ""
    for sign in text:
        depth += (sign in "([") - (sign in ")]")
        if sign == "," and depth == 0:
            found.append(piece)
            piece = ""
        else:
            piece += sign
    return [*found, piece]


def _value(text: str) -> Any:
    if text.startswith("("):
        return tuple(_value(word.strip()) for word in text.strip("()").split(",") if word.strip())
    word = text.strip("'")
    try:
        return int(word)
    except ValueError:
        pass
    try:
        return float(word)
    except ValueError:
        return word


def options() -> argparse.ArgumentParser:
    asked = argparse.ArgumentParser(
        "python -m judge", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    asked.add_argument("--family", action="append", choices=FAMILIES, help="again for more; all by default")
    asked.add_argument("--count", type=int, help="questions per family (10)")
    asked.add_argument("--seed", help="in place of the one derived from the commit; then it is no reported run")
    asked.add_argument("--policy", action="append", choices=tuple(POLICIES), help="again for more")
    asked.add_argument("--hiding", type=float, help="share of the parts hidden, for all questions")
    asked.add_argument("--fault", help="one fault recipe for all questions")
    asked.add_argument("--file", action="append", default=[], help="a KiCad board for the family imported")
    asked.add_argument("--nets", type=int, nargs=2, help="least and most nets of generated boards")
    asked.add_argument("--jobs", type=int, default=1, help="processes")
    asked.add_argument("--guard", type=float, help="seconds of thinking per policy and case")
    asked.add_argument("--minutes", type=float, help="stop asking after so long; --resume goes on")
    asked.add_argument("--optimum", type=int, default=0, help="instances for the exact optimum")
    asked.add_argument("--slice", action="store_true", help="the fixed slice: one small question per generated family")
    asked.add_argument("--resume", action="store_true", help="go on with the unfinished run of that name")
    asked.add_argument("--folder", type=Path, default=report.FOLDER, help="where results are kept")
    asked.add_argument("--dry", action="store_true", help="write no result file")
    asked.add_argument("--name", default="", help="name of the variant, into the file's name")
    asked.add_argument("--note", default="", help="what is special about this variant")
    asked.add_argument("--case", help="one question by its key, as FAMILY:SEED:INDEX")
    asked.add_argument("--verbose", action="store_true", help="tell every advice, outcome and the leading suspects")
    return asked


if __name__ == "__main__":
    sys.exit(main())
