"""Journeys through the commands, each in a process of its own as a user has it."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import ohmwright

DOCS = Path(__file__).parents[2] / "docs"
EXAMPLE = json.loads(re.findall(r"```json\n(.*?)```", (DOCS / "case-format.md").read_text(), re.DOTALL)[0])
ENVIRONMENT = os.environ | {"PYTHONPATH": str(Path(ohmwright.__file__).parents[1]), "COLUMNS": "140", "NO_COLOR": "1"}


@pytest.fixture
def run(tmp_path):
    """Runs one command on a store of its own."""
    (tmp_path / "board.json").write_text(json.dumps(EXAMPLE["board"]))
    (tmp_path / "case.json").write_text(json.dumps(EXAMPLE))

    def one(*words, code=0):
        done = subprocess.run(
            [sys.executable, "-m", "ohmwright.cli", *words],
            capture_output=True, text=True, cwd=tmp_path, timeout=120, check=False,
            env=ENVIRONMENT | {"XDG_DATA_HOME": str(tmp_path / "data")},
        )  # fmt: skip
        assert done.returncode == code, done.stdout + done.stderr
        assert "Traceback" not in done.stderr
        return done.stdout if code == 0 else done.stderr

    return one


def test_case_goes_on_where_it_was_left(run):
    """Every command is a new process, so each of them resumes."""
    run("start", "board.json", "--name", "lamp", "--symptom", "dead", "--label-volts", "24")
    run("take", "diode", "C1.1", "GND", "0.003")
    run("off", "L1")
    shown = run("book")

    assert "diode C1.1 to GND: 3 mV" in shown
    assert "taken off L1" in shown
    assert "lamp" in run("cases")
    assert "C1" in run("suspects")


def test_undo_and_amend(run):
    """Nothing is erased."""
    run("start", "board.json", "--name", "lamp")
    run("take", "diode", "C1.1", "GND", "0.3")
    run("amend", "e2", "0.003")
    assert "e2 put right" in run("book")
    run("undo")

    assert "[taken back]" in run("book")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("take", "diode", "C1.1", "GND", "banana"), "banana"),
        (("take", "diode", "C9.1", "GND", "0.1"), "C9.1"),
        (("saw", "C1", "crak"), "crack"),
        (("off", "C7"), "C7"),
        (("undo", "x"), "e7"),
        (("next", "--case", "lamb"), "lamp"),
        (("work", "nothing.json"), "nothing.json"),
        (("start", "board.txt"), "kicad_pcb"),
    ],
)
def test_errors_name_what_and_what_to_try(run, words, says):
    """Exit code 1 and no traceback."""
    run("start", "board.json", "--name", "lamp")

    assert says in run(*words, code=1)


def test_no_case_yet(run):
    """The first thing a newcomer may type."""
    assert "ohmwright start" in run("next", code=1)


def test_work_answers_with_json(run):
    """Another program's door."""
    answer = json.loads(run("work", "case.json"))

    assert {"suspects", "groups", "claims", "tests", "sequence"} <= set(answer)
    assert sum(s["probability"] for s in answer["suspects"]) + answer["rest"] == pytest.approx(1.0, abs=1e-6)


def test_write_up_cites_the_reading(run):
    """As Markdown and as plain text."""
    run("start", "board.json", "--name", "lamp")
    run("take", "diode", "C1.1", "GND", "0.003")

    assert run("write-up").startswith("# lamp\n")
    assert run("write-up", "--plain").startswith("lamp\n====\n")


def test_documented_python_example_runs(tmp_path):
    """As it stands on the page."""
    script = re.findall(r"```python\n(.*?)```", (DOCS / "python-api.md").read_text(), re.DOTALL)[0]
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, env=ENVIRONMENT, cwd=tmp_path, timeout=120,
        check=False,
    )  # fmt: skip

    assert done.returncode == 0, done.stderr
    assert "C1" in done.stdout


@pytest.mark.slow
@pytest.mark.parametrize("seed", ["2", "16"])
def test_demo_proves_the_truly_faulty_part(run, seed):
    """Unattended, to the proof; the exit code says whether it was right."""
    shown = run("demo", "--check", "--seed", seed)

    assert "sign 2" in shown
    assert "Right." in shown
