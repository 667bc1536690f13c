"""Reads a PDF in a process of its own, with limits on memory, time and output. Run by path, never imported.

A PDF is hostile until it is read: whatever it does to the reader of PDFs, it does to this process, which
has a few seconds and a bounded memory and hands back nothing but positions of words and lines, or a picture.
Nothing of ohmwright is imported here, so that it starts quickly and can do little.
"""

from __future__ import annotations

import json
import math
import re
import struct
import sys
import zlib
from collections.abc import Callable
from ctypes import byref, c_double, c_float, c_int
from itertools import pairwise
from pathlib import Path

import pypdfium2
import pypdfium2.raw as raw

MEMORY = 1_500_000_000
"""[bytes]"""
SECONDS = 25
"""Of processor time. [s]"""
OUTPUT = 80_000_000
"""Largest file written. [bytes]"""
MOST_PAGES, MOST_READ, MOST_CHARACTERS, MOST_RULES = 1500, 60, 40_000, 20_000
BOX_OVER_SIZE = 1.16
"""Height of a letter's loose box over the size of its type, in Helvetica. [1]"""
WANTED = re.compile(
    r"pin\s+(?:functions?|descriptions?|configurations?|assignments?|definitions?|names?|no)|terminal\s+functions?|pinout"
    r"|absolute\s+maximum|maximum\s+ratings|recommended\s+operating|operating\s+(?:conditions|ratings)"
    r"|typical\s+(?:application|operating)\s+circuit|application\s+(?:circuit|schematic)|typical\s+application"
    r"|simplified\s+schematic|package|ordering",
    re.I,
)
"""Pages without any of these words are not gone through letter by letter in a long document."""


def main() -> None:
    """``child.py words FILE`` or ``child.py picture FILE PAGE WIDTH``; the answer goes to standard output."""
    _limit()
    what, path = sys.argv[1], Path(sys.argv[2])
    try:
        document = pypdfium2.PdfDocument(path.read_bytes())
    except pypdfium2.PdfiumError as error:
        _refuse("locked" if "password" in str(error).lower() else "broken", str(error))
    if what == "words":
        sys.stdout.write(json.dumps(_words(document)))
    else:
        sys.stdout.buffer.write(_picture(document, int(sys.argv[3]), int(sys.argv[4])))


def _limit() -> None:
    try:
        import resource
    except ImportError:  # pragma: no cover - Windows has no such limits; the parent's clock still ends it
        return
    for what, most in ((resource.RLIMIT_AS, MEMORY), (resource.RLIMIT_CPU, SECONDS), (resource.RLIMIT_FSIZE, OUTPUT)):
        _, hard = resource.getrlimit(what)
        resource.setrlimit(what, (most if hard < 0 else min(most, hard), hard))


def _refuse(code: str, why: str) -> None:
    sys.stdout.write(json.dumps({"refused": code, "why": why[:300]}))
    sys.exit(0)


def _words(document: pypdfium2.PdfDocument) -> dict[str, object]:
    count = len(document)
    texts = []
    for number in range(min(count, MOST_PAGES)):
        page = document[number]
        text = page.get_textpage()
        texts.append(text.get_text_range() if text.count_chars() <= MOST_CHARACTERS else "")
        text.close()
        page.close()
    wanted = {k for k, text in enumerate(texts) if count <= MOST_READ or WANTED.search(text)}
    wanted |= {k + 1 for k in wanted if k + 1 < len(texts)}
    pages = [_page(document, k) for k in sorted(wanted)[:MOST_READ]]
    return {"count": count, "letters": [len(text.strip()) for text in texts], "pages": pages}


def _page(document: pypdfium2.PdfDocument, number: int) -> dict[str, object]:
    page = document[number]
    text = page.get_textpage()
    _turn_upright(page, text)
    width, height = page.get_size()
    lay = _layer(page)
    rules, pictures = _drawn(page, lay)
    out = {
        "number": number + 1, "width": width, "height": height, "words": _letters(text, lay), "rules": rules,
        "pictures": min(1.0, pictures / max(width * height, 1.0)),
    }  # fmt: skip
    text.close()
    page.close()
    return out


SAMPLED = 400
"""Letters whose direction is looked at to tell how a page lies. [1]"""
Lay = Callable[[float, float], tuple[float, float]]
"""From a point of the page as it is written to one of the page as it is seen, y down. [pt]"""


