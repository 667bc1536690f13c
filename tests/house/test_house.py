"""Rules of the house that no tool checks."""

from __future__ import annotations

import ast
import re
import subprocess
import tomllib
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LONGEST_FUNCTION = 60
LONGEST_FILE = 400


def tracked(*endings: str) -> Iterator[Path]:
    names = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    for name in names.split("\0"):
        if name and name.endswith(endings) and (ROOT / name).is_file():
            yield ROOT / name


def found(pattern: str, *endings: str) -> list[str]:
    expression = re.compile(pattern)
    return [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()}"
        for path in tracked(*endings)
        if path != Path(__file__)
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if expression.search(line)
    ]


def test_every_exemption_says_why() -> None:
    assert found(r"#\s*type:\s*ignore(?!\[[\w, -]+\]\s*#\s*\w)", ".py") == []
    assert found(r"#\s*noqa(?!:\s*[A-Z0-9, ]+\s*[-#(]+\s*\w)", ".py") == []
    assert found(r"pragma:\s*no cover(?!\s*\W+\w)", ".py") == []


def test_functions_are_short() -> None:
    long = []
    for path in tracked(".py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                length = (node.end_lineno or node.lineno) - node.lineno + 1
                if length > LONGEST_FUNCTION:
                    long.append(f"{path.relative_to(ROOT)}: {node.name} has {length} lines")
    assert long == []


def test_files_are_short() -> None:
    lengths = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in tracked(".py")}
    assert {str(p.relative_to(ROOT)): n for p, n in lengths.items() if n > LONGEST_FILE} == {}


def test_no_path_of_one_machine_and_no_registry_host() -> None:
    text = (".py", ".md", ".toml", ".txt", ".json", ".yaml", ".yml", ".ts", ".svelte", "Makefile", "run", ".sh")
    assert found(r"(?<![\w.])/(?:root|home|work)/\w", *text) == []
    assert (
        found(r"(?:pypi\.org|pythonhosted\.org|--(?:extra-)?index-url\s|registry\.npmjs|localhost:\d+/simple)", *text)
        == []
    )


def test_nothing_is_skipped() -> None:
    assert found(r"pytest\.(?:mark\.)?(?:skip|skipif|xfail|importorskip)\b|unittest\.skip", ".py") == []


def test_locks_have_hashes() -> None:
    for name in ("demo", "test"):
        text = (ROOT / "locks" / f"{name}.txt").read_text(encoding="utf-8")
        entries = re.split(r"\n(?=\S)", text.strip())
        assert len(entries) > 10
        assert [e.split()[0] for e in entries if not e.startswith("#") and "--hash=sha256:" not in e] == []


def test_locks_hold_every_dependency() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    groups = project["optional-dependencies"]
    wanted = {"demo": project["dependencies"] + groups["build"]}
    wanted["test"] = wanted["demo"] + groups["test"]
    for lock, requirements in wanted.items():
        held = set(
            re.findall(r"^([\w.-]+)==", (ROOT / "locks" / f"{lock}.txt").read_text(encoding="utf-8"), re.MULTILINE)
        )
        assert {re.split(r"[<>=\[]", r)[0] for r in requirements} - held == set()


def test_every_room_is_bound_by_the_contract() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    layers = project["tool"]["importlinter"]["contracts"][0]["layers"]
    rooms = set(re.findall(r"\w+", " ".join(layers)))
    there = {
        p.stem for p in (ROOT / "src" / "ohmwright").iterdir() if p.suffix == ".py" or (p / "__init__.py").is_file()
    }
    assert there - {"__init__"} - rooms == set()


def test_changelog_has_an_unreleased_section() -> None:
    assert re.search(r"^## Unreleased$", (ROOT / "CHANGELOG.md").read_text(encoding="utf-8"), re.MULTILINE)


def test_make_commands_in_the_readme_exist() -> None:
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE))
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    named = set(re.findall(r"(?:`|^    )make ([a-z]+)", readme, re.MULTILINE))
    assert {"demo", "test"} <= named <= targets
