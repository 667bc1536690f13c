"""Where cases are kept."""

from __future__ import annotations

import os
from pathlib import Path


def default_path() -> Path:
    """Where cases are kept unless told otherwise (XDG Base Directory Specification: data home)."""
    home = os.environ.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    return Path(home) / "ohmwright" / "cases.sqlite"
