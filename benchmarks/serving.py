"""The program's own server in a process of its own, for benchmarks that look at the page."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


@contextmanager
def served(home: Path, *words: str) -> Iterator[str]:
    """The address of the page while its server runs, its cases in that folder."""
    command = [sys.executable, "-m", "ohmwright.web", "--no-browser", "--cases", str(home / "cases.sqlite"), *words]
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as server:
        try:
            assert server.stdout is not None
            address = re.search(r"http://\S+", server.stdout.readline())
            assert address is not None, "the page did not start"
            yield address[0]
        finally:
            server.terminate()
