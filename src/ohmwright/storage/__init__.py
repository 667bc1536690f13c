"""Where cases are kept: an append-only store in one SQLite file."""

from ohmwright.storage.casefile import CaseFile, default_path

__all__ = ["CaseFile", "default_path"]
