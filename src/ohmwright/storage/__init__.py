"""Where cases are kept: an append-only store in one SQLite file."""

from ohmwright.storage.casefile import CaseFile, default_path
from ohmwright.storage.memory import MemoryCases

__all__ = ["CaseFile", "MemoryCases", "default_path"]
