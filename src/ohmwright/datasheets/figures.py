"""Drawings of typical circuits, and the names in them that the board beside can be linked with."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from ohmwright.datasheets.lines import Line, box_of, lines_of
from ohmwright.datasheets.paper import Box, Page

CAPTION = re.compile(
    r"(?i)(?:figure|fig\.?)\s*\d+[.:]?\s.*(?:typical|application|simplified|schematic)|typical\s+(?:application|operating)\s+"
    r"(?:circuit|schematic|diagram)|simplified\s+(?:schematic|circuit|application)|application\s+(?:circuit|schematic)"
)
"""What a typical circuit is called below or above its drawing."""
REFERENCE = re.compile(r"(?:[RCLDQT]|FB)\d{1,3}[A-Z]?|[RCL](?:IN|OUT|BST|BOOT|SS|FB|FF|SNS|T|B|EN|VCC|ILIM|SET)\d?")
"""References of parts in a drawing."""
FARTHEST = 330.0
"""A drawing is looked for so far above its caption, and below a title. [pt]"""


@dataclass(frozen=True, slots=True)
class At:
    """A page and a place on it."""

    page: int
    box: Box


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing of a typical circuit, with the places in it that can be linked with the board.

    Parameters
    ----------
    at : At
        Its caption, or the line that names it.
    box : Box
        What is drawn, as far as it can be told from the lines of the page.
    pins : tuple of (str, Box)
        Names of pins as the pin table has them, where they stand in the drawing.
    parts : tuple of (str, Box)
        References such as ``L1`` and ``COUT`` that stand in it.
    """

    at: At
    words: str
    box: Box
    pins: tuple[tuple[str, Box], ...] = ()
    parts: tuple[tuple[str, Box], ...] = ()


def figures_of(pages: Sequence[Page], pin_names: Collection[str]) -> Iterator[Figure]:
    """Drawings with a caption that says typical circuit, the fullest first.

    Parameters
    ----------
    pin_names : collection of str
        Names from the pin table, to be found in the drawing.
    """
    found = []
    for page in pages:
        for line in lines_of(page.words):
            if not CAPTION.search(line.text) or "....." in line.text:
                continue
            below = not re.match(r"(?i)fig", line.text.strip())
            for figure, worth in _drawn(page, line, below, pin_names):
                found.append((worth, figure))
    yield from (figure for _, figure in sorted(found, key=lambda entry: -entry[0])[:6])


def _drawn(page: Page, line: Line, below: bool, names: Collection[str]) -> Iterator[tuple[Figure, float]]:
    """What is drawn above a caption, or below a title, if enough is."""
    low, high = (line.box.y1, line.box.y1 + FARTHEST) if below else (line.box.y0 - FARTHEST, line.box.y0)
    rules = [r for r in page.rules if low <= r.y0 and r.y1 <= high]
    if len(rules) < 8 and page.pictures < 0.1:
        return
    box = box_of(rules) if rules else Box(line.box.x0, max(low, 0.0), line.box.x1, min(high, page.height))
    words = [w for w in page.words if low <= w.box.y0 and w.box.y1 <= high and _near(w.box, box)]
    plain = {_plain(name): name for name in names}
    pins = tuple((plain[_plain(w.text)], w.box) for w in words if _plain(w.text) in plain)
    parts = tuple((w.text, w.box) for w in words if REFERENCE.fullmatch(w.text))
    worth = (1.0 if below else 2.0) * min(len(rules) / 20.0 + 4.0 * page.pictures, 3.0) + min(len(pins), 8) / 2.0
    yield Figure(At(page.number, line.box), line.text.strip()[:120], box, pins, parts), worth


def _near(word: Box, box: Box) -> bool:
    return box.x0 - 30 <= word.middle[0] <= box.x1 + 30 and box.y0 - 20 <= word.middle[1] <= box.y1 + 20


def _plain(text: str) -> str:
    return "".join(mark for mark in text.upper() if mark.isalnum() or mark in "+-/")
