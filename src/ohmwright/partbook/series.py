"""Preferred numbers of IEC 60063: the E series."""

from __future__ import annotations

import math

from ohmwright.errors import DataError

E24 = (
    1.0,
    1.1,
    1.2,
    1.3,
    1.5,
    1.6,
    1.8,
    2.0,
    2.2,
    2.4,
    2.7,
    3.0,
    3.3,
    3.6,
    3.9,
    4.3,
    4.7,
    5.1,
    5.6,
    6.2,
    6.8,
    7.5,
    8.2,
    9.1,
)
"""IEC 60063, table 1: older than the rule of the others, so eight of its numbers do not follow it."""


def series(n: int) -> tuple[float, ...]:
    """The numbers of one decade, from 1.

    E48, E96 and E192 are powers of the root of ten rounded to three figures, but for 9.20 in E192.
    """
    if n in (3, 6, 12, 24):
        return E24[:: 24 // n]
    if n in (48, 96, 192):
        rounded = (round(10.0 ** (k / n), 2) for k in range(n))
        return tuple(9.2 if n == 192 and k == 185 else value for k, value in enumerate(rounded))
    raise DataError(f"There is no series E{n}.", hint="IEC 60063 has E3, E6, E12, E24, E48, E96 and E192")


def nearest(value: float, n: int) -> float:
    """The number of a series that lies nearest in ratio."""
    if not (value > 0.0 and math.isfinite(value)):
        raise DataError(f"{value} has no nearest preferred number.", hint="give a value above zero")
    decade = math.floor(math.log10(value) + 1e-12)
    near = [x * 10.0**d for d in (decade - 1, decade, decade + 1) for x in series(n)]
    best = min(near, key=lambda x: abs(math.log(x / value)))
    return float(f"{best:.3g}")


def coarsest(value: float) -> int | None:
    """The coarsest series that holds a value, None where none does."""
    for n in (3, 6, 12, 24, 48, 96, 192):
        if math.isclose(nearest(value, n), value, rel_tol=1e-6):
            return n
    return None
