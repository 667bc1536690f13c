"""A voltage sweep, or readings at several currents, as pairs of numbers; and the knee in words."""

from __future__ import annotations

from collections.abc import Sequence

from ohmwright.errors import ReadingError
from ohmwright.quantities import format_quantity, parse_quantity
from ohmwright.traces import knee_of

MOST = 2_000
"""Pairs at once. [1]"""


def pairs_from_words(words: Sequence[str]) -> list[tuple[float, float]]:
    """Pairs written as ``0.5=0.021``.

    Raises
    ------
    ReadingError
        Naming the word that is no pair.
    """
    if len(words) > MOST:
        raise ReadingError("Too many pairs.", hint=f"at most {MOST}")
    out = []
    for word in words:
        first, mark, second = word.partition("=")
        if not mark:
            raise ReadingError(f"{word[:40]!r} is no pair.", hint="write both numbers with = between, as 0.5=0.021")
        out.append((parse_quantity(first), parse_quantity(second)))
    return out


def knee_words(points: Sequence[tuple[float, float]]) -> str:
    """What a sweep says of a knee."""
    knee = knee_of(points)
    if not knee or knee.between is None:
        return "no knee: the current rises with the volts as through a resistance"
    low, high = format_quantity(knee.between.low, "V"), format_quantity(knee.between.high, "V")
    return (
        f"knee at {format_quantity(knee.volts, 'V')} ({low} to {high}); above it the current rises "
        f"{knee.above / max(knee.below, 1e-9):.2g} times as fast: a clamp, a Zener diode, or a breakdown"
    )
