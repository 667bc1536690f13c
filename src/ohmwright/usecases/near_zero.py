"""Points that read near zero: where heat hardly shows and millivolts along the copper do."""

from __future__ import annotations

from ohmwright.facts import Facts, Quantity
from ohmwright.usecases.entry_words import value_words

NEAR_VOLTS = 0.02
"""Drop in diode mode below which there is no junction. [V] common practice, no source"""
NEAR_OHMS = 1.0
"""Resistance below which heat finds the place badly: copper takes its share. [Ω] estimate"""


def near_zero(facts: Facts) -> list[dict[str, str]]:
    """Readings of the present state that are near zero, oldest first."""
    most = {Quantity.DIODE: NEAR_VOLTS, Quantity.OHMS: NEAR_OHMS}
    return [
        {"red": r.red, "black": r.black, "shows": value_words(r.quantity, r.value)}
        for r in facts.readings
        if r.value is not None and r.quantity in most and abs(r.value) < most[r.quantity]
        and r.state.off == facts.state.off
    ]  # fmt: skip
