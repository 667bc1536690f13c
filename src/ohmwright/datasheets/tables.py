"""Tables found by the words of their heads, and cut into rows and columns by rules or by what is left blank."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

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

    def cells(self, sort: str) -> list[tuple[str, ...]]:
        """Per row the cells of the columns of a sort."""
        places = [k for k, column in enumerate(self.columns) if column.sort == sort]
        return [tuple(row.cells[k] for k in places) for row in self.rows]


@dataclass(frozen=True, slots=True)
class _Head:
    columns: tuple[Column, ...]
    top: float
    foot: float
    left: float
    right: float
    size: float


def find_tables(pages: Sequence[Page], words: Vocabulary, needed: Sequence[tuple[str, ...]]) -> tuple[Table, ...]:
    """Every table whose head has, of each group of `needed`, one sort of word; those that go on are joined."""
    found: list[Table] = []
    for page in pages:
        for left, right in _areas(page):
            area = _area(page, left, right)
            found += _continued(found, area, words)
            found += _in_area(area, words, needed)
    return tuple(_joined(found))


@dataclass(frozen=True, slots=True)
class _Area:
    page: Page
    left: float
    right: float
    lines: tuple[Line, ...]
    across: tuple[Box, ...]
    upright: tuple[Box, ...]
    foot: float


def _areas(page: Page) -> list[tuple[float, float]]:
    gutter = gutter_of(page)
    return [(0.0, page.width)] if gutter is None else [(0.0, gutter), (gutter, page.width)]


def _area(page: Page, left: float, right: float) -> _Area:
    inside = [w for w in page.words if left <= w.box.middle[0] < right]
    body = [w for w in inside if 0.055 * page.height < w.box.middle[1] < 0.945 * page.height]
    rules = [r for r in page.rules if left - 5 <= (r.x0 + r.x1) / 2 <= right + 5]
    across = tuple(r for r in rules if r.x1 - r.x0 > 8 and r.y1 - r.y0 < 1.5)
    upright = tuple(r for r in rules if r.y1 - r.y0 > 4 and r.x1 - r.x0 < 1.5)
    foot = max((w.box.y1 for w in body), default=page.height)
    return _Area(page, left, right, lines_of(body), across, upright, foot)


def _in_area(area: _Area, words: Vocabulary, needed: Sequence[tuple[str, ...]]) -> Iterator[Table]:
    below = 0.0
    for place, line in enumerate(area.lines):
        if line.box.y0 < below:
            continue
        head = _head_at(area, place, words, needed)
        if head is None:
            continue
        table = _body(area, head, head.foot)
        if table.rows:
            below = table.box.y1
            yield replace(table, above=_above(area, head.top))


def _above(area: _Area, top: float) -> str:
    before = [line.text for line in area.lines if line.box.y1 <= top + 1]
    return " / ".join(before[-6:])


def _sort_of(text: str, words: Vocabulary) -> str:
    bare = re.sub(r"\s*\(\d\)$|[*:]+$", "", text.strip()).strip()
    return next((sort for sort, pattern in words.items() if pattern.fullmatch(bare)), "")


def _head_at(area: _Area, place: int, words: Vocabulary, needed: Sequence[tuple[str, ...]]) -> _Head | None:
    """A head that begins on that line: it and up to three more close below it."""
    first = area.lines[place]
    if not any(_sort_of(piece.text, words) for piece in _pieces(area, first)):
        return None
    band = [first]
    best: _Head | None = None
    for line in [*area.lines[place + 1 : place + 4], None]:
        head = _as_head(area, band, words, needed)
        if head is not None and (best is None or len(head.columns) > len(best.columns)):
            best = head
        if line is None or line.box.y0 - band[-1].box.y1 > 0.9 * first.size or line.size > 1.3 * first.size:
            break
        known = [_sort_of(piece.text, words) for piece in _pieces(area, line)]
        if best is not None and not any(known) and not _labels(area, line, best):
            break
        band.append(line)
    return best


def _labels(area: _Area, line: Line, head: _Head) -> bool:
    """Whether a line holds only names of packages below a common head."""
    return all(PACKAGE.search(piece.text) for piece in _pieces(area, line))


PACKAGE = re.compile(
    r"\b(?:[A-Z]*(?:SO(?:IC|P|N|J)?|SOT|QFN|DFN|SON|QFP|BGA|CSP|LGA|DIP|MSOP|PDIP|TO|SC|DSBGA|TQFP|LQFP|PLCC)"
    r"(?:-?\d+\w*)?(?:-\d+)*|DBV|DCK|RGE|RGT|PWP|DGK|DRV|YFF|DDA)\b"
)
"""Names of bodies (JEDEC and makers' habit)."""


def _pieces(area: _Area, line: Line) -> tuple[Piece, ...]:
    cuts = [r.x0 for r in area.upright if r.y0 - 2 <= line.box.middle[1] <= r.y1 + 2]
    return line.pieces(sorted(cuts))


def _as_head(area: _Area, band: Sequence[Line], words: Vocabulary, needed: Sequence[tuple[str, ...]]) -> _Head | None:
    pieces = [piece for line in band for piece in _pieces(area, line)]
    over = {a for a in pieces for b in pieces if _stands_over(a, b)}
    under = [b for b in pieces if b not in over]
    groups = [a for a in over if sum(_covers(a, b, pieces, over) for b in under) >= 2]
    stacked = _stacked([p for p in pieces if p not in groups])
    columns: list[tuple[Piece, str, str]] = []
    for piece in sorted(stacked, key=lambda p: p.box.x0):
        group = next((g for g in groups if _covers(g, piece, pieces, over)), None)
        sort = _sort_of(piece.text, words) or (_sort_of(group.text, words) if group else "")
        columns.append((piece, sort, group.text if group else ""))
    sorts = {sort for _, sort, _ in columns}
    if len(columns) < 2 or not all(sorts & set(group) for group in needed):
        return None
    if sum(not sort for _, sort, _ in columns) > len(columns) / 2:
        return None
    box = box_of(piece.box for piece in pieces)
    heads = tuple(Column(p.box.x0, p.box.x1, p.text, sort, group) for p, sort, group in columns)
    left, right = _reach(area, box, heads)
    return _Head(heads, box.y0, box.y1, left, right, max(p.size for p in pieces))


def _stands_over(a: Piece, b: Piece) -> bool:
    return a.box.y1 <= b.box.y0 + 2 and a.box.x0 < b.box.x1 and b.box.x0 < a.box.x1


def _covers(a: Piece, b: Piece, pieces: Sequence[Piece], over: set[Piece]) -> bool:
    """Whether a piece is the common head of another: the other is below, and nearest to it of all that could be."""
    if b in over or b.box.y0 < a.box.y1 - 2:
        return False
    rivals = [p for p in pieces if abs(p.box.y0 - a.box.y0) < 3]
    nearest = min(rivals, key=lambda p: _distance(p, b))
    reach = max(60.0, 2.2 * (a.box.x1 - a.box.x0))
    return nearest is a and _distance(a, b) < reach


def _distance(a: Piece, b: Piece) -> float:
    return abs(a.box.middle[0] - b.box.middle[0])


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


def _reach(area: _Area, box: Box, heads: Sequence[Column]) -> tuple[float, float]:
    """Left and right edge of a table: by the rules at its head, else by the column of text it stands in."""
    near = [r for r in area.across if box.y0 - 14 <= r.y0 <= box.y1 + 14 and r.x1 - r.x0 > 0.5 * (box.x1 - box.x0)]
    if near:
        return min(r.x0 for r in near) - 1, max(r.x1 for r in near) + 1
    left = min((line.box.x0 for line in area.lines), default=area.left)
    right = max((line.box.x1 for line in area.lines), default=area.right)
    return min(left, heads[0].x0) - 2, max(right, heads[-1].x1) + 2


def _body(area: _Area, head: _Head, top: float, edges: Sequence[float] | None = None) -> Table:
    """The rows below a head, down to where the table ends."""
    words = [
        w for line in area.lines for w in line.words
        if w.box.middle[1] > top and head.left - 1 <= w.box.middle[0] <= head.right + 1
    ]  # fmt: skip
    lines = lines_of(words)
    lines = _until_end(area, head, lines, top)
    if not lines:
        return Table(head.columns, (), area.page.number, Box(head.left, top, head.right, top))
    edges = edges or _edges(area, head, lines)
    lines = _until_prose(lines, edges, area)
    columns = tuple(replace(c, x0=edges[k], x1=edges[k + 1]) for k, c in enumerate(head.columns))
    rows = tuple(_rows(area, columns, lines, top))
    foot = max((row.box.y1 for row in rows), default=top)
    box = Box(head.left, head.top, head.right, foot)
    return Table(columns, rows, area.page.number, box, open_end=bool(rows) and foot > area.foot - 3)


def _until_end(area: _Area, head: _Head, lines: Sequence[Line], top: float) -> list[Line]:
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


def _within_frame(head: _Head, kept: list[Line], ys: Sequence[float]) -> list[Line]:
    """A rule with nothing but blank after it is the foot of the table."""
    for k in range(len(kept) - 1, 0, -1):
        between = [y for y in ys if kept[k - 1].box.y1 - 3 <= y <= kept[k].box.y0 + 3]
        later = [y for y in ys if y >= kept[k].box.y1 - 3]
        if between and not later:
            return kept[:k]
    return kept


def _edges(area: _Area, head: _Head, lines: Sequence[Line]) -> list[float]:
    """The edges between the columns: at upright rules where there are any, else where fewest words are cut."""
    xs = sorted({round(r.x0, 0) for r in area.upright if r.y0 <= head.foot and r.y1 >= head.top - 12 and head.left - 3 <= r.x0 <= head.right + 3})
    centres = [(c.x0 + c.x1) / 2.0 for c in head.columns]
    edges = [head.left]
    for k in range(len(head.columns) - 1):
        here, there = head.columns[k], head.columns[k + 1]
        ruled = [x for x in xs if here.x1 - 2 <= x <= there.x0 + 2]
        edges.append(ruled[-1] if ruled else _least_cut(centres[k], here, there, centres[k + 1], lines))
    return [*edges, head.right]


def _least_cut(start: float, here: Column, there: Column, end: float, lines: Sequence[Line]) -> float:
    words = [w.box for line in lines for w in line.words] + [Box(here.x0, 0, here.x1, 0), Box(there.x0, 0, there.x1, 0)] * 3
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
    widest = max(runs, key=lambda run: (run[-1] - run[0] + (4.0 if run[0] <= there.x0 <= run[-1] + 6.0 else 0.0), run[0]))
    return widest[-1] - 0.25 * (widest[-1] - widest[0])


def _until_prose(lines: Sequence[Line], edges: Sequence[float], area: _Area) -> list[Line]:
    """Lines until one runs across the edges of the columns, as text does and cells do not."""
    kept: list[Line] = []
    for line in lines:
        crossed = sum(any(w.box.x0 + 1.5 < x < w.box.x1 - 1.5 for w in line.words) for x in edges[1:-1])
        joined = sum(_flows_over(line, x) for x in edges[1:-1])
        if crossed + joined >= max(2, len(edges) - 3) and (crossed or joined >= 2):
            break
        kept.append(line)
    return kept


def _flows_over(line: Line, x: float) -> bool:
    """Whether two words on both sides of an edge are as close as words of a sentence."""
    left = [w for w in line.words if w.box.middle[0] < x]
    right = [w for w in line.words if w.box.middle[0] >= x]
    return bool(left and right) and 0 <= right[0].box.x0 - left[-1].box.x1 < 0.4 * line.size


def _rows(area: _Area, columns: Sequence[Column], lines: Sequence[Line], top: float) -> Iterator[Row]:
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


def _blocks(area: _Area, columns: Sequence[Column], lines: Sequence[Line], top: float) -> list[list[Line]]:
    """Lines that make up one row each: between rules, else between blanks, else from one key to the next."""
    width = columns[-1].x1 - columns[0].x0
    ys = sorted({round(r.y0, 1) for r in area.across if r.x1 - r.x0 > 0.6 * width and r.y0 > top + 4})
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
    steps = [b.box.middle[1] - a.box.middle[1] for a, b in zip(long, long[1:], strict=False)]
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


def _continued(found: Sequence[Table], area: _Area, words: Vocabulary) -> list[Table]:
    """The rest of a table that reached the foot of the column or page before, where it goes on without a head."""
    if not found or not found[-1].open_end or not area.lines:
        return []
    before = found[-1]
    first = area.lines[0]
    if any(_sort_of(piece.text, words) for piece in _pieces(area, first)):
        return []
    rules = [r for r in area.across if r.y0 < first.box.y1 + 4]
    shift = 0.0
    if before.box.x0 < area.left or before.box.x0 > area.right or before.page == area.page.number:
        shift = min((r.x0 for r in rules), default=first.box.x0 - 3) - before.columns[0].x0
    columns = tuple(replace(c, x0=c.x0 + shift, x1=c.x1 + shift) for c in before.columns)
    top = first.box.y0 - 2
    head = _Head(columns, top, top, columns[0].x0, columns[-1].x1, first.size)
    table = _body(area, head, top, [columns[0].x0, *(c.x1 for c in columns)])
    return [replace(table, above="continued")] if table.rows else []


def _joined(found: Sequence[Table]) -> list[Table]:
    """Tables that go on over pages made one."""
    out: list[Table] = []
    for table in found:
        last = out[-1] if out else None
        same = last is not None and last.open_end and [c.sort for c in last.columns] == [c.sort for c in table.columns]
        if same and last is not None and (table.above == "continued" or [c.head for c in last.columns] == [c.head for c in table.columns]):
            out[-1] = replace(last, rows=(*last.rows, *table.rows), open_end=table.open_end)
        else:
            out.append(table)
    return out
