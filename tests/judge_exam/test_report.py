from __future__ import annotations

import gzip
import json
from pathlib import Path

from judge.__main__ import parsed
from judge.exam import Question, questions
from judge.policies import HONEST
from tests.judge_exam.test_metrics import row

from judge import metrics, report


def head() -> dict[str, object]:
    return report.stamp("0123456789abcdef", False, {"seed": "x"})


def test_nothing_is_ever_written_over(tmp_path: Path) -> None:
    rows = [row("a"), row("a", "habit", right=False, cut="crash"), row("a", "F", minutes=9.0)]
    figures = metrics.summary(rows)
    first = report.written(head(), figures, rows, "run", tmp_path)
    kept = first.read_bytes()
    second = report.written(head(), figures, rows[:1], "run", tmp_path)
    assert first != second
    assert first.read_bytes() == kept
    with gzip.open(first.with_suffix(".rows.json.gz"), "rt", encoding="utf-8") as file:
        assert [json.loads(line) for line in file] == rows
    assert "cut short: crash | 0 | 1 | 0" in first.with_suffix(".md").read_text(encoding="utf-8")


def test_a_run_names_commit_machine_and_hashes_and_no_host() -> None:
    stamp = head()
    for name in ("date", "commit", "changed since", "machine", "costs sha256", "habit sha256", "judge sha256"):
        assert stamp[name] is not None
    assert isinstance(stamp["machine"], dict)
    assert set(stamp["machine"]) == {"cores", "python", "numpy", "processor", "system"}


def test_a_key_asks_the_same_question_again() -> None:
    for asked in questions(("notebook",), 2, "abc", ("engine",), nets=(15, 60), hiding=0.4, fault="core short"):
        again = parsed(asked.key, ("engine",))
        assert (again.family, again.seed, again.index, again.options) == (
            asked.family, asked.seed, asked.index, asked.options,
        )  # fmt: skip
    assert parsed("tablet/abc/7", ("F",)) == Question("tablet", "abc", 7, ("F",))


def test_the_table_has_a_column_for_everybody() -> None:
    rows = [row("a", policy) for policy in HONEST]
    text = report.table(head(), metrics.summary(rows))
    assert "| | engine | habit | random | F |" in text


def test_failures_of_the_engine_are_listed_with_the_truth() -> None:
    bad = row("tablet:x:3", right=False, contains=False, likely_false=1, level="likely", faults=["C1 short 1-2 0.1"],
              hidden_culprits=["C1"], top=[["C2", "short"]], stop="no test left")  # fmt: skip
    text = report.table(head(), metrics.summary([bad, row("tablet:x:4")]))
    assert "| tablet:x:3 | short |  | C1 short 1-2 0.1 (hidden: C1) | C2 short | 0.90 | likely | no test left |" in text
    assert "tablet:x:4" not in text
