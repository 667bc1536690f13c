"""Figures as they are typed with one hand, and the scale they were meant in.

``.425`` and ``425`` in diode mode are the same reading: no meter shows a drop of 425 V. A scale is guessed only where
the figures as they stand cannot be what the meter showed and a thousandth of them can; a unit or a prefix that was
typed is never overruled. In diode mode a display in volts always shows its point, so figures without one are
millivolts however few: ``2`` is a short, not a drop of two volts. The text as typed stays on record beside the value,
so a wrong guess is seen and put right.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from ohmwright.facts import Meter, Quantity
from ohmwright.quantities import is_overload, parse_quantity

DIODE = (Quantity.DIODE, Quantity.PART_DIODE)
BARE = re.compile(r"\s*[+-]?\d*[.,]?\d*\s*\Z")
"""Figures with neither a prefix nor a unit."""
WHOLE = re.compile(r"\s*[+-]?\d+\s*\Z")
"""Figures without a point."""
MOST_SUPPLY_AMPS = 30.0
"""More than a bench supply's display shows; such figures are milliamperes. [A] common practice, no source"""


@dataclass(frozen=True, slots=True)
class Entered:
    """A value and whether its scale was guessed.

    Parameters
    ----------
    value : float or None
        In the SI unit of the quantity; None for an overload.
    guessed : bool
    """

    value: float | None
    guessed: bool = False


def entered_value(text: str, quantity: Quantity, meter: Meter) -> Entered:
    """What was typed, in SI units.

    Examples
    --------
    >>> entered_value("425", Quantity.DIODE, Meter()), entered_value(".425", Quantity.DIODE, Meter())
    (Entered(value=0.425, guessed=True), Entered(value=0.425, guessed=False))
    >>> entered_value("425", Quantity.OHMS, Meter()), entered_value("4k7", Quantity.OHMS, Meter())
    (Entered(value=425.0, guessed=False), Entered(value=4700.0, guessed=False))
    """
    if is_overload(text):
        return Entered(None)
    value = parse_quantity(text)
    most = meter.diode_compliance if quantity in DIODE else MOST_SUPPLY_AMPS
    if quantity not in (*DIODE, Quantity.SUPPLY_AMPS) or not BARE.match(text):
        return Entered(value)
    least = 0.0 if quantity in DIODE and WHOLE.match(text) else most
    if least < abs(value) <= 1_000.0 * most:
        return Entered(float(f"{value / 1000.0:.12g}"), guessed=True)
    return Entered(value)
