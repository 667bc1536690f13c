"""What stands on the pages of a PDF: words and ruled lines with their places, fetched by a child process."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ohmwright.errors import DataError, FileFormatError

CHILD = Path(__file__).with_name("child.py")
LARGEST = 100_000_000
"""Largest file read. [bytes]"""
PATIENCE = 45.0
"""[s]"""
WIDEST = 2400
"""Widest picture of a page. [px]"""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on a page, y down from the top. [pt]"""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def middle(self) -> tuple[float, float]:
        """Its centre."""
        return (self.x0 + self.x1) / 2.0, (self.y0 + self.y1) / 2.0

    def around(self, other: Box) -> Box:
        """The box about both."""
        return Box(min(self.x0, other.x0), min(self.y0, other.y0), max(self.x1, other.x1), max(self.y1, other.y1))


@dataclass(frozen=True, slots=True)
class Word:
    """A word, its box, and the size of its type. [pt]"""

    text: str
    box: Box
    size: float


@dataclass(frozen=True, slots=True)
class Page:
    """One page.

    Parameters
    ----------
    number : int
        From 1.
    rules : tuple of Box
        Straight lines along the edges of the page, thinner than a point.
    pictures : float
        Share of the page that pictures cover. [1]
    """

    number: int
    width: float
    height: float
    words: tuple[Word, ...]
    rules: tuple[Box, ...] = ()
    pictures: float = 0.0


@dataclass(frozen=True, slots=True)
class Paper:
    """A document as far as it was read.

    Parameters
    ----------
    letters : tuple of int
        Letters on each page; a scanned page has none.
    """

    name: str
    count: int
    letters: tuple[int, ...]
    pages: tuple[Page, ...]

    @property
    def without_text(self) -> tuple[int, ...]:
        """Numbers of the pages that carry no text, as scanned ones do."""
        return tuple(k for k, n in enumerate(self.letters, 1) if n < 20)


def read_paper(path: Path, *, patience: float = PATIENCE) -> Paper:
    """The words and lines of a PDF.

    Raises
    ------
    FileFormatError
        If it is no PDF, is locked, or cannot be read within the limits of time and memory.
    """
    _check(path)
    raw = _child(["words", str(path)], path, patience)
    try:
        told = json.loads(raw)
        if "refused" in told:
            raise _refused(path, str(told["refused"]), str(told.get("why", "")))
        return Paper(
            path.name, int(told["count"]), tuple(told["letters"]), tuple(_page(entry) for entry in told["pages"])
        )
    except (ValueError, KeyError, TypeError) as error:
        raise FileFormatError(
            "The reader of PDFs gave no answer that makes sense.", where=str(path), why=str(error)[:200],
            hint="copy the pin table and paste it as text",
        ) from error  # fmt: skip


def page_picture(path: Path, number: int, *, width: int = 1400, patience: float = PATIENCE) -> bytes:
    """A page as a PNG picture."""
    _check(path)
    if not (1 <= number <= 100_000 and 100 <= width <= WIDEST):
        raise DataError(
            f"Page {number} at {width} pixels is not drawn.", hint=f"from page 1, and 100 to {WIDEST} pixels wide"
        )
    raw = _child(["picture", str(path), str(number), str(width)], path, patience)
    if not raw.startswith(b"\x89PNG"):
        raise FileFormatError(
            "This page cannot be drawn.", where=f"{path}, page {number}", hint="is there such a page?"
        )
    return raw


def _check(path: Path) -> None:
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(1024)
    except OSError as error:
        raise FileFormatError(
            "The file cannot be opened.", where=str(path), why=str(error), hint="check the path"
        ) from error
    if size > LARGEST:
        raise FileFormatError(
            f"The file has {size} bytes; more than {LARGEST} are not read.", where=str(path), hint="is it a datasheet?"
        )
    if b"%PDF-" not in head:
        raise FileFormatError(
            "This is not a PDF.", where=str(path), why="it does not begin as one", hint="hand over the datasheet as PDF"
        )


def _child(words: list[str], path: Path, patience: float) -> bytes:
    with tempfile.TemporaryFile() as out:
        try:
            done = subprocess.run(
                [sys.executable, "-I", str(CHILD), *words], stdin=subprocess.DEVNULL, stdout=out,
                stderr=subprocess.DEVNULL,
                timeout=patience, check=False,
            )  # fmt: skip
        except subprocess.TimeoutExpired as error:
            raise _refused(path, "slow", f"it was not done after {patience:g} s") from error
        if done.returncode != 0:
            raise _refused(path, "died", "it broke the limits of time or memory, or the reader of PDFs failed on it")
        out.seek(0)
        return out.read()


def _refused(path: Path, code: str, why: str) -> FileFormatError:
    what = {
        "locked": "This PDF is locked with a password.", "slow": "This PDF takes too long to read.",
        "died": "This PDF cannot be read.",
    }.get(code, "This PDF is damaged.")  # fmt: skip
    return FileFormatError(what, where=str(path), why=why, hint="print it anew to PDF, or paste the pin table as text")


def _page(entry: dict[str, Any]) -> Page:
    words = tuple(Word(str(w[0]), Box(*(float(v) for v in w[1:5])), float(w[5])) for w in entry["words"])
    rules = tuple(Box(*(float(v) for v in rule)) for rule in entry["rules"])
    return Page(
        int(entry["number"]), float(entry["width"]), float(entry["height"]), words, rules, float(entry["pictures"])
    )
