"""A bench supply that speaks SCPI. Its output goes on with a permit and in no other way."""

from __future__ import annotations

from ohmwright.errors import InstrumentError, RefusedError
from ohmwright.instruments.scpi_line import LineLostError, ScpiLine
from ohmwright.safety import Permit
from ohmwright.usecases.ports import SupplyReading

TAKE_UP = 1.0
"""How long a supply whose cable was pulled is waited for before the output is taken for unknown. [s]"""
NEAR = 1e-3
"""Share by which a set value may differ from the permitted one, for the supply's own rounding. [1]"""


class ScpiSupply:
    """A supply whose clips somebody puts where they are asked to."""

    def __init__(self, line: ScpiLine) -> None:
        self._line = line
        self.is_on = False

    def set(self, volts: float, limit: float) -> None:
        """Set volts and current limit, output off. [V], [A]"""
        self.off()
        self._line.say(f"VOLT {volts:.4f}")
        self._line.say(f"CURR {limit:.4f}")

    def on(self, permit: Permit) -> None:
        """Set what the permit says, see that the supply took it, and switch the output on.

        Raises
        ------
        RefusedError
            If what is handed over is no permit.
        InstrumentError
            If the supply is set to something else than it was told; the output then stays off.
        """
        if not isinstance(permit, Permit):
            raise RefusedError("No supply goes on without a permit.", hint="ask safety.permit first")
        feed = permit.feed
        self.set(feed.volts, feed.limit)
        volts, limit = self._line.number("VOLT?"), self._line.number("CURR?")
        if not (_same(volts, feed.volts) and _same(limit, feed.limit)):
            raise InstrumentError(
                f"The supply is set to {volts} V and {limit} A.", why=f"permitted are {feed.volts} V and {feed.limit} A"
            )
        self._line.say("OUTP ON")
        self.is_on = True

    def off(self) -> None:
        """Switch the output off; at any time, without a permit, also once a cable that was pulled is back."""
        try:
            self._line.say("OUTP OFF")
        except LineLostError:
            self._line.take_up_again(TAKE_UP)
            self._line.say("OUTP OFF")
        self.is_on = False

    def measure(self) -> SupplyReading:
        """What its display shows; `limiting` where the volts fell below the setting."""
        volts, amps, limit = (self._line.number(q) for q in ("MEAS:VOLT?", "MEAS:CURR?", "CURR?"))
        if volts is None or amps is None or limit is None:
            raise InstrumentError("The supply shows an overload.", hint="switch it off and look at its leads")
        return SupplyReading(volts, amps, amps >= 0.995 * limit)

    def close(self) -> None:
        """Switch off and let the supply go."""
        try:
            self.off()
        finally:
            self._line.close()


def _same(shown: float | None, told: float) -> bool:
    return shown is not None and abs(shown - told) <= NEAR * max(told, 0.1)
