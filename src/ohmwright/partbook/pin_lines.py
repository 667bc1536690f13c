"""Lines of a pasted pin table: cleaned, without what stands on every page, and put together where cells came apart."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence

from ohmwright.partbook.pin_words import DASH, is_name, pin_list, short_name, split_pins

MOST_LINES = 6_000
LONGEST_LINE = 2_000
"""Characters read of one line. [1]"""
_SPACES = dict.fromkeys((0xA0, *range(0x2000, 0x200B), 0x202F, 0x3000), " ")
_DASHES = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe58\uff0d"), "-")
_INVISIBLE = (0x200B, 0x200C, 0x200D, 0xFEFF, 0xAD, 0x2022, 0x25CF, 0x25AA)
"""Joiners, soft hyphens and bullets."""
_NOTHING = dict.fromkeys((*range(9), *range(14, 32), *_INVISIBLE), None)
_STRONG = (
    r"(?:pins?|no\.?|(?-i:[Nn]os|NOS)\.?|num(?:ber)?s?|names?|symbol|signal|mnemonic|type|functions?|description|terminals?|label"
    r"|ball)"
)
_WEAK = (
    r"(?:#|i/?o|direction|dir|pad|port|electrical|configuration|assignments?|table|definitions?|package|reset|state"
    r"|in|out|and|or|of|designator|leads?|\(\d\)|&)"
)
_HEADING = re.compile(rf"(?i)(?=.*\b{_STRONG})(?:[\s(]*(?:{_STRONG}|{_WEAK})(?![A-Za-z])[\s/:).(\[\]]*)+$")
_PAGE = re.compile(
    r"(?i).*\b(?:pin\s+(?:functions?|descriptions?|configurations?|assignments?|definitions?)|terminal functions)\b"
    r"(?:[\s(].*)?$"
    r"|(?:table|figure)\s+\d.*$|(?:copyright|©|\(c\)\s|submit documentation|product folder|www\.|https?:|page \d"
    r"|rev\.? |\(?continued).*$|(?:\d+\s+)?\d+\s+of\s+\d+$"
)
"""Lines that belong to the page and not to the table."""
_FAMILIES = (
    r"SO|SOIC|[HMPQSTUV]?SOP|H?TSSOP|H?SSOP|QSOP|HSOP|HVSSOP|VSSOP|[UVWX]?SON|SOT|SOD|SOJ"
    r"|[HLMPTUVWX]?QFN|[TUVWX]?DFN|LFCSP|[HLPT]?QFP|HTQFP|[CP]?DIP|SIP"
    r"|[CFLNPTUV]?BGA|NFBGA|MBGA|DSBGA|[DFW]?CSP|WL?CSP|WLP|LGA|PLCC|LCC"
)
"""Families of packages as makers and JEDEC shorten them, from memory; a pin called VSO is none of them."""
_PACKAGES = re.compile(rf"(?i)\b(?!(?-i:n[A-Z]))(?:(?:{_FAMILIES})(?:-?\d+)*|TO-?\d+|SC-?70)\b")
_SPOKEN = re.compile(
    r"(?P<name>[^\s(:][^(:]{0,40}?)\s?\((?:pins?|balls?|leads?)\s(?P<pins>[^)]{1,200})\)\s*[:.\-]?\s*(?P<words>.*)",
    re.I,
)
_SPOKEN_NUMBER = re.compile(
    r"pins?\s(?P<pins>[\d,\s&-]{1,60}?)\s?(?:\((?P<in>[^)]{1,40})\)|[:\-]\s*(?P<name>\S{1,40}))"
    r"\s*[:.\-]?\s*(?P<words>.*)",
    re.I,
)


def is_heading(line: str) -> bool:
    """Whether a line is a heading of the table, or stands at the edge of a page."""
    bare = _PACKAGES.sub("", line).strip(" \t/,()") or ("pin" if _PACKAGES.search(line) else line)
    return bool(_PAGE.match(line) or _HEADING.match(bare))


def without_headings(lines: Sequence[str]) -> list[str]:
    """The lines of the table; a lone word between a pin's number and a cell is a name, such as NO of a switch."""
    out: list[str] = []
    for index, line in enumerate(lines):
        numbered = index > 0 and _is_lonely(lines[index - 1]) and is_name(line)
        named = numbered and not is_heading(lines[index + 1] if index + 1 < len(lines) else "")
        if named or not is_heading(line):
            out.append(line)
    return out


