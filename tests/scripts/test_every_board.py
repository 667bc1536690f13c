"""The script that judges us must itself be able to say that we were wrong."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from scripts.every_board import READ_HEADS, OutOfTimeError, Row, at_most, hidden_fault, hide_and_seek, judge, read_row
from tests.small_board import small_board

from ohmwright.devices import Mode
from ohmwright.diagnosis.answer import Claim, Diagnosis, Group, Level, Suspect
from ohmwright.practice.chance import dice_for


def suspect(part: str, probability: float) -> Suspect:
    return Suspect(f"{part}:short", part, "short", (f"{part}.1", f"{part}.2"), f"{part} shorted", probability)


def diagnosis(*members: str, claim: tuple[Level, str] | None = None) -> Diagnosis:
    suspects = (suspect("C1", 0.6), suspect("C2+R9", 0.3), suspect("C3", 0.1))
    groups = (Group(tuple(f"{name}:short" for name in members), 0.9, "alike"),) if members else ()
    return Diagnosis(suspects, groups, (Claim(claim[0], claim[1], "it is"),) if claim else ())


@pytest.mark.parametrize(
    ("members", "claim", "true", "result"),
    [
        (("C1",), None, "C1", "right"),
        (("C1",), None, "C3", "not found"),
        (("C1", "C2+R9"), None, "R9", "right"),
        ((), None, "C1", "right"),
        ((), None, "C3", "not found"),
        (("C1",), (Level.PROVEN, "C1"), "C1", "proven"),
        (("C1",), (Level.PROVEN, "C3"), "C1", "WRONG PROOF"),
        (("C1",), (Level.PROVEN, ""), "C1", "WRONG PROOF"),
        (("C1",), (Level.LIKELY, "C3"), "C1", "right"),
    ],
)
def test_a_case_is_judged(members: tuple[str, ...], claim: tuple[Level, str] | None, true: str, result: str) -> None:
    row = Row("board", 1)
    judge(row, diagnosis(*members, claim=claim), true)
    assert row.result == result


def test_hidden_faults_differ_by_seed_and_join_two_nets() -> None:
    board = small_board()
    drawn = [hidden_fault(board, dice_for(seed, "hidden")) for seed in range(60)]
    assert drawn == [hidden_fault(board, dice_for(seed, "hidden")) for seed in range(60)]
    assert len({defect.part for defect in drawn if defect}) > 8
    for defect in drawn:
        assert defect is not None
        part = board.part(defect.part)
        assert len({part.pin(number).net for number in defect.pins} - {None}) == 2
        assert Mode(defect.mode) in (Mode.SHORT, Mode.LEAK, Mode.OPEN)


def test_time_runs_out() -> None:
    with pytest.raises(OutOfTimeError), at_most(0.05):
        time.sleep(5.0)
    time.sleep(0.06)  # no alarm is left behind by a block that ended in time
    with at_most(0.05):
        pass
    time.sleep(0.06)


def test_a_case_without_time_is_not_judged() -> None:
    row = hide_and_seek(small_board(), 1, 0.001)
    assert (row.result, row.end) == ("not judged", "stopped after 0 s")


def test_a_refused_file_gets_a_line(tmp_path: Path) -> None:
    path = tmp_path / "not-a-board.kicad_pcb"
    path.write_text("(kicad_sch (version 20211123))")
    board, cells = read_row(path, 1.0)
    assert board is None
    assert len(cells) == len(READ_HEADS)
    assert cells[1].startswith("refused: This is not a KiCad board file.")


@pytest.mark.slow
def test_a_whole_case_is_played() -> None:
    row = hide_and_seek(small_board(), 3, 120.0)
    assert row.watch.tests > 0
    assert row.end
    assert row.result in ("proven", "right", "not found", "WRONG PROOF")
