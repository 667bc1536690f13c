"""Meters and supplies that do what the description of their family says."""

from __future__ import annotations

from ohmwright.errors import InstrumentError, RefusedError
from ohmwright.facts import Quantity
from ohmwright.instruments.family import Family, Mode
from ohmwright.instruments.scpi_line import LineLostError, ScpiLine
from ohmwright.safety import Permit
from ohmwright.usecases.capture import Sample
from ohmwright.usecases.ports import SupplyReading

TAKE_UP = 20.0
"""How long a meter whose cable was pulled is waited for. [s]"""
GLANCE = 1.0
"""How long it is waited for where it is listened to all the time: then that is said, and it is tried again. [s]"""
NEAR = 2e-3
"""Share by which a set value may differ from the permitted one, for the supply's own rounding. [1]"""
SAME_MODE = {Quantity.PART_OHMS: Quantity.OHMS, Quantity.PART_DIODE: Quantity.DIODE}


class DescribedMeter:
    """A meter. Fits `ohmwright.usecases.ports.MeterPort`.

    A reading that was under way when the cable was pulled is taken again once the instrument is back: none is lost,
    and none is made up.
    """

    def __init__(self, line: ScpiLine, family: Family, take_up: float = TAKE_UP) -> None:
        self._line, self._family, self._take_up = line, family, take_up
        self.model = family.meter
        self.outages = 0
        self._set: Quantity | None = None

    def read(self, quantity: Quantity) -> float | None:
        """What the display shows, in SI units; None where it shows OL."""
        return self._read_again(quantity, self._take_up)

    def sample(self, quantity: Quantity, at: float) -> Sample:
        """The same, as a capture hears it: a pulled cable is told soon, since the next sample tries again. [s]"""
        value = self._read_again(quantity, min(GLANCE, self._take_up))
        accuracy = self.mode(quantity).accuracy
        step = 0.0 if accuracy is None or value is None else accuracy.step_at(value)
        return Sample(at, value, overload=value is None, step=step)

    def mode(self, quantity: Quantity) -> Mode:
        """How it reads that quantity."""
        wanted = SAME_MODE.get(quantity, quantity)
        if wanted not in self._family.modes:
            raise InstrumentError(
                f"{self._family.name} does not read {quantity.value}.", where=self._line.address,
                hint=f"it reads {', '.join(q.value for q in self._family.modes)}",
            )  # fmt: skip
        return self._family.modes[wanted]

    def close(self) -> None:
        """Let the meter go."""
        self._line.close()

    def _read_again(self, quantity: Quantity, take_up: float) -> float | None:
        try:
            return self._read(quantity)
        except LineLostError:
            self._set = None
            self.outages += 1
            self._line.take_up_again(take_up)
            return self._read(quantity)

    def _read(self, quantity: Quantity) -> float | None:
        mode = self.mode(quantity)
        if self._set is not quantity:
            for command in mode.select:
                self._line.say(command)
            self._set = quantity
        value = self._line.number(mode.read)
        return None if value is None or abs(value) >= mode.overload else value * mode.scale


class DescribedSupply:
    """A supply. Its output goes on with a permit and in no other way."""

    def __init__(self, line: ScpiLine, family: Family) -> None:
        self._line, self._family = line, family

    def set(self, volts: float, limit: float) -> None:
        """Set volts and current limit, output off. [V], [A]"""
        family = self._family
        if not (0 <= volts <= family.most_volts and 0 <= limit <= family.most_amps):
            raise InstrumentError(
                f"{family.name} does not give {volts:g} V at {limit:g} A.",
                why=f"it gives up to {family.most_volts:g} V and {family.most_amps:g} A",
            )
        self.off()
        self._line.say(family.words["set_volts"].replace("{volts}", f"{volts:.{family.decimals}f}"))
        self._line.say(family.words["set_amps"].replace("{amps}", f"{limit:.{family.decimals}f}"))

    def on(self, permit: Permit) -> None:
        """Set what the permit says, see that the supply took it, and switch the output on."""
        if not isinstance(permit, Permit):
            raise RefusedError("No supply goes on without a permit.", hint="ask safety.permit first")
        feed, words = permit.feed, self._family.words
        self.set(feed.volts, feed.limit)
        told = self._line.number(words["told_volts"]), self._line.number(words["told_amps"])
        for shown, wanted in zip(told, (feed.volts, feed.limit), strict=True):
            if shown is None or abs(shown - wanted) > NEAR * max(wanted, 0.5):
                raise InstrumentError(
                    f"The supply is set to {told[0]} V and {told[1]} A.",
                    why=f"permitted are {feed.volts} V and {feed.limit} A",
                )
        self._line.say(words["on"])

    def off(self) -> None:
        """Switch the output off; at any time. A cable that was pulled is not waited for longer than a moment."""
        try:
            self._line.say(self._family.words["off"])
        except LineLostError:
            self._line.take_up_again(1.0)
            self._line.say(self._family.words["off"])

    def measure(self) -> SupplyReading:
        """What its display shows; `limiting` where it gives its limit."""
        words = self._family.words
        shown = [self._line.number(words[name]) for name in ("volts", "amps", "told_amps")]
        volts, amps, limit = shown
        if volts is None or amps is None or limit is None:
            raise InstrumentError("The supply shows an overload.", hint="switch it off and look at its leads")
        return SupplyReading(volts, amps, amps >= 0.995 * limit)

    def leave(self) -> None:
        """Let the supply go as it stands: who only looked on switches nothing off."""
        self._line.close()

    def close(self) -> None:
        """Switch off and let the supply go."""
        try:
            self.off()
        finally:
            self._line.close()
