"""Words into lines, and lines into pieces with wide gaps between them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ohmwright.datasheets.paper import Box, Page, Word

GAP = 0.75
"""A gap wider than this many letter heights parts two pieces. [1] a blank is 0.28 of it in Helvetica"""


@dataclass(frozen=True, slots=True)
class Piece:
    """Words of one line that stand close together."""

    text: str
    box: Box
    size: float


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a page, or of a part of it."""

    words: tuple[Word, ...]
    box: Box

    @property
    def text(self) -> str:
        """The words with blanks between them."""
        return " ".join(word.text for word in self.words)

    @property
    def size(self) -> float:
        """Size of its largest type. [pt]"""
        return max(word.size for word in self.words)

    def pieces(self, cuts: Sequence[float] = ()) -> tuple[Piece, ...]:
        """Its pieces; also cut where an upright rule stands."""
        out: list[list[Word]] = []
        for word in self.words:
            last = out[-1][-1] if out else None
            apart = last is None or word.box.x0 - last.box.x1 > GAP * max(word.size, last.size)
            if last is not None and not apart:
                apart = any(last.box.x1 - 1.0 <= x <= word.box.x0 + 1.0 for x in cuts)
            if apart:
                out.append([word])
            else:
                out[-1].append(word)
        return tuple(
            Piece(" ".join(w.text for w in words), box_of(w.box for w in words), max(w.size for w in words))
            for words in out
        )


def lines_of(words: Iterable[Word]) -> tuple[Line, ...]:
    """Lines from the top down; words whose middles lie within a third of a letter are on one line."""
    out: list[list[Word]] = []
    for word in sorted(words, key=lambda w: (w.box.middle[1], w.box.x0)):
        height = word.box.y1 - word.box.y0
        if out and abs(out[-1][0].box.middle[1] - word.box.middle[1]) < 0.33 * height:
            out[-1].append(word)
        else:
            out.append([word])
    return tuple(Line(tuple(sorted(words, key=lambda w: w.box.x0)), box_of(w.box for w in words)) for words in out)


def box_of(boxes: Iterable[Box]) -> Box:
    """The box about all of them."""
    found = list(boxes)
    return Box(min(b.x0 for b in found), min(b.y0 for b in found), max(b.x1 for b in found), max(b.y1 for b in found))


def gutter_of(page: Page) -> float | None:
    """The middle of the empty strip that parts a page set in two columns, else None."""
    body = [w for w in page.words if 0.07 * page.height < w.box.middle[1] < 0.93 * page.height]
    if len(body) < 40:
        return None
    best: tuple[float, float] | None = None
    for step in range(35, 66):
        x = page.width * step / 100.0
        crossing = sum(w.box.x0 - 3.0 < x < w.box.x1 + 3.0 for w in body)
        left = sum(w.box.x1 < x for w in body)
        if crossing <= 0.01 * len(body) and 0.2 < left / len(body) < 0.8:
            off = abs(x - page.width / 2.0)
            if best is None or off < best[0]:
                best = off, x
    if best is None:
        return None
    x = best[1]
    sides = [[w for w in row.words if w.box.x1 <= x] for row in lines_of(body)]
    filled = [side for side in sides if side]
    return x if sum(_runs(side) for side in filled) >= 0.25 * len(filled) else None


def _runs(side: Sequence[Word]) -> bool:
    """Whether words of a line are running text, as no cells of numbers and names are: four in a row close together."""
    close = 1
    for a, b in pairwise(side):
        close = close + 1 if b.box.x0 - a.box.x1 < GAP * b.size else 1
        if close >= 4:
            return True
    return False
