"""An index over the symbol and footprint libraries that the user has installed, and the user's own part book."""

from ohmwright.library.book import OwnBook
from ohmwright.library.build import build_index, installed_libraries
from ohmwright.library.entry import Found, Land, Pinned
from ohmwright.library.index import LibraryIndex, default_index

__all__ = ["Found", "Land", "LibraryIndex", "OwnBook", "Pinned", "build_index", "default_index", "installed_libraries"]
