"""A run that is killed keeps what it has, and goes on from there."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from judge.cases import exams
from judge.running import CannotResume, Running, read_running
from tests.judge_exam.test_metrics import row

from judge import __main__ as judge
from judge import exam, metrics, pooled, report


def head(**settings: Any) -> dict[str, Any]:
    return report.stamp("0123456789abcdef", False, {"seed": "x", "nets": (15, 60), **settings})


def test_a_killed_run_goes_on_where_it_was(tmp_path: Path) -> None:
    first = Running.begun(head(jobs=1), "full", tmp_path)
    first.add([row("a"), row("a", "habit")])
    first.add([row("b")])
    with first.path.open("a", encoding="utf-8") as file:
        file.write('[{"key": "c", "po')  # the kill came in the middle of a line
    again = Running.resumed(head(jobs=2), "full", tmp_path)
    assert again.done == {"a", "b"}
    again.add([row("c")])
    _, rows = read_running(first.path)
    assert [r["key"] for r in rows] == ["a", "a", "b", "c"]
    again.finished()
    assert list(tmp_path.iterdir()) == []


def test_two_runs_of_one_name_do_not_write_into_each_other(tmp_path: Path) -> None:
    first, second = (Running.begun(head(), "full", tmp_path) for _ in range(2))
    assert first.path != second.path
    second.add([row("z")])
    assert Running.resumed(head(), "full", tmp_path).done == {"z"}
    with pytest.raises(CannotResume, match="no unfinished run 'ful'"):
        Running.resumed(head(), "ful", tmp_path)


def test_a_run_of_other_sources_or_questions_is_not_gone_on_with(tmp_path: Path) -> None:
    Running.begun(head(), "full", tmp_path)
    with pytest.raises(CannotResume, match="since then changed: engine"):
        Running.resumed({**head(), "engine sha256": "another"}, "full", tmp_path)
    with pytest.raises(CannotResume, match="asks other questions: nets"):
        Running.resumed(head(nets=(15, 500)), "full", tmp_path)


def fake_answers(monkeypatch: pytest.MonkeyPatch, fail_at: int = -1) -> list[str]:
    asked: list[str] = []

    def safely(question: exam.Question) -> list[dict[str, Any]]:
        if len(asked) == fail_at:
            raise KeyboardInterrupt
        asked.append(question.key)
        plain = row(question.key, faults=["C1 short 1-2 1"], nets=40, top=[], error="")
        return [{**plain, "policy": policy} for policy in question.policies]

    monkeypatch.setattr(exam, "safely", safely)
    return asked


def test_the_command_goes_on_after_an_interruption(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    words = ["--count", "2", "--family", "tablet", "--family", "notebook", "--folder", str(tmp_path), "--name", "try"]
    fake_answers(monkeypatch, fail_at=1)
    assert judge.main(words) == 3
    assert [p.name.endswith(".unfinished.jsonl") for p in tmp_path.iterdir()] == [True]
    asked = fake_answers(monkeypatch)
    assert judge.main([*words, "--resume"]) == 0
    assert len(asked) == 3
    assert sorted(p.name.partition("-try")[2] for p in tmp_path.iterdir()) == [".json", ".md", ".rows.json.gz"]
    (result,) = tmp_path.glob("*.json")
    told = json.loads(result.read_text(encoding="utf-8"))
    assert told["figures"]["cases"] == 4
    assert told["run"]["settings"]["seed from commit"]
    assert "simulator" in told["figures"]
    assert judge.main([*words, "--resume"]) == 2


def kept(folder: Path, commit: str, rows: list[dict[str, Any]]) -> Path:
    stamp = report.stamp(commit, False, {"seed": commit, "seed from commit": True})
    return report.written(stamp, metrics.summary(rows), rows, "run", folder)


def full(key: str, policy: str = "engine", **more: Any) -> dict[str, Any]:
    return row(key, policy, faults=["C1 short 1-2 0.1"], nets=40, top=[["C1", "short"]], stop="", **more)


def test_pooling_counts_a_case_once_for_each_commit(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one = kept(tmp_path, "a" * 40, [full("x"), full("y")])
    twice = kept(tmp_path, "a" * 40, [full("x")])
    other = kept(tmp_path, "b" * 40, [full("x", right=False)])
    rows, doubled = pooled.pooled([pooled.read(path) for path in (one, twice, other)])
    assert (len(rows), doubled) == (3, 1)
    assert judge.main(["report", str(one), str(twice), str(other)]) == 0
    text = capsys.readouterr().out
    assert "2 different commits: the figures are of no single engine" in text
    assert "1 rows were there twice" in text
    assert judge.main(["report", str(tmp_path / "nothing.json")]) == 2


def test_a_late_question_is_the_one_its_family_gives_in_turn() -> None:
    asked = exam.Question("sensor-node", "turn", 2, (), options=(("nets", (15, 25)),))
    *_, last = exams("sensor-node", 3, "turn", nets=(15, 25))
    made = exam.exam_of(asked)
    assert (made.name, made.board, made.case.faults) == (last.name, last.board, last.case.faults)
