"""Where the pictures of cases are kept: each under the SHA-256 of its file, with its tiles beside it."""

from __future__ import annotations

import ctypes
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from ohmwright.errors import DataError, FileFormatError, UnknownNameError
from ohmwright.pictures.intake import MOST_PIXELS, WRONG
from ohmwright.pictures.pyramid import Pyramid

LARGEST_FILE = 250_000_000
"""Bytes of one picture. [B]"""
PATIENCE = 180.0
"""How long decoding and cutting may take on a slow machine. [s]"""
_KEY = re.compile(r"[0-9a-f]{64}\Z")
_STARTS = {
    b"\xff\xd8\xff": "JPEG", b"\x89PNG\r\n\x1a\n": "PNG", b"II*\x00": "TIFF", b"MM\x00*": "TIFF",
    b"II+\x00": "TIFF", b"MM\x00+": "TIFF",
}  # fmt: skip
"""First bytes of the formats that are read: ITU-T T.81, ISO/IEC 15948, TIFF 6.0, and BigTIFF."""
_HEIC = frozenset({b"heic", b"heix", b"mif1", b"heim", b"heis"})
"""Brands behind `ftyp` of still pictures in HEIC: ISO/IEC 23008-12, annex B, and its `mif1`."""


@dataclass(frozen=True, slots=True)
class KeptPicture:
    """A picture on the shelf. Sizes in pixels, once turned upright."""

    key: str
    width_px: int
    height_px: int


class PictureShelf:
    """A folder of pictures.

    Parameters
    ----------
    folder : Path
        Made when the first picture comes.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def take(self, source: Path) -> KeptPicture:
        """Take the picture in a file in; the file stays where it is.

        It is on the disk, whole and cut, when this returns; a picture that is there already is not cut again.

        Raises
        ------
        FileFormatError
            If it is no picture that can be read, with the reason.
        """
        self._folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=self._folder, prefix=".coming-") as name:
            made = Path(name) / "made"
            made.mkdir()
            file = made / "original"
            kind = _kind(source)
            shutil.copyfile(source, file)
            key = _digest(file)
            if not self._place(key).is_dir():
                _cut_aside(file.rename(made / f"original.{kind.lower()}"), made / "tiles")
                _flush(made)
                self._bring_in(made, key)
        return self.kept(key)

    def kept(self, key: str) -> KeptPicture:
        """A picture that was taken in."""
        pyramid = self.pyramid(key)
        return KeptPicture(key, pyramid.width_px, pyramid.height_px)

    def pyramid(self, key: str) -> Pyramid:
        """How a picture is cut."""
        file = self._place(key) / "tiles" / "tiles.json"
        if not file.is_file():
            raise UnknownNameError.among("picture", key[:12], ())
        size = json.loads(file.read_text(encoding="utf-8"))
        return Pyramid(int(size["width"]), int(size["height"]))

    def tile(self, key: str, level: int, x: int, y: int) -> bytes:
        """One tile, JPEG. [1]"""
        if not self.pyramid(key).holds(level, x, y):
            raise UnknownNameError.among("tile", f"{level}/{x}-{y}", ())
        return (self._place(key) / "tiles" / str(level) / f"{x}-{y}.jpg").read_bytes()

    def keep(self, of: str, into: Callable[[Path], object]) -> KeptPicture:
        """Keep a picture made from others under the hash of `of`, which says what it was made from and how.

        Parameters
        ----------
        into : callable
            Told an empty folder, it cuts the picture's tiles into it. Not called where the picture is here already.
        """
        self._folder.mkdir(parents=True, exist_ok=True)
        key = hashlib.sha256(of.encode()).hexdigest()
        with tempfile.TemporaryDirectory(dir=self._folder, prefix=".coming-") as name:
            made = Path(name) / "made"
            (made / "tiles").mkdir(parents=True)
            if not self._place(key).is_dir():
                into(made / "tiles")
                (made / "made-from.txt").write_text(of + "\n", encoding="utf-8")
                _flush(made)
                self._bring_in(made, key)
        return self.kept(key)

    def _bring_in(self, made: Path, key: str) -> None:
        """Put what was made in its place; whoever made the same meanwhile was first, and theirs stays."""
        try:
            made.rename(self._place(key))
        except OSError:
            if not self._place(key).is_dir():
                raise

    def _place(self, key: str) -> Path:
        if not _KEY.match(key):
            raise UnknownNameError.among("picture", key[:12], ())
        return self._folder / key


def _kind(file: Path) -> str:
    size = file.stat().st_size
    if size > LARGEST_FILE:
        raise FileFormatError(f"A picture of {size} bytes.", hint=f"at most {LARGEST_FILE // 1_000_000} MB")
    with file.open("rb") as stream:
        start = stream.read(16)
    for first, kind in _STARTS.items():
        if start.startswith(first):
            return kind
    boxed = start[4:8] == b"ftyp"
    if boxed and start[8:12] in _HEIC:
        return "HEIC"
    raise FileFormatError(
        "This is no picture that can be read here.",
        why="it is AVIF or a film" if boxed else "it begins like neither JPEG nor PNG nor TIFF nor HEIC",
        hint="save it as JPEG and choose it again",
    )


def _cut_aside(file: Path, into: Path) -> None:
    """Decode in a process of its own, which may break without breaking anything else."""
    into.mkdir()
    command = [sys.executable, "-m", "ohmwright.pictures.intake", str(file), str(into)]
    # The child finds its libraries where this process found them.
    surroundings = {**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}
    try:
        done = subprocess.run(command, capture_output=True, timeout=PATIENCE, check=False, env=surroundings)
        answer = json.loads(done.stdout)
    except subprocess.TimeoutExpired as error:
        raise FileFormatError("The picture took too long to decode.", hint="save it as JPEG anew") from error
    except ValueError as error:
        raise FileFormatError(WRONG["damaged"], why="its decoder broke down", hint="save it as JPEG anew") from error
    if "wrong" in answer:
        wrong = str(answer["wrong"])
        hint = f"at most {MOST_PIXELS // 1_000_000} megapixels" if wrong == "large" else "save it as JPEG anew"
        raise FileFormatError(WRONG.get(wrong, WRONG["damaged"]), why=str(answer.get("why", "")), hint=hint)


def _digest(file: Path) -> str:
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _flush(folder: Path) -> None:
    """See all of it onto the disk before it gets its name: an event will say that it is there."""
    try:
        if _flushed_at_once(folder):
            return
        for path in (*sorted(folder.rglob("*")), folder):
            number = os.open(path, os.O_RDONLY)
            try:
                os.fsync(number)
            finally:
                os.close(number)
    except OSError as error:
        raise DataError(
            "The picture could not be kept.", why=str(error.strerror), hint="see whether the disk is full"
        ) from error


def _flushed_at_once(folder: Path) -> bool:
    """One call for the whole file system, where there is one (Linux): hundreds of tiles take seconds one by one."""
    syncfs = getattr(ctypes.CDLL(None), "syncfs", None) if sys.platform == "linux" else None
    if syncfs is None:
        return False
    number = os.open(folder, os.O_RDONLY)
    try:
        return bool(syncfs(number) == 0)
    finally:
        os.close(number)
