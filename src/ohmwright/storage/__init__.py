"""Where cases are kept: an append-only store in one SQLite file, `casefile.CaseFile`, or memory.

The file is not loaded with the room: SQLAlchemy takes a quarter of a second, which who keeps nothing does not pay.
"""

from ohmwright.storage.memory import MemoryCases
from ohmwright.storage.place import default_path

__all__ = ["MemoryCases", "default_path"]
