"""Tables found by the words of their heads, and cut into rows and columns by rules or by what is left blank."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from ohmwright.datasheets.heads import (
    Area,
    Column,
    Head,
    Vocabulary,
    area_of,
    areas_of,
    head_at,
    pieces_of,
    side_by_side,
    sort_of,
)  # fmt: skip
from ohmwright.datasheets.lines import Line, box_of, lines_of
from ohmwright.datasheets.paper import Box, Page, Word


@dataclass(frozen=True, slots=True)
class Row:
    """Cells in the order of the columns."""

    cells: tuple[str, ...]
    box: Box
    page: int


@dataclass(frozen=True, slots=True)
class Table:
    """A table as it stands in the document, with the words above it."""

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    page: int
    box: Box
    above: str = ""
    open_end: bool = False
    """It reaches the foot of its page or column, and so may go on."""
    size: float = 9.0
    """Of its type. [pt]"""

    def cells(self, sort: str) -> list[tuple[str, ...]]:
        """Per row the cells of the columns of a sort."""
        places = [k for k, column in enumerate(self.columns) if column.sort == sort]
        return [tuple(row.cells[k] for k in places) for row in self.rows]


def find_tables(pages: Sequence[Page], words: Vocabulary, needed: Sequence[tuple[str, ...]]) -> tuple[Table, ...]:
    """Every table whose head has, of each group of `needed`, one sort of word; those that go on are joined."""
    found: list[Table] = []
    tail: list[str] = []
    for page in pages:
        for left, right in areas_of(page):
            area = area_of(page, left, right)
            found += _continued(found, area, words)
            found += _tables_in(area, words, needed, tail)
            tail = [line.text for line in area.lines[-4:]]
    return tuple(_joined(found))


def _tables_in(
    area: Area, words: Vocabulary, needed: Sequence[tuple[str, ...]], tail: Sequence[str]
) -> Iterator[Table]:
    below = 0.0
    for place, line in enumerate(area.lines):
        if line.box.y0 < below:
            continue
        head = head_at(area, place, words, needed)
        if head is None:
            continue
        halves = [_body(area, part, part.foot) for part in side_by_side(head)]
        table = halves[0]
        if table.rows:
            rows = tuple(row for half in halves for row in half.rows if any(row.cells))
            below = max(half.box.y1 for half in halves)
            box = box_of(half.box for half in halves)
            yield replace(table, above=_above(area, head.top, tail), rows=rows, box=box)


def _above(area: Area, top: float, tail: Sequence[str]) -> str:
    """The lines above a table; at the head of a page those that end the page before."""
    before = [line.text for line in area.lines if line.box.y1 <= top + 1]
    return " / ".join([*(tail if len(before) < 2 else ()), *before][-6:])


def _body(area: Area, head: Head, top: float, edges: Sequence[float] | None = None) -> Table:
    """The rows below a head, down to where the table ends."""
    words = [
        w for line in area.lines for w in line.words
        if w.box.middle[1] > top and head.left - 1 <= w.box.middle[0] <= head.right + 1
    ]  # fmt: skip
    # A heading ends the table, even where it stands outside of this half of it.
    # Heads of columns may be smaller than what stands in them.
    first = next((line.size for line in lines_of(words)), head.size)
    usual = max(head.size, min(first, 1.5 * head.size), 1.0)
    titles = [line.box.y0 for line in area.lines if line.box.y0 > top and line.size > 1.12 * usual]
    lines: Sequence[Line] = lines_of(word for word in words if word.box.y0 < min(titles, default=area.page.height))
    lines = _until_end(area, head, lines, top)
    if not lines:
        return Table(head.columns, (), area.page.number, Box(head.left, top, head.right, top))
    edges = edges or _edges(area, head, lines)
    lines = _until_prose(lines, edges, area)
    columns = tuple(replace(c, x0=edges[k], x1=edges[k + 1]) for k, c in enumerate(head.columns))
    rows = tuple(_rows(area, columns, lines, top))
    foot = max((row.box.y1 for row in rows), default=top)
    box = Box(head.left, head.top, head.right, foot)
    size = max((line.size for line in lines), default=head.size)
    return Table(columns, rows, area.page.number, box, open_end=bool(rows) and foot > area.foot - 3, size=size)


def _until_end(area: Area, head: Head, lines: Sequence[Line], top: float) -> list[Line]:
    """Lines until a heading in larger type, a wide blank, a note, or a second head."""
    kept: list[Line] = []
    wide = [r for r in area.across if r.x1 - r.x0 > 0.7 * (head.right - head.left)]
    below = top
    size = lines[0].size if lines else head.size
    for line in lines:
        ruled = any(below - 2 <= r.y0 <= line.box.y1 and r.y0 > top + 4 for r in wide)
        if line.size > 1.12 * max(size, head.size) or (line.box.y0 - below > 3.2 * size and not ruled):
            break
        if kept and re.match(r"(?:\(\d\)\s|Note|NOTE|Table\s+\d|Figure\s+\d|Continued|\*\s)", line.text):
            break
        kept.append(line)
        below = line.box.y1
    if kept and wide:
        kept = _within_frame(head, kept, sorted({r.y0 for r in wide if r.y0 > top + 4}))
    return kept


def _within_frame(head: Head, kept: list[Line], ys: Sequence[float]) -> list[Line]:
    """A rule with nothing but blank after it is the foot of the table."""
    for k in range(len(kept) - 1, 0, -1):
        between = [y for y in ys if kept[k - 1].box.y1 - 3 <= y <= kept[k].box.y0 + 3]
        later = [y for y in ys if y >= kept[k].box.y1 - 3]
        if between and not later:
            return kept[:k]
    return kept


def _edges(area: Area, head: Head, lines: Sequence[Line]) -> list[float]:
    """The edges between the columns: at upright rules where there are any, else where fewest words are cut."""
    xs = sorted(
        {
            round(r.x0, 0)
            for r in area.upright
            if r.y0 <= head.foot and r.y1 >= head.top - 12 and head.left - 3 <= r.x0 <= head.right + 3
        }
    )
    centres = [(c.x0 + c.x1) / 2.0 for c in head.columns]
    edges = [head.left]
    for k in range(len(head.columns) - 1):
        here, there = head.columns[k], head.columns[k + 1]
        ruled = [x for x in xs if here.x1 - 2 <= x <= there.x0 + 2]
        edges.append(ruled[-1] if ruled else _least_cut(centres[k], here, there, centres[k + 1], lines))
    return [*edges, head.right]


def _least_cut(start: float, here: Column, there: Column, end: float, lines: Sequence[Line]) -> float:
    words = [w.box for line in lines for w in line.words] + [
        Box(here.x0, 0, here.x1, 0),
        Box(there.x0, 0, there.x1, 0),
    ] * 3
    steps = max(4, int((end - start) / 1.0))
    places = [start + (end - start) * k / steps for k in range(steps + 1)]
    cuts = [sum(b.x0 - 0.5 < x < b.x1 + 0.5 for b in words) for x in places]
    least = min(cuts)
    runs: list[list[float]] = []
    for x, cut in zip(places, cuts, strict=True):
        if cut == least:
            if runs and x - runs[-1][-1] < 1.6:
                runs[-1].append(x)
            else:
                runs.append([x])
    # Of several blank strips the one just before the next head: blanks inside a wide column come earlier.
    widest = max(
        runs, key=lambda run: (run[-1] - run[0] + (4.0 if run[0] <= there.x0 <= run[-1] + 6.0 else 0.0), run[0])
    )
    return widest[-1] - 0.25 * (widest[-1] - widest[0])


def _until_prose(lines: Sequence[Line], edges: Sequence[float], area: Area) -> list[Line]:
    """Lines until one runs across the edges of the columns, as text does and cells do not.

    A short one that rows follow is no text but names the rows below it; it is left out.
    """
    kept: list[Line] = []
    for k, line in enumerate(lines):
        crossed = sum(any(w.box.x0 + 1.5 < x < w.box.x1 - 1.5 for w in line.words) for x in edges[1:-1])
        joined = sum(_flows_over(line, x) for x in edges[1:-1])
        if crossed + joined >= max(2, len(edges) - 3) and (crossed or joined >= 2):
            if _names_rows(line, lines[k + 1 :], edges):
                continue
            break
        kept.append(line)
    return kept


def _names_rows(line: Line, rest: Sequence[Line], edges: Sequence[float]) -> bool:
    """Whether a line names a group of rows: a few words at the left, and close below it one that fills the columns."""
    if not rest or len(line.words) > 5 or line.box.x1 > edges[0] + 0.5 * (edges[-1] - edges[0]):
        return False
    below = rest[0]
    filled = {sum(x < w.box.middle[0] for x in edges) for w in below.words}
    crossed = any(w.box.x0 + 1.5 < x < w.box.x1 - 1.5 for w in below.words for x in edges[1:-1])
    return below.box.y0 - line.box.y1 < 1.5 * line.size and len(filled) >= min(3, len(edges) - 1) and not crossed


def _flows_over(line: Line, x: float) -> bool:
    """Whether two words on both sides of an edge are as close as words of a sentence."""
    left = [w for w in line.words if w.box.middle[0] < x]
    right = [w for w in line.words if w.box.middle[0] >= x]
    return bool(left and right) and 0 <= right[0].box.x0 - left[-1].box.x1 < 0.4 * line.size


def _rows(area: Area, columns: Sequence[Column], lines: Sequence[Line], top: float) -> Iterator[Row]:
    for block in _blocks(area, columns, lines, top):
        cells: list[list[Word]] = [[] for _ in columns]
        for line in block:
            for word in line.words:
                cells[_column_of(columns, word)].append(word)
        texts = tuple(_cell_text(words) for words in cells)
        yield Row(texts, box_of(line.box for line in block), area.page.number)


def _cell_text(words: Sequence[Word]) -> str:
    return " ".join(line.text for line in lines_of(words))


def _column_of(columns: Sequence[Column], word: Word) -> int:
    x = word.box.middle[0]
    for k, column in enumerate(columns):
        if x < column.x1:
            return k
    return len(columns) - 1


def _blocks(area: Area, columns: Sequence[Column], lines: Sequence[Line], top: float) -> list[list[Line]]:
    """Lines that make up one row each: between rules, else between blanks, else from one key to the next."""
    if not lines:
        return []
    width = columns[-1].x1 - columns[0].x0
    foot = lines[-1].box.y1 + 4
    ys = sorted({round(r.y0, 1) for r in area.across if r.x1 - r.x0 > 0.6 * width and top + 4 < r.y0 < foot})
    keyed = [line for line in lines if _is_keyed(columns, line)]
    if len(ys) >= 0.6 * len(keyed) and len(ys) >= 2:
        return _between(lines, ys)
    return _by_blanks(columns, lines) or _by_keys(columns, lines)


def _is_keyed(columns: Sequence[Column], line: Line) -> bool:
    return any(columns[_column_of(columns, w)].sort in KEYS for w in line.words)


KEYS = frozenset({"number", "name", "parameter"})
"""Sorts of columns that have one entry per row."""


def _between(lines: Sequence[Line], ys: Sequence[float]) -> list[list[Line]]:
    blocks: dict[int, list[Line]] = {}
    for line in lines:
        blocks.setdefault(sum(y < line.box.middle[1] for y in ys), []).append(line)
    return [blocks[k] for k in sorted(blocks)]


def _by_blanks(columns: Sequence[Column], lines: Sequence[Line]) -> list[list[Line]] | None:
    """Rows parted by more blank than the lines inside a row; None where the blanks do not tell."""
    words = [w for line in lines for w in line.words if columns[_column_of(columns, w)].sort not in KEYS]
    long = lines_of(words) if words else ()
    steps = [b.box.middle[1] - a.box.middle[1] for a, b in pairwise(long)]
    if len(steps) < 2:
        return None
    pitch = min(steps)
    wide = [step for step in steps if step > 1.25 * pitch]
    if not wide or len(wide) == len(steps):
        return None
    cuts = [(a.box.y1 + b.box.y0) / 2.0 for a, b, s in zip(long, long[1:], steps, strict=False) if s > 1.25 * pitch]
    blocks = [block for block in _between(lines, cuts) if block]
    counts = [_keys_in(columns, block) for block in blocks]
    return blocks if all(count <= 1 for count in counts) else None


def _keys_in(columns: Sequence[Column], block: Sequence[Line]) -> int:
    """Most entries that a key column of one line each has in a block; wrapped lists of pins count as one."""
    most = 0
    for k, column in enumerate(columns):
        if column.sort in ("name", "parameter"):
            n = sum(any(_column_of(columns, w) == k for w in line.words) for line in block)
            most = max(most, n if column.sort == "name" else 1)
    return most


def _by_keys(columns: Sequence[Column], lines: Sequence[Line]) -> list[list[Line]]:
    blocks: list[list[Line]] = []
    for line in lines:
        if not blocks or _is_keyed(columns, line):
            blocks.append([line])
        else:
            blocks[-1].append(line)
    return blocks


def _continued(found: Sequence[Table], area: Area, words: Vocabulary) -> list[Table]:
    """The rest of a table that reached the foot of the column or page before, where it goes on without a head."""
    if not found or not found[-1].open_end or not area.lines:
        return []
    before = found[-1]
    first = area.lines[0]
    pieces = pieces_of(area, first)
    heads = sum(bool(sort_of(piece.text, words)) for piece in pieces)
    if first.size > 1.12 * before.size or heads >= 0.5 * len(pieces):
        return []
    rules = [r for r in area.across if r.y0 < first.box.y1 + 4]
    shift = 0.0
    if before.box.x0 < area.left or before.box.x0 > area.right or before.page == area.page.number:
        shift = min((r.x0 for r in rules), default=first.box.x0 - 3) - before.columns[0].x0
    columns = tuple(replace(c, x0=c.x0 + shift, x1=c.x1 + shift) for c in before.columns)
    top = first.box.y0 - 2
    head = Head(columns, top, top, columns[0].x0, columns[-1].x1, before.size)
    table = _body(area, head, top, [columns[0].x0, *(c.x1 for c in columns)])
    return [replace(table, above="continued")] if table.rows else []


def _joined(found: Sequence[Table]) -> list[Table]:
    """Tables that go on over pages made one."""
    out: list[Table] = []
    for table in found:
        last = out[-1] if out else None
        same = last is not None and last.open_end and [c.sort for c in last.columns] == [c.sort for c in table.columns]
        if (
            same
            and last is not None
            and (table.above == "continued" or [c.head for c in last.columns] == [c.head for c in table.columns])
        ):
            out[-1] = replace(last, rows=(*last.rows, *table.rows), open_end=table.open_end)
        else:
            out.append(table)
    return out
