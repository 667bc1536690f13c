"""When a part was made, by the marks on it. A mark tells several dates: letters come round every twenty years."""

from __future__ import annotations

import re
from dataclasses import dataclass

YEARS = "ABCDEFHJKLMNPRSTUVWX"
"""Letter of the year, A for 1990 and 2010 (IEC 60062, annex on date codes; from memory)."""
MONTHS = "123456789OND"
"""January to September, then October, November, December (the same)."""


@dataclass(frozen=True, slots=True)
class Made:
    """A time of making: a year with a month or a week, or neither."""

    year: int
    month: int | None = None
    week: int | None = None
    way: str = ""


def made(mark: str, this_year: int) -> tuple[Made, ...]:
    """The dates a mark may stand for, the latest first; none lies after this year.

    Parameters
    ----------
    mark : str
        ``2347`` (year and week), ``347`` (last figure of the year and week), ``K5`` (letter of the year and month).
    this_year : int
        The year it is read in.

    Examples
    --------
    >>> [(m.year, m.month) for m in made("K5", 2024)]
    [(2018, 5), (1998, 5)]
    """
    bare = mark.strip().upper()
    found: list[Made] = []
    if re.fullmatch(rf"[{YEARS}][{MONTHS}]", bare):
        month = MONTHS.index(bare[1]) + 1
        found += [
            Made(year, month, None, "letter of the year and mark of the month (IEC 60062, from memory)")
            for year in range(1990 + YEARS.index(bare[0]), this_year + 1, 20)
        ]
    if re.fullmatch(r"\d{4}", bare) and 1 <= int(bare[2:]) <= 53:
        found += [
            Made(year, None, int(bare[2:]), "two figures of the year, then the week (common practice)")
            for year in (1900 + int(bare[:2]), 2000 + int(bare[:2]))
            if 1970 <= year <= this_year
        ]
    if re.fullmatch(r"\d{3}", bare) and 1 <= int(bare[1:]) <= 53:
        found += [
            Made(year, None, int(bare[1:]), "last figure of the year, then the week (common practice)")
            for year in range(this_year, 1989, -1)
            if year % 10 == int(bare[0])
        ]
    return tuple(sorted(found, key=lambda when: -when.year))
