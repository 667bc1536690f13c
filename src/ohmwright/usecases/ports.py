"""What the program asks of a bench: a meter, a supply, and hands. Adapters keep these promises."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from ohmwright.facts import HeatFinding, LookFinding, Meter, Quantity
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
    """A multimeter whose probes somebody puts where they are asked to."""

    @property
    def model(self) -> Meter:
        """What the meter claims of itself."""

    def read(self, quantity: Quantity, red: str, black: str) -> float | None:
        """What the display shows, in SI units; None where it shows OL.

        Raises
        ------
        InstrumentError
            If the meter is silent, refuses, or answers what cannot be understood.
        """


class SupplyPort(Protocol):
    """A bench supply. Its output goes on with a permit, and in no other way."""

    def set(self, volts: float, limit: float) -> None:
        """Set volts and current limit. The output stays as it is only if that lowers both. [V], [A]"""

    def on(self, permit: Permit) -> None:
        """Switch the output on.

        Raises
        ------
        RefusedError
            If the permit is for another setting than the supply's, or for other points than the clips'.
        """

    def off(self) -> None:
        """Switch the output off; at any time, without a permit."""

    def measure(self) -> SupplyReading:
        """What its display shows."""


class HandsPort(Protocol):
    """What fingers, eyes and an iron do."""

    def clip(self, plus: str, minus: str) -> None:
        """Put the supply's clips on two points, its output off."""

    def take_off(self, part: str) -> None:
        """Take a part off the board."""

    def refit(self, part: str) -> None:
        """Put the same part back."""

    def replace(self, part: str) -> None:
        """Fit a new, sound part of the same kind."""

    def clean(self, target: str) -> None:
        """Clean around a part, or along the copper of a net."""

    def reflow(self, part: str) -> None:
        """Melt the joints of a part again."""

    def bridge(self, a: str, b: str) -> None:
        """Join two points by a wire."""

    def look(self, parts: Sequence[str]) -> Mapping[str, LookFinding]:
        """What the eye finds at each of the parts."""

    def feel(self, method: str = "finger") -> tuple[HeatFinding, tuple[str, ...]]:
        """How sharply heat was placed, and at which parts; ``finger``, ``camera`` or ``alcohol film``."""

    def discharge(self) -> None:
        """Discharge the board."""

    def try_board(self) -> bool:
        """Whether the board works now."""
