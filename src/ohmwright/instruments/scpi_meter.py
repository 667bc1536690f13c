"""A multimeter that speaks SCPI."""

from __future__ import annotations

from ohmwright.facts import Meter, Quantity
from ohmwright.instruments.scpi_line import ScpiLine

SETTINGS = {
    Quantity.DIODE: "CONF:DIOD",
    Quantity.PART_DIODE: "CONF:DIOD",
    Quantity.OHMS: "CONF:RES",
    Quantity.PART_OHMS: "CONF:RES",
    Quantity.VOLTS: "CONF:VOLT:DC",
}


class ScpiMeter:
    """A meter; where its probes are is somebody else's business.

    Parameters
    ----------
    line : ScpiLine
    model : Meter
        What the meter claims of itself.
    """

    def __init__(self, line: ScpiLine, model: Meter) -> None:
        self._line = line
        self.model = model

    def read(self, quantity: Quantity) -> float | None:
        """What the display shows, in SI units; None where it shows OL.

        Raises
        ------
        InstrumentError
            If the meter is silent, refuses, or answers what cannot be understood.
        """
        self._line.say(SETTINGS[quantity])
        return self._line.number("READ?")

    def close(self) -> None:
        """Let the meter go."""
        self._line.close()