def _turn_upright(page: pypdfium2.PdfPage, text: pypdfium2.PdfTextPage) -> None:
    """Turn a page so that most of its text runs from left to right, whatever the file says of it."""
    count = text.count_chars()
    turns = [0, 0, 0, 0]
    for k in range(0, count, max(1, count // SAMPLED)):
        angle = raw.FPDFText_GetCharAngle(text, k)
        if math.isfinite(angle) and angle >= 0.0:
            turns[round(angle / (math.pi / 2.0)) % 4] += 1
    most = max(range(4), key=lambda k: turns[k])
    if turns[most] > 0.6 * max(1, sum(turns)) and sum(turns) >= 20:
        # Both angles count clockwise: what the letters are turned by, the page is turned back.
        page.set_rotation((360 - 90 * most) % 360)


def _layer(page: pypdfium2.PdfPage) -> Lay:
    width, height = page.get_size()
    left, bottom, _, _ = page.get_cropbox()
    if page.get_rotation() == 0 and abs(left) < 0.01 and abs(bottom) < 0.01:
        return lambda x, y: (x, height - y)
    across, down = c_int(), c_int()

    def lay(x: float, y: float) -> tuple[float, float]:
        size = (round(FINE * width), round(FINE * height))
        if not (math.isfinite(x) and math.isfinite(y) and abs(x) < 1e5 and abs(y) < 1e5):
            return math.nan, math.nan
        raw.FPDF_PageToDevice(page, 0, 0, *size, 0, x, y, byref(across), byref(down))
        return across.value / FINE, down.value / FINE

    return lay


FINE = 100
"""Steps per point in which a turned page is measured. [1/pt]"""


def _letters(text: pypdfium2.PdfTextPage, lay: Lay) -> list[tuple[str, float, float, float, float, float]]:
    """Words as text, left, top, right, bottom, size; a word ends at a blank, a gap, or another line."""
    words: list[_Growing] = []
    now: _Growing | None = None
    for k in range(min(text.count_chars(), MOST_CHARACTERS)):
        # A hyphen at the end of a line comes as U+0002.
        mark = chr(raw.FPDFText_GetUnicode(text, k) or 32).replace("\x02", "-")
        box = None if mark.isspace() or mark in "\x00\ufffe" else _letter_box(text, k, lay)
        if box is None:
            now = None
            continue
        if now is None or not now.takes(box):
            now = _Growing("", box)
            words.append(now)
        now.add(mark, box)
    return [(word.text, *(round(v, 2) for v in word.box)) for word in words]  # type: ignore[misc]  # a box has five figures


def _letter_box(text: pypdfium2.PdfTextPage, k: int, lay: Lay) -> tuple[float, float, float, float, float] | None:
    left, right, bottom, top = (c_double() for _ in range(4))
    box = raw.FS_RECTF()
    raw.FPDFText_GetCharBox(text, k, byref(left), byref(right), byref(bottom), byref(top))
    raw.FPDFText_GetLooseCharBox(text, k, byref(box))
    # Along the line the tight box may reach farther, across it the loose one gives the size of the type.
    loose = (lay(box.left, box.bottom), lay(box.right, box.top))
    tight = (lay(left.value, bottom.value), lay(right.value, top.value))
    xs, ys = [p[0] for p in (*loose, *tight)], [p[1] for p in loose]
    x0, x1, y0, y1 = min(xs), max(xs), min(ys), max(ys)
    # The size that the font is called with leaves out how the page scales it; the box does not.
    found = (x0, y0, x1, y1, (y1 - y0) / BOX_OVER_SIZE)
    return found if all(map(math.isfinite, found)) and y1 > y0 else None


class _Growing:
    """A word while its letters come in."""

    def __init__(self, text: str, box: tuple[float, float, float, float, float]) -> None:
        self.text, self.box = text, box

    def takes(self, box: tuple[float, float, float, float, float]) -> bool:
        """Whether a letter there belongs to it."""
        _, _, x1, y1, _ = self.box
        on_line = abs(y1 - box[3]) < 0.4 * (box[3] - box[1])
        return on_line and -0.5 * box[4] < box[0] - x1 < 0.18 * max(box[4], 4.0)

    def add(self, mark: str, box: tuple[float, float, float, float, float]) -> None:
        """Take a letter in."""
        x0, y0, x1, y1, size = self.box
        self.text += mark
        self.box = (x0, min(y0, box[1]), max(x1, box[2]), max(y1, box[3]), size)


def _drawn(page: pypdfium2.PdfPage, lay: Lay) -> tuple[list[list[float]], float]:
    """Straight lines along the page's edges, as left, top, right, bottom, and the area that pictures cover."""
    rules: list[list[float]] = []
    pictures = 0.0
    for found in page.get_objects(max_depth=4):
        if found.type == raw.FPDF_PAGEOBJ_IMAGE:
            x0, y0, x1, y1 = found.get_bounds()
            pictures += abs(x1 - x0) * abs(y1 - y0)
        elif found.type == raw.FPDF_PAGEOBJ_PATH and len(rules) < MOST_RULES:
            rules += _segments(found, lay)
    return rules[:MOST_RULES], pictures


def _segments(found: pypdfium2.PdfObject, lay: Lay) -> list[list[float]]:
    """Lines along the page's edges in a path. Of a field that is filled and not drawn round, only if it is thin."""
    fill, stroke = c_int(), c_int()
    raw.FPDFPath_GetDrawMode(found, byref(fill), byref(stroke))
    out: list[list[float]] = []
    for piece in _outlines(found):
        xs, ys = [p[0] for p in piece], [p[1] for p in piece]
        wide, tall = max(xs) - min(xs), max(ys) - min(ys)
        if not stroke.value and min(wide, tall) <= 2.0:
            # A thin field is one line, not the two that its long edges would be.
            middle_x, middle_y = (min(xs) + max(xs)) / 2.0, (min(ys) + max(ys)) / 2.0
            lying = wide >= tall
            ends = ((min(xs), middle_y), (max(xs), middle_y)) if lying else ((middle_x, min(ys)), (middle_x, max(ys)))
            _add(out, *ends, lay)
        elif stroke.value:
            for a, b in pairwise(piece):
                _add(out, a, b, lay)
    return out


def _outlines(found: pypdfium2.PdfObject) -> list[list[tuple[float, float]]]:
    """The outlines of a path as points on the page; a curve counts as the line between its ends."""
    m = found.get_matrix()
    outlines: list[list[tuple[float, float]]] = []
    x, y = c_float(), c_float()
    for k in range(min(raw.FPDFPath_CountSegments(found), 4000)):
        piece = raw.FPDFPath_GetPathSegment(found, k)
        raw.FPDFPathSegment_GetPoint(piece, byref(x), byref(y))
        point = (m.a * x.value + m.c * y.value + m.e, m.b * x.value + m.d * y.value + m.f)
        if not all(map(math.isfinite, point)):
            continue
        if raw.FPDFPathSegment_GetType(piece) == raw.FPDF_SEGMENT_MOVETO or not outlines:
            outlines.append([point])
        else:
            outlines[-1].append(point)
        if raw.FPDFPathSegment_GetClose(piece):
            outlines[-1].append(outlines[-1][0])
    return [outline for outline in outlines if len(outline) > 1]


def _add(out: list[list[float]], a: tuple[float, float], b: tuple[float, float], lay: Lay) -> None:
    (ax, ay), (bx, by) = lay(*a), lay(*b)
    if all(map(math.isfinite, (ax, ay, bx, by))) and (abs(ax - bx) < 0.7 or abs(ay - by) < 0.7):
        out.append([round(v, 2) for v in (min(ax, bx), min(ay, by), max(ax, bx), max(ay, by))])


def _picture(document: pypdfium2.PdfDocument, number: int, width: int) -> bytes:
    page = document[number - 1]
    text = page.get_textpage()
    _turn_upright(page, text)
    across, down = page.get_size()
    scale = min(width / max(across, 1.0), 4000.0 / max(down, 1.0), 4000.0 / max(across, 1.0))
    picture = page.render(scale=scale, no_smoothtext=False)
    array = picture.to_numpy()
    rows, columns = array.shape[:2]
    colours = (
        array[:, :, 2::-1] if array.ndim == 3 and array.shape[2] >= 3 else array.reshape(rows, columns, 1).repeat(3, 2)
    )
    lines = b"".join(b"\0" + colours[k].tobytes() for k in range(rows))
    head = struct.pack(">IIBBBBB", columns, rows, 8, 2, 0, 0, 0)
    chunks = ((b"IHDR", head), (b"IDAT", zlib.compress(lines, 6)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body)) for name, body in chunks
    )


if __name__ == "__main__":
    main()
