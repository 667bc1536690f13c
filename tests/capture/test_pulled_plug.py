"""A pulled plug at any moment loses nothing that was acknowledged: the process is killed, the file is read again."""

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from ohmwright.bootstrap import desk_at
from ohmwright.casebook.events import ReadingRecorded
from ohmwright.usecases import open_case
from tests.small_board import small_board

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize("seed", range(2))
def test_what_was_heard_as_taken_is_there_after_kill_9(tmp_path, seed):
    file = tmp_path / "cases.sqlite"
    board = small_board()
    net = next(net.name for net in board.nets if net.name != board.ground)
    open_case(desk_at(file), "lamp", board)
    taker = subprocess.Popen(
        [sys.executable, str(ROOT / "tests" / "capture" / "taker.py"), str(file), net, board.ground],
        stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
    )  # fmt: skip
    told = [taker.stdout.readline()]
    time.sleep(random.Random(seed).uniform(0.05, 0.6))
    os.kill(taker.pid, signal.SIGKILL)
    told += [line for line in taker.stdout.read().splitlines() if len(line.split()) == 2]
    taker.wait()
    taker.stdout.close()
    events = {event.sequence: event.what for event in desk_at(file).store.events("lamp")}
    acknowledged = [line.split() for line in told]
    assert len(acknowledged) > 1
    for sequence, value in acknowledged:
        kept = events[int(sequence)]
        assert isinstance(kept, ReadingRecorded)
        assert kept.value == float(value)
    assert len(events) - 1 - len(acknowledged) in (0, 1)  # at most the one that was on the disk and not yet told
