"""What is put on the bench: by name, by file, or by the seed."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from ohmwright.errors import DataError, FileFormatError, UnknownNameError
from ohmwright.practice.choice import boards, chosen, faults

DOCS = Path(__file__).resolve().parents[2] / "docs"


def test_a_name_of_a_fault_brings_its_board() -> None:
    board, fault = chosen("", "panel-core-cap", 1)
    assert board.name == "panel computer"
    assert fault.parts == ("C25",)
    assert chosen("panel", "panel-core-cap", 2) == (board, fault)
    assert chosen("panel", "none", 2)[1].defects == ()


def test_the_seed_draws_every_board_and_always_something_to_find() -> None:
    drawn = [chosen("", "random", seed) for seed in range(60)]
    assert {board.name for board, _ in drawn} == {chosen(name, "none", 1)[0].name for name in boards()}
    assert all(fault.defects for _, fault in drawn)
    assert len({fault.name for _, fault in drawn}) > len(faults()) / 2
    assert drawn[:5] == [chosen("", "", seed) for seed in range(5)]


def test_the_example_of_the_page_can_be_played(tmp_path: Path) -> None:
    text = (DOCS / "practice-format.md").read_text(encoding="utf-8")
    found = re.search(r"```json\n(.*?)```", text, re.DOTALL)
    assert found
    path = tmp_path / "mine.json"
    path.write_text(found[1], encoding="utf-8")
    assert chosen("", str(path), 1)[1].parts == ("C12",)


def test_what_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(UnknownNameError, match="grenhouse"):
        chosen("grenhouse", "none", 1)
    with pytest.raises(UnknownNameError, match="no such fault"):
        chosen("", "no such fault", 1)
    path = tmp_path / "fault.json"
    path.write_text('{"defects": []}', encoding="utf-8")
    with pytest.raises(FileFormatError, match="which board"):
        chosen("", str(path), 1)
    path.write_text('{"board": "panel computer", "defects": [{"part": "C999", "mode": "short"}]}', encoding="utf-8")
    with pytest.raises(UnknownNameError) as caught:
        chosen("", str(path), 1)
    assert "defects/0/part" in caught.value.where
    empty = tmp_path / "board.json"
    empty.write_text('{"name": "bare"}', encoding="utf-8")
    with pytest.raises(DataError, match="bare"):
        chosen(str(empty), "random", 1)


def test_the_list_names_all_of_them() -> None:
    run = subprocess.run(
        [sys.executable, "-m", "ohmwright.practice", "--list"], capture_output=True, text=True, timeout=30, check=True
    )
    assert set(re.findall(r"^fault (\S+)$", run.stdout, re.MULTILINE)) == set(faults())
    assert set(re.findall(r"^board (\S+):", run.stdout, re.MULTILINE)) == set(boards())


def test_every_fault_tells_a_story_and_none_gives_itself_away() -> None:
    for path in faults().values():
        data = json.loads(path.read_text(encoding="utf-8"))
        assert data["name"] == path.stem
        assert data["words"]
        assert not any(re.search(rf"\b{defect['part']}\b", data["words"] + path.stem) for defect in data["defects"])
