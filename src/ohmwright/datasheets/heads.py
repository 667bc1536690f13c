"""The heads of tables, by their words; and the columns of text on a page in which tables stand."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ohmwright.datasheets.lines import Line, Piece, box_of, gutter_of, lines_of
from ohmwright.datasheets.paper import Box, Page, Word

Vocabulary = Mapping[str, re.Pattern[str]]


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its edges, what its head says, and the sort of head that is."""

    x0: float
    x1: float
    head: str
    sort: str
    group: str = ""


@dataclass(frozen=True, slots=True)
class Head:
    """The head of a table: its columns, its height, its reach to both sides, and the size of its type. [pt]"""

    columns: tuple[Column, ...]
    top: float
    foot: float
    left: float
    right: float
    size: float


@dataclass(frozen=True, slots=True)
class Area:
    """A column of text on a page, with the rules across and upright in it."""

    page: Page
    left: float
    right: float
    lines: tuple[Line, ...]
    across: tuple[Box, ...]
    upright: tuple[Box, ...]
    foot: float


def areas_of(page: Page) -> list[tuple[float, float]]:
    """Left and right edge of each column of text of a page. [pt]"""
    gutter = gutter_of(page)
    return [(0.0, page.width)] if gutter is None else [(0.0, gutter), (gutter, page.width)]


def area_of(page: Page, left: float, right: float) -> Area:
    """The lines and rules between two edges, without the lines that every page has at its head and foot."""
    inside = [w for w in page.words if left <= w.box.middle[0] < right]
    body = _without_running(page, inside)
    rules = [r for r in page.rules if left - 5 <= (r.x0 + r.x1) / 2 <= right + 5]
    across = tuple(r for r in _merged(rules, lying=True) if r.x1 - r.x0 > 8)
    upright = tuple(r for r in _merged(rules, lying=False) if r.y1 - r.y0 > 4)
    foot = max((w.box.y1 for w in body), default=page.height)
    return Area(page, left, right, lines_of(body), across, upright, foot)


_RUNNING = re.compile(r"(?i)\bpage\b|\brev(?:ision)?\b|www\.|https?:|©|copyright|^\s*\d+\s*$|submit\s+doc")
_MARGIN = 0.055
"""Share of the page at its head and foot in which lines that every page has may stand. [1]"""


