"""``python -m judge``: sit the examination.

python -m judge --count 20 --jobs 2           a run, kept in docs/results/
python -m judge --slice                       the fixed-size slice of CI
python -m judge --case KEY --verbose          one case again, every advice and reading told
"""

from __future__ import annotations

import argparse
import hashlib
import os
import sys
import time
from collections.abc import Sequence
from typing import Any

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

from judge import exam, metrics, optimum, report  # noqa: E402 - threads are counted when numpy loads
from judge.cases import FAMILIES  # noqa: E402 - as above
from judge.policies import HONEST, POLICIES  # noqa: E402 - as above

SLICE_SEED = "slice"
SLICE_POLICIES = ("engine", "habit", "F")
SLICE_NETS = (15, 60)


def main(words: Sequence[str] | None = None) -> int:
    """Read the options and sit."""
    given = _options().parse_args(words)
    if given.case:
        return _one_case(given.case, given.policy or ["engine"], given.verbose, given.guard)
    commit, dirty = exam.measured_commit()
    seed = given.seed or (SLICE_SEED if given.slice else hashlib.sha256(commit.encode()).hexdigest()[:12])
    policies = tuple(given.policy or (SLICE_POLICIES if given.slice else HONEST))
    options: dict[str, Any] = {"hiding": given.hiding, "fault": given.fault, "files": tuple(given.file) or None}
    if given.nets or given.slice:
        options["nets"] = tuple(given.nets or SLICE_NETS)
    families = given.family or [f for f in FAMILIES if not (given.slice and f == "imported")]
    count = 1 if given.slice and given.count is None else given.count or 10
    asked = exam.questions(families, count, seed, policies, given.guard, **options)
    settings = {
        "families": families, "count": count, "seed": seed, "seed from commit": not (given.seed or given.slice),
        "policies": policies, "guard": given.guard, "jobs": given.jobs, "note": given.note, **options,
    }  # fmt: skip
    rows = _sit(asked, given.jobs, given.minutes)
    figures = metrics.summary(rows)
    if given.optimum:
        figures["optimum"] = optimum.report(given.optimum, seed)
    head = report.stamp(commit, dirty, settings)
    print(report.table(head, figures))
    if not given.dry:
        print(report.written(head, figures, rows, given.name or ("slice" if given.slice else "run")).name)
    broken = bool(figures["broken questions"]) or any(
        figures["policies"].get(p, {}).get("violations", 0) for p in ("engine",)
    )
    return int(given.slice and broken)


def _sit(asked: Sequence[exam.Question], jobs: int, minutes: float | None) -> list[dict[str, Any]]:
    until = None if minutes is None else time.monotonic() + 60.0 * minutes
    rows: list[dict[str, Any]] = []
    try:
        for k, answered in enumerate(exam.run(asked, jobs, until), 1):
            rows += answered
            for row in answered:
                print(f"{k}/{len(asked)} {line(row)}", file=sys.stderr, flush=True)
    except KeyboardInterrupt:
        print(f"interrupted; {len(rows)} rows are kept", file=sys.stderr)
    return rows


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


def _options() -> argparse.ArgumentParser:
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
    asked.add_argument("--guard", type=float, default=exam.GUARD, help="seconds per policy and case")
    asked.add_argument("--minutes", type=float, help="stop asking after so long, and report what there is")
    asked.add_argument("--optimum", type=int, default=0, help="instances for the exact optimum")
    asked.add_argument("--slice", action="store_true", help="the fixed slice: one small question per generated family")
    asked.add_argument("--dry", action="store_true", help="write no result file")
    asked.add_argument("--name", default="", help="name of the variant, into the file's name")
    asked.add_argument("--note", default="", help="what is special about this variant")
    asked.add_argument("--case", help="one question by its key, as FAMILY:SEED:INDEX")
    asked.add_argument("--verbose", action="store_true", help="tell every advice, outcome and the leading suspects")
    return asked


if __name__ == "__main__":
    sys.exit(main())
