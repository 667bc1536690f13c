"""Marks as they are misread: letters and figures that look alike under a microscope count as one."""

from __future__ import annotations

from difflib import SequenceMatcher

ALIKE = str.maketrans({"O": "0", "Q": "0", "D": "0", "I": "1", "L": "1", "B": "8", "S": "5", "Z": "2", "G": "6"})
"""Letter to the figure it is taken for. Common practice, no source."""


def folded(text: str) -> str:
    """The mark in capitals, without blanks and hyphens, with what looks alike made one.

    Examples
    --------
    >>> folded("bq24195l"), folded("8Q24195L"), folded("LM 2596-S")
    ('80241951', '80241951', '1M25965')
    """
    return "".join(mark for mark in text.upper() if mark.isalnum()).translate(ALIKE)


def likeness(asked: str, name: str) -> float:
    """How well a mark that was read fits a name, both folded: 1 for the same, less for a part of it. [1]

    A mark on a small body leaves letters out at the ends, before as well as behind; so a mark that the name
    holds whole counts for more than one that differs in the middle.
    """
    if not asked or not name:
        return 0.0
    if asked == name:
        return 1.0
    if name.startswith(asked) or asked.startswith(name):
        return 0.80 + 0.19 * min(len(asked), len(name)) / max(len(asked), len(name))
    if asked in name:
        return 0.65 + 0.25 * len(asked) / len(name)
    return 0.9 * SequenceMatcher(None, asked, name, autojunk=False).ratio()