def _without_running(page: Page, words: Sequence[Word]) -> list[Word]:
    """The words but for those of lines that every page has: in the margin, and small or saying page or revision."""
    inner = [w for w in words if _MARGIN * page.height < w.box.middle[1] < (1.0 - _MARGIN) * page.height]
    sizes = sorted(w.size for w in inner)
    usual = sizes[len(sizes) // 2] if sizes else 0.0
    kept = set(map(id, inner))
    for line in lines_of(w for w in words if id(w) not in kept):
        if line.size >= 0.95 * usual and not _RUNNING.search(line.text):
            inner += line.words
    return inner


def _merged(rules: Sequence[Box], *, lying: bool) -> list[Box]:
    """Rules of one direction, those on one line that touch made one: some programs draw every cell's edge by itself."""
    turned = [r if lying else Box(r.y0, r.x0, r.y1, r.x1) for r in rules]
    flat = sorted((r for r in turned if r.y1 - r.y0 < 1.5 and r.x1 - r.x0 > 0.3), key=lambda r: (round(r.y0), r.x0))
    out: list[Box] = []
    for rule in flat:
        last = out[-1] if out else None
        if last is not None and abs(last.y0 - rule.y0) < 1.2 and rule.x0 <= last.x1 + 2.0:
            out[-1] = Box(last.x0, last.y0, max(last.x1, rule.x1), last.y1)
        else:
            out.append(rule)
    return [r if lying else Box(r.y0, r.x0, r.y1, r.x1) for r in out]


def side_by_side(head: Head) -> list[Head]:
    """A head that says the same twice belongs to two halves of one table that stand beside one another."""
    sorts = [column.sort for column in head.columns]
    for n in (2, 3, 4):
        size = len(sorts) // n
        if len(sorts) == n * size and size >= 2 and sorts == sorts[:size] * n and len(set(sorts[:size])) == size:
            parts = [head.columns[k * size : (k + 1) * size] for k in range(n)]
            # A column of a half reaches to just before the first head of the next half.
            lefts = [head.left, *(part[0].x0 - 4.0 for part in parts[1:]), head.right]
            return [Head(part, head.top, head.foot, lefts[k], lefts[k + 1], head.size) for k, part in enumerate(parts)]
    return [head]


def sort_of(text: str, words: Vocabulary) -> str:
    """The sort of head that a text is, or an empty text."""
    bare = re.sub(r"\s*\(\d\)$|[*:]+$", "", text.strip()).strip()
    return next((sort for sort, pattern in words.items() if pattern.fullmatch(bare)), "")


def head_at(area: Area, place: int, words: Vocabulary, needed: Sequence[tuple[str, ...]]) -> Head | None:
    """A head that begins on that line: it and up to three more close below it."""
    first = area.lines[place]
    if not any(sort_of(piece.text, words) for piece in _head_pieces(area, first, words)):
        return None
    band = [first]
    best: Head | None = None
    for line in [*area.lines[place + 1 : place + 4], None]:
        head = _as_head(area, band, words, needed)
        if head is not None and (best is None or len(head.columns) >= len(best.columns)):
            best = head
        if line is None or line.box.y0 - band[-1].box.y1 > 0.9 * first.size or line.size > 1.3 * first.size:
            break
        pieces = _head_pieces(area, line, words)
        above = [piece for before in band[-2:] for piece in _head_pieces(area, before, words)]
        fit = sum(
            bool(sort_of(piece.text, words) or PACKAGE.search(piece.text) or _ends_above(piece, above))
            for piece in pieces
        )
        if fit < 0.6 * len(pieces):
            break
        band.append(line)
    return best


PACKAGE = re.compile(
    r"\b(?:[A-Z]*(?:SO(?:IC|P|N|J)?|SOT|QFN|DFN|SON|QFP|BGA|CSP|LGA|DIP|MSOP|PDIP|TO|SC|DSBGA|TQFP|LQFP|PLCC)"
    r"(?:-?\d+\w*)?(?:-\d+)*|DBV|DCK|RGE|RGT|PWP|DGK|DRV|YFF|DDA)\b"
)
"""Names of bodies (JEDEC and makers' habit)."""


def pieces_of(area: Area, line: Line) -> tuple[Piece, ...]:
    """The pieces of a line, cut at upright rules too."""
    cuts = [r.x0 for r in area.upright if r.y0 - 2 <= line.box.middle[1] <= r.y1 + 2]
    return line.pieces(sorted(cuts))


def _as_head(area: Area, band: Sequence[Line], words: Vocabulary, needed: Sequence[tuple[str, ...]]) -> Head | None:
    pieces = _rejoined([piece for line in band for piece in _head_pieces(area, line, words)])
    over = {a for a in pieces for b in pieces if _stands_over(a, b)}
    under = [b for b in pieces if b not in over]
    groups = [a for a in over if sort_of(a.text, words) and sum(_covers(a, b, pieces, over) for b in under) >= 2]
    stacked = _stacked([p for p in pieces if p not in groups])
    columns: list[tuple[Piece, str, str]] = []
    for piece in sorted(stacked, key=lambda p: p.box.x0):
        group = next((g for g in groups if _covers(g, piece, pieces, over)), None)
        sort = sort_of(piece.text, words) or (sort_of(group.text, words) if group else "")
        columns.append((piece, sort, group.text if group else ""))
    if "number" in words and not any(sort == "number" for _, sort, _ in columns):
        # Where only the bodies are named, what stands under their names are numbers of pins.
        columns = [(p, sort or ("number" if PACKAGE.fullmatch(p.text) else ""), group) for p, sort, group in columns]
    sorts = {sort for _, sort, _ in columns}
    if len(columns) < 2 or not all(sorts & set(group) for group in needed):
        return None
    if sum(not sort for _, sort, _ in columns) > len(columns) / 2:
        return None
    box = box_of(piece.box for piece in pieces)
    heads = tuple(Column(p.box.x0, p.box.x1, p.text, sort, group) for p, sort, group in columns)
    left, right = _reach(area, box, heads)
    return Head(heads, box.y0, box.y1, left, right, max(p.size for p in pieces))


def _head_pieces(area: Area, line: Line, words: Vocabulary) -> tuple[Piece, ...]:
    """The pieces of a line; heads that stand as close as words of a sentence are told apart by what they say."""
    out: list[Piece] = []
    for piece in pieces_of(area, line):
        inside = [w for w in line.words if piece.box.x0 - 0.5 <= w.box.x0 and w.box.x1 <= piece.box.x1 + 0.5]
        parts = [] if sort_of(piece.text, words) else _told_apart([w.text for w in inside], words)
        if len(parts) > 1:
            start = 0
            for n in parts:
                own = inside[start : start + n]
                out.append(Piece(" ".join(w.text for w in own), box_of(w.box for w in own), piece.size))
                start += n
        else:
            out.append(piece)
    return tuple(out)


def _told_apart(texts: Sequence[str], words: Vocabulary) -> list[int]:
    """How many words each of several heads in a row has; empty where not all of them are heads."""
    if not texts:
        return []
    for n in range(min(3, len(texts)), 0, -1):
        if sort_of(" ".join(texts[:n]), words):
            rest = _told_apart(texts[n:], words)
            if rest or n == len(texts):
                return [n, *rest]
    return []


def _ends_above(piece: Piece, above: Sequence[Piece]) -> bool:
    """Whether a piece is the rest of a word that was broken at a hyphen above it."""
    return any(
        a.text.endswith("-") and _stands_over(a, piece) and piece.box.y0 - a.box.y1 < 0.6 * a.size for a in above
    )


def _stands_over(a: Piece, b: Piece) -> bool:
    return a.box.y1 <= b.box.y0 + 2 and a.box.x0 < b.box.x1 and b.box.x0 < a.box.x1


def _covers(a: Piece, b: Piece, pieces: Sequence[Piece], over: set[Piece]) -> bool:
    """Whether a piece is the common head of another: the other is below, and nearest to it of all that could be."""
    if b in over or b.box.y0 < a.box.y1 - 2:
        return False
    if b.box.x0 >= a.box.x0 - 3:
        # Set to the left of what it covers: it reaches until the next head that is not below it.
        between = [
            p
            for p in pieces
            if p is not a
            and p.box.y0 < b.box.y0 - 2
            and a.box.x0 < p.box.x0 <= b.box.x0 + 3
            and not (PACKAGE.search(p.text) or p.text.endswith("-"))
        ]
        if not between:
            return True
    rivals = [p for p in pieces if abs(p.box.y0 - a.box.y0) < 3]
    nearest = min(rivals, key=lambda p: _distance(p, b))
    reach = max(60.0, 2.2 * (a.box.x1 - a.box.x0))
    return nearest is a and _distance(a, b) < reach


def _distance(a: Piece, b: Piece) -> float:
    return abs(a.box.middle[0] - b.box.middle[0])


def _rejoined(pieces: Sequence[Piece]) -> list[Piece]:
    """Words that were broken at a hyphen made whole."""
    out: list[Piece] = []
    for piece in sorted(pieces, key=lambda p: (p.box.y0, p.box.x0)):
        for k, other in enumerate(out):
            if _ends_above(piece, [other]):
                out[k] = Piece(f"{other.text}{piece.text}", other.box.around(piece.box), other.size)
                break
        else:
            out.append(piece)
    return out


def _stacked(pieces: Sequence[Piece]) -> list[Piece]:
    """Heads of two lines ("PIN" over "NO.") made one."""
    out: list[Piece] = []
    for piece in sorted(pieces, key=lambda p: (p.box.y0, p.box.x0)):
        for k, other in enumerate(out):
            if _stands_over(other, piece) and piece.box.y0 - other.box.y1 < piece.size:
                out[k] = Piece(f"{other.text} {piece.text}", other.box.around(piece.box), other.size)
                break
        else:
            out.append(piece)
    return out


def _reach(area: Area, box: Box, heads: Sequence[Column]) -> tuple[float, float]:
    """Left and right edge of a table: by the rules at its head, else by the column of text it stands in."""
    near = [r for r in area.across if box.y0 - 14 <= r.y0 <= box.y1 + 14 and r.x1 - r.x0 > 0.5 * (box.x1 - box.x0)]
    if near:
        return min(r.x0 for r in near) - 1, max(r.x1 for r in near) + 1
    left = min((line.box.x0 for line in area.lines), default=area.left)
    right = max((line.box.x1 for line in area.lines), default=area.right)
    return min(left, heads[0].x0) - 2, max(right, heads[-1].x1) + 2
