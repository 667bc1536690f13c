"""What the command line hands over to: programs of their own, each started in a process of its own."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence


def page_with(words: Sequence[str]) -> int:
    """Serve the page until it is stopped; its exit code."""
    return subprocess.call([sys.executable, "-m", "ohmwright.web", *words])


def practice_with(words: Sequence[str]) -> int:
    """Run the practice bench until it is stopped; its exit code."""
    return subprocess.call([sys.executable, "-m", "ohmwright.practice", *words])
