"""The bench's meter and supply with the errors that are theirs for good, and those of each touch.

All figures are estimates after common hand-held meters and bench supplies, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from ohmwright.facts import HANDHELD, Meter
from ohmwright.practice.chance import Dice, about, dice_for
from ohmwright.practice.solve import Network, solved

CLAIMED: Meter = HANDHELD
"""What the meter says of itself."""
OHMS_RANGES = ((1e3, 6e3, 0.1), (1e4, 6e4, 1.0), (1e5, 6e5, 10.0), (1e6, 6e6, 1e2), (1e7, 4e7, 1e4))
"""Inner resistance, top and step of each range in ohms. [Ω]"""
VOLTS_RANGES = ((0.6, 1e-4), (6.0, 1e-3), (60.0, 1e-2), (600.0, 0.1))
"""Top and step of each range in DC volts. [V]"""
INPUT = 1e7
"""Input resistance in volts. [Ω]"""


@dataclass(frozen=True)
class TrueMeter:
    """One specimen of the meter. [A], [V], [Ω], [1]"""

    diode_amps: float
    diode_volts: float
    ohms_volts: float
    leads: float
    gains: tuple[float, float, float]
    offset: float

    def diode(self, network: Network, red: str, black: str, dice: Dice) -> float | None:
        """Diode mode: volts at the test current, or None for OL. [V]"""
        network.sources.append((red, black, self.diode_amps, self.diode_volts, 150.0))
        answer = solved(network)
        jacks = answer.across(red, black) + answer.source_amps[-1] * (self.leads + contact(dice))
        shown = _stepped(jacks * self.gains[0] + float(dice.normal(0.0, 4e-4)), 1e-3)
        return None if shown > CLAIMED.diode_overload or jacks > 0.97 * self.diode_volts else shown

    def ohms(self, network: Network, red: str, black: str, dice: Dice) -> float | None:
        """Ohms with a low test voltage, range by range; None for OL. [Ω]"""
        touch = self.leads + contact(dice)
        for inner, top, step in OHMS_RANGES:
            network.sources.append((red, black, 1.0, self.ohms_volts, inner + touch))
            answer = solved(network)
            network.sources.pop()
            amps = answer.source_amps[-1]
            ohms = (answer.across(red, black) / amps if amps > 1e-12 else 1e15) + touch
            if ohms <= top:
                noisy = ohms * self.gains[1] * (1.0 + float(dice.normal(0.0, 1e-3))) + float(
                    dice.normal(0.0, 0.4 * step)
                )
                return max(_stepped(noisy, step), 0.0)
        return None

    def volts(self, across: float, dice: Dice) -> float | None:
        """DC volts; None for OL. [V]"""
        for top, step in VOLTS_RANGES:
            if abs(across) <= top:
                noise = float(dice.normal(0.0, 0.4 * step + 1e-5))
                return _stepped(across * self.gains[2] + self.offset + noise, step)
        return None


@dataclass(frozen=True)
class TrueSupply:
    """One specimen of the supply: lead resistance and display errors. [Ω], [1], [V], [A]"""

    leads: float
    volts_gain: float
    amps_gain: float
    volts_offset: float
    amps_offset: float

    def display(self, volts: float, amps: float, dice: Dice) -> tuple[float, float]:
        """What it shows of what is. [V], [A]"""
        shown_volts = volts * self.volts_gain + self.volts_offset + float(dice.normal(0.0, 5e-4))
        shown_amps = amps * self.amps_gain + self.amps_offset + float(dice.normal(0.0, 2e-4))
        return _stepped(max(shown_volts, 0.0), 1e-3), _stepped(max(shown_amps, 0.0), 1e-3)


def meter_for(seed: int) -> TrueMeter:
    """The meter of a bench. [1]"""
    dice = dice_for(seed, "meter")
    return TrueMeter(
        CLAIMED.diode_current * float(dice.uniform(0.94, 1.06)),
        CLAIMED.diode_compliance * float(dice.uniform(0.96, 1.06)),
        CLAIMED.ohms_compliance * float(dice.uniform(0.94, 1.02)),
        float(dice.uniform(0.12, 0.28)),
        tuple(1.0 + 0.003 * dice.normal(size=3)),
        float(dice.normal(0.0, 4e-5)),
    )


def supply_for(seed: int) -> TrueSupply:
    """The supply of a bench. [1]"""
    dice = dice_for(seed, "supply")
    return TrueSupply(
        float(dice.uniform(0.035, 0.075)), 1.0 + 0.002 * float(dice.normal()), 1.0 + 0.004 * float(dice.normal()),
        float(dice.normal(0.0, 2e-3)), float(dice.normal(0.0, 7e-4)),
    )  # fmt: skip


def contact(dice: Dice) -> float:
    """Resistance of both probe tips at one touch: now and then one sits on flux. [Ω]"""
    poor = float(dice.uniform(2.0, 30.0)) if dice.random() < 0.004 else 0.0
    return about(dice, 0.02, 0.6) + about(dice, 0.02, 0.6) + poor


def _stepped(value: float, step: float) -> float:
    """Rounded to the display's last figure, without tails of binary fractions."""
    return float(f"{round(value / step) * step:.10g}")
