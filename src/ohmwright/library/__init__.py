"""An index over the symbol and footprint libraries that the user has installed, and the user's own part book."""

from ohmwright.library.book import OwnBook
from ohmwright.library.build import build_index, installed_libraries
from ohmwright.library.entry import Found, Land, Pinned
from ohmwright.library.index import LibraryIndex, default_index
from ohmwright.library.notes import AtHand, Limit, Notes, Spot
from ohmwright.library.papers import KeptPaper, Papers

__all__ = [
    "AtHand", "Found", "KeptPaper", "Land", "LibraryIndex", "Limit", "Notes", "OwnBook", "Papers", "Pinned", "Spot",
    "build_index", "default_index", "installed_libraries",
]  # fmt: skip
