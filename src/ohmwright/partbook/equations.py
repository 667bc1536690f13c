"""Sizing equations of power circuits, as their makers print them: what value a neighbour should have.

Buck: Texas Instruments SLVA477B, "Basic calculation of a buck converter's power stage" (2015). Boost:
SLVA372, "Basic calculation of a boost converter's power stage" (from memory). Divider: Kirchhoff.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from ohmwright.circuit import Spread

RIPPLE = 0.30
"""Ripple current as a share of the output current. [1] 20 to 40 % (SLVA477B)"""


@dataclass(frozen=True, slots=True)
class Design:
    """What is known of how a converter was designed; None or a habit where nobody knows.

    Parameters
    ----------
    vin, vout : float or None
        [V]
    amps : float
        Most output current. [A] 2 A where nobody knows: common practice, no source
    hertz : float
        Switching frequency. [Hz] 600 kHz where nobody knows: common practice, no source
    vref : float or None
        Volts at the feedback pin when it regulates. [V]
    """

    vin: float | None = None
    vout: float | None = None
    amps: float = 2.0
    hertz: float = 600e3
    vref: float | None = None

    def between(self, vin: float | None, vout: float | None) -> Design:
        """The same with the volts found on the board, where a design figure is missing."""
        return replace(self, vin=self.vin or vin, vout=self.vout or vout)


def buck_inductor(vin: float, vout: float, amps: float, hertz: float, ripple: float = RIPPLE) -> float:
    """Inductance of a buck. [H] L = Vout (Vin - Vout) / (ΔI f Vin), SLVA477B equation 4."""
    return vout * (vin - vout) / (ripple * amps * hertz * vin)


def buck_ripple(vin: float, vout: float, henries: float, hertz: float) -> float:
    """Peak-to-peak current in the coil of a buck. [A] SLVA477B equation 3."""
    return (vin - vout) * vout / (vin * hertz * henries)


def coil_peak(amps: float, ripple: float) -> float:
    """Peak current in the coil of a buck. [A]"""
    return amps + ripple / 2.0


def coil_rms(amps: float, ripple: float) -> float:
    """Effective current in the coil of a buck. [A]"""
    return float((amps**2 + ripple**2 / 12.0) ** 0.5)


def boost_inductor(vin: float, vout: float, amps: float, hertz: float, ripple: float = RIPPLE) -> float:
    """Inductance of a boost. [H] L = Vin (Vout - Vin) / (ΔI f Vout), ΔI of the input current."""
    return vin * (vout - vin) / (ripple * amps * vout / vin * hertz * vout)


def output_capacitor(ripple: float, hertz: float, volts: float) -> float:
    """Least capacitance for a ripple of `volts`. [F] C = ΔI / (8 f ΔV), SLVA477B equation 11."""
    return ripple / (8.0 * hertz * volts)


def divider_output(vref: float, top: float, bottom: float) -> float:
    """Output volts that a divider sets. [V]"""
    return vref * (1.0 + top / bottom)


def divider_ratio(vref: float, vout: float) -> float:
    """Top over bottom resistance of a feedback divider. [1]"""
    return vout / vref - 1.0


def buck_coil_worth(design: Design) -> Spread | None:
    """The coil of a buck; the current and the frequency are mostly guessed, hence the width."""
    vin, vout = design.vin, design.vout
    if vin is None or vout is None or not vin > vout > 0.0:
        return Spread(3.3e-6, 0.8, "1 to 15 µH, common practice, no source")
    return Spread(
        buck_inductor(vin, vout, design.amps, design.hertz), 0.7, "L = Vout (Vin - Vout)/(ΔI f Vin), SLVA477B"
    )


def boost_coil_worth(design: Design) -> Spread | None:
    """The coil of a boost."""
    vin, vout = design.vin, design.vout
    if vin is None or vout is None or not vout > vin > 0.0:
        return Spread(6.8e-6, 0.8, "2 to 33 µH, common practice, no source")
    return Spread(boost_inductor(vin, vout, design.amps / 4.0, design.hertz), 0.9, "L = Vin (Vout - Vin)/(ΔI f Vout)")


def rail_capacitor_worth(design: Design) -> Spread | None:
    """A capacitor on a converter's output."""
    volts = design.vout
    if volts is None:
        return Spread(22e-6, 0.7, "10 to 47 µF, common practice, no source")
    least = output_capacitor(0.3 * design.amps, design.hertz, 0.01 * volts)
    return Spread(max(10e-6, 2.0 * least), 0.7, "C > ΔI/(8 f ΔV) for 1 % ripple (SLVA477B), doubled for bias")


def fixed(median: float, log_sd: float, source: str) -> Callable[[Design], Spread | None]:
    """A value that no equation tells: the same for every design."""
    spread = Spread(median, log_sd, source)
    return lambda design: spread
