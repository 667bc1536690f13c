"""What the program asks of a meter and a supply, whoever made them.

Hands are asked for by `ohmwright.usecases.run_test.Bench`, which is a meter, a supply and hands in one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from ohmwright.facts import Meter, Quantity
from ohmwright.safety import Permit


@dataclass(frozen=True, slots=True)
class SupplyReading:
    """What a supply's own display shows.

    Parameters
    ----------
    volts, amps : float
        At its terminals. [V], [A]
    limiting : bool
        Whether it holds the current, not the voltage.
    """

    volts: float
    amps: float
    limiting: bool


class MeterPort(Protocol):
    """A multimeter whose probes somebody puts where they are asked to.

    Attributes
    ----------
    model : Meter
        What it claims of itself.
    """

    model: Meter

    def read(self, quantity: Quantity) -> float | None:
        """What the display shows, in SI units; None where it shows OL.

        Raises
        ------
        InstrumentError
            If the meter is silent, refuses, or answers what cannot be understood.
        """


class SupplyPort(Protocol):
    """A bench supply. Its output goes on with a permit, and in no other way."""

    def set(self, volts: float, limit: float) -> None:
        """Set volts and current limit, output off. [V], [A]"""

    def on(self, permit: Permit) -> None:
        """Set what the permit says, see that the supply took it, and switch the output on.

        Raises
        ------
        RefusedError
            If what is handed over is no permit.
        InstrumentError
            If the supply is set to something else than it was told; the output then stays off.
        """

    def off(self) -> None:
        """Switch the output off; at any time, without a permit."""

    def measure(self) -> SupplyReading:
        """What its display shows."""
