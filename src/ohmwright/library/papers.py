"""Datasheets the user handed over: kept by what is in them, so that a page can be looked at again."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from dataclasses import dataclass
from pathlib import Path

from ohmwright.errors import DataError, UnknownNameError

LARGEST = 100_000_000
"""Of one datasheet. [bytes]"""
MOST = 2_000
"""Datasheets on one shelf. [1]"""
_KEY = re.compile(r"[0-9a-f]{32}\Z")


@dataclass(frozen=True, slots=True)
class KeptPaper:
    """A datasheet on the shelf, under the name its file had."""

    key: str
    name: str
    path: Path


class Papers:
    """A folder of datasheets, each in a folder named for its contents."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def take(self, source: Path, name: str) -> KeptPaper:
        """Take a copy of a file in; the same file is there once.

        Raises
        ------
        DataError
            If it is too large, or cannot be written.
        """
        try:
            if source.stat().st_size > LARGEST:
                raise DataError("This file is too large for a datasheet.", hint=f"at most {LARGEST} bytes")
            digest = hashlib.sha256()
            with source.open("rb") as file:
                while piece := file.read(1 << 20):
                    digest.update(piece)
            key = digest.hexdigest()[:32]
            home = self.folder / key
            if not home.is_dir():
                self._make_room()
                home.mkdir(parents=True, exist_ok=True)
                fresh = home / f"{os.getpid()}.coming"
                shutil.copyfile(source, fresh)
                fresh.replace(home / _plain(name))
        except OSError as error:
            raise DataError("The datasheet cannot be kept.", where=str(self.folder), why=str(error)) from error
        return self.get(key)

    def get(self, key: str) -> KeptPaper:
        """The datasheet of that key; `UnknownNameError` where there is none."""
        found = sorted((self.folder / key).glob("*.pdf")) if _KEY.match(key) else []
        if not found:
            raise UnknownNameError("There is no such datasheet here.", where=key[:40], hint="hand the PDF over again")
        return KeptPaper(key, found[0].name, found[0])

    def _make_room(self) -> None:
        count = sum(1 for _ in self.folder.iterdir()) if self.folder.is_dir() else 0
        if count >= MOST:
            raise DataError(
                f"There are {count} datasheets on the shelf.", where=str(self.folder), hint="delete some"
            )


def _plain(name: str) -> str:
    """A file name without folders and odd marks, ending in .pdf."""
    stem = re.sub(r"[^\w .,+#()-]+", "_", re.split(r"[\\/]", name)[-1])[-100:].strip(" .")
    stem = re.sub(r"(?i)\.pdf\Z", "", stem) or "datasheet"
    return f"{stem}.pdf"