def plain_lines(text: str) -> list[str]:
    """The lines with plain spaces and dashes; a tab parts cells, and so do two spaces and a bar."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\x0b", "\n").replace("\x0c", "\n")
    out: list[str] = []
    for raw in text.translate(_SPACES | _DASHES | _NOTHING).split("\n")[:MOST_LINES]:
        line = re.sub(r"\s*\|\s*", "\t", raw[:LONGEST_LINE]).strip()
        line = re.sub(r"\t+| {2,}", "\t", re.sub(r" *\t *", "\t", line)).strip("\t ")
        if not line or re.fullmatch(r"[\s\-=_+:\t]{3,}", line):
            continue
        # A list of pins that ends in a comma goes on in the next line.
        if out and re.search(r"\d,$", out[-1]) and pin_list(line):
            out[-1] += " " + line
        else:
            out.append(line)
    return out


def heading_labels(lines: Sequence[str]) -> tuple[str, ...]:
    """Packages side by side, from the first heading that names two or more."""
    for line in lines[:40]:
        names = [match[0] for match in _PACKAGES.finditer(line)]
        if len(names) > 1 and len(" ".join(names)) > len(line) / 4 and not line[:1].isdigit():
            return tuple(dict.fromkeys(names))
    return ()


def foreword(line: str) -> tuple[tuple[str, ...], str, str] | None:
    """Pins, name and description of ``VIN (Pin 1): Input``, or of ``Pin 1 (VIN): Input``."""
    found = _SPOKEN.match(line)
    if found and is_name(found["name"]):
        listed = re.sub(r"(?i)\bpins?\s", "", found["pins"])
        return split_pins(listed), short_name(found["name"]), found["words"].strip()
    found = _SPOKEN_NUMBER.match(line)
    if found and is_name(found["in"] or found["name"]):
        return split_pins(found["pins"]), short_name((found["in"] or found["name"]).rstrip(":")), found["words"].strip()
    return None


def lineations(body: Sequence[str]) -> Iterator[list[str]]:
    """The text as lines of a table in each way in which the cells may have come apart."""
    yield list(body)
    yield [line.replace("\t", " ") for line in body]
    for mark in (",", ";"):
        if sum(line.count(mark) >= 1 for line in body) * 2 > len(body):
            yield ["\t".join(cell.strip() for cell in row) for row in csv.reader(body, delimiter=mark)]
    lonely = [_is_lonely(line) for line in body]
    if sum(lonely) >= 2:
        yield _gathered(body, lonely, ahead=0)
        yield _gathered(body, lonely, ahead=1)


def _is_lonely(line: str) -> bool:
    """Whether a line holds pin numbers and nothing else."""
    return pin_list(line) == line or bool(DASH.fullmatch(line))


def _gathered(body: Sequence[str], lonely: Sequence[bool], ahead: int) -> list[str]:
    """Cells that stand one below the other, as rows; `ahead` cells of a row come before its numbers. [1]"""
    starts: list[int] = []
    for index, alone in enumerate(lonely):
        if alone and not (index and lonely[index - 1]) and (not ahead or (index and is_name(body[index - 1]))):
            starts.append(index - ahead)
    if not starts:
        return list(body)
    rows = list(body[: starts[0]])
    for start, end in zip(starts, [*starts[1:], len(body)], strict=True):
        rows.append("\t".join(body[start:end]))
    return rows
