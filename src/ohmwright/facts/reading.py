"""One number from one meter at two points of the board in one state."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from ohmwright.circuit import BoardState
from ohmwright.errors import ReadingError
from ohmwright.facts.meter import HANDHELD, Meter


class Quantity(StrEnum):
    """What the meter (or the supply's own display) was asked for."""

    DIODE = "diode"
    """Volts at the test current, red minus black, supply off. [V]"""
    OHMS = "ohms"
    """Resistance between the probes, supply off. [Ω]"""
    VOLTS = "volts"
    """Voltage red minus black while the board is fed. [V]"""
    SUPPLY_VOLTS = "supply volts"
    """Voltage at the supply's terminals while it feeds the board. [V]"""
    SUPPLY_AMPS = "supply amps"
    """Current the supply delivers. [A]"""
    PART_OHMS = "part ohms"
    """Resistance between two pins of a part that is off the board, red to black. [Ω]"""
    PART_DIODE = "part diode"
    """Diode mode between two pins of a part that is off the board. [V]"""


FED = frozenset({Quantity.VOLTS, Quantity.SUPPLY_VOLTS, Quantity.SUPPLY_AMPS})
"""Quantities that make sense only while the board is fed."""
LOOSE = frozenset({Quantity.PART_OHMS, Quantity.PART_DIODE})
"""Quantities taken at a part that is off the board."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A value, or an overload, with all that gives it its meaning.

    Parameters
    ----------
    red, black : str
        Where the probes are: a net's name or ``PART.PIN``. For the supply's own display the clips.
    value : float or None
        In SI units of the quantity; None for an overload ("OL").
    state : BoardState
        How the board stood.
    key : str
        The event it comes from, so that reasons can cite it.
    """

    quantity: Quantity
    red: str
    black: str
    value: float | None
    state: BoardState = BoardState()
    meter: Meter = HANDHELD
    key: str = ""

    def __post_init__(self) -> None:
        if self.value is not None and not math.isfinite(self.value):
            raise ReadingError(
                f"A reading of {self.value} is not a number.",
                hint="enter the figures shown, or OL when the meter is out of range",
            )
        if self.quantity in (Quantity.OHMS, Quantity.PART_OHMS) and self.value is not None and self.value < -1.0:
            raise ReadingError(
                f"{self.value} ohms cannot be.",
                why="a nulled meter may show a little below zero, never this much",
                hint="check for volts left on the board, null the leads again, and repeat",
            )
        if self.quantity in FED and self.state.feed is None:
            raise ReadingError(
                f"{self.quantity.value} at {self.red} needs a fed board, and the supply is off.",
                hint="record the feed first, or take the reading in ohms or diode mode",
            )
        if self.quantity in (Quantity.OHMS, Quantity.DIODE) and self.state.feed is not None:
            raise ReadingError(
                f"{self.quantity.value} at {self.red} was taken with the supply on.",
                why="the supply's volts spoil the reading and may spoil the meter",
                hint="switch the supply off, discharge, and take it again",
            )

    @property
    def overload(self) -> bool:
        """Whether the meter was out of range."""
        return self.value is None
