"""Numbers as people at the bench write them, to SI floats and back.

A meter shows ``0.425``, a hand types ``.425``, ``425``, ``4k7``, ``OL``; a part list says ``100n``,
``4u7``, ``10uF/25V``, ``3.3 V ±1 %``. Letters that stand for the decimal point follow IEC 60062.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from ohmwright.errors import ReadingError

PREFIX = {
    "p": 1e-12,
    "n": 1e-9,
    "u": 1e-6,
    "µ": 1e-6,
    "μ": 1e-6,
    "m": 1e-3,
    "": 1.0,
    "R": 1.0,
    "r": 1.0,
    "k": 1e3,
    "K": 1e3,
    "M": 1e6,
    "G": 1e9,
}
"""Multipliers of SI prefixes, with R for the decimal point of ohms (IEC 60062, clause 4)."""

_UNIT = r"(?:[ΩΩ]|[Oo]hms?|[FHVAW]|Hz)?"
_NUMBER = re.compile(rf"([+-]?)(\d*)(?:[.,](\d*))?\s*([pnuµμmRrkKMG]?)(\d*)\s*{_UNIT}\Z")
_TOLERANCE = re.compile(r"\s*(?:±|\+/-|\+-)\s*(\d+(?:[.,]\d+)?)\s*%\s*\Z")
OVERLOAD_WORDS = frozenset({"ol", "o.l", "o.l.", "0l", "0.l", "open", "over", "overload", "1.", "---"})


@dataclass(frozen=True, slots=True)
class Interval:
    """A closed range of one quantity, in SI units."""

    low: float
    high: float

    def __contains__(self, value: float) -> bool:
        return self.low <= value <= self.high


def parse_quantity(text: str) -> float:
    """The SI value of a written number such as ``4k7``, ``100n`` or ``0R05``.

    Raises
    ------
    ReadingError
        If the text is not a number in any of the known manners.

    Examples
    --------
    >>> parse_quantity("4k7"), parse_quantity("0R05"), parse_quantity(".425"), parse_quantity("2.2 kΩ")
    (4700.0, 0.05, 0.425, 2200.0)
    """
    bare = _TOLERANCE.sub("", text.strip())
    match = _NUMBER.match(bare)
    if not match or not (match[2] or match[3] or match[5]):
        raise _unreadable(text)
    sign, whole, fraction, prefix, tail = match[1], match[2], match[3], match[4], match[5]
    if tail and (fraction is not None or not prefix):
        raise _unreadable(text)
    decimals = tail or fraction or ""
    digits = f"{whole or '0'}.{decimals or '0'}"
    value = float(digits) * PREFIX[prefix]
    value = float(f"{value:.12g}")
    return -value if sign == "-" else value


def is_overload(text: str) -> bool:
    """Whether a display text means that the meter is out of range, as ``OL`` does."""
    return text.strip().lower() in OVERLOAD_WORDS


def format_quantity(value: float, unit: str = "", digits: int = 3) -> str:
    """The value with an SI prefix and at most `digits` significant figures.

    Examples
    --------
    >>> format_quantity(0.0047, "V"), format_quantity(4.7e3, "Ω"), format_quantity(0.0, "A")
    ('4.7 mV', '4.7 kΩ', '0 A')
    """
    if not math.isfinite(value):
        return f"{value} {unit}".strip()
    if value == 0.0:
        return f"0 {unit}".strip()
    exponent = min(max(math.floor(math.log10(abs(value)) / 3 + 1e-12), -4), 3)
    scaled = float(f"{value / 10.0 ** (3 * exponent):.{digits}g}")
    if abs(scaled) >= 1000 and exponent < 3:
        exponent += 1
        scaled /= 1000
    prefix = {-4: "p", -3: "n", -2: "µ", -1: "m", 0: "", 1: "k", 2: "M", 3: "G"}[exponent]
    return f"{scaled:.{max(digits, 6)}g} {prefix}{unit}".strip()  # rounded already: 450 is not 4.5e+02


def _unreadable(text: str) -> ReadingError:
    return ReadingError(
        f"{text!r} is not a number I can read.",
        why="expected figures with an optional prefix, as in 4k7, 100n, 0.425 or 0R05",
        hint="type the figures as the meter shows them, or OL when it is out of range",
    )
