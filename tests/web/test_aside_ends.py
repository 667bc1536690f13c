"""The process beside the page's ends with it, though the page be killed while it is at something long."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

LONG = 120.0
"""What the task would take. [s]"""
PATIENCE = 20.0
MAIN = """
import sys
sys.path[:0] = {path!r}
from ohmwright.web.aside import Aside
from tests.web.test_aside_ends import busy

if __name__ == "__main__":
    Aside(copied={copied}).do(busy, {mark!r})
"""


def busy(mark: str) -> None:
    """Say which process this is, then compute for long without ever looking up."""
    Path(mark).write_text(str(os.getpid()), encoding="utf-8")
    until = time.monotonic() + LONG
    while time.monotonic() < until:
        sum(range(10_000))


def gone(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()[0]
    except OSError:
        return True
    return state == "Z"


def waited_for(happened: Callable[[], object]) -> bool:
    until = time.monotonic() + PATIENCE
    while not happened():
        if time.monotonic() > until:
            return False
        time.sleep(0.05)
    return True


@pytest.mark.parametrize("copied", [True, False])
def test_a_process_at_work_ends_with_the_page_that_was_killed(copied: bool, tmp_path: Path) -> None:
    mark, script = tmp_path / "mark", tmp_path / "page.py"
    path = [str(Path(__file__).resolve().parents[2])]
    script.write_text(MAIN.format(path=path, copied=copied, mark=str(mark)), encoding="utf-8")
    page = subprocess.Popen([sys.executable, str(script)])
    try:
        assert waited_for(lambda: mark.is_file() and mark.read_text(encoding="utf-8"))
        worker = int(mark.read_text(encoding="utf-8"))
        assert worker != page.pid
        assert not gone(worker)
        page.send_signal(signal.SIGKILL)
        page.wait(PATIENCE)
        assert waited_for(lambda: gone(worker))
    finally:
        page.kill()
