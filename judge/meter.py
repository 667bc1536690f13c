"""The true meter and supply of a case: what they do to the board, and the errors that are theirs.

The claims are those of `ohmwright.facts.Meter`; the truth scatters about them. All figures are estimates
after common hand-held meters and bench supplies, no source.
"""

from __future__ import annotations

import math
from bisect import bisect
from collections.abc import Callable
from dataclasses import dataclass

from judge.world import Random, random_of
from ohmwright.facts import Meter, Quantity

Port = Callable[[float], float]
"""Volts red minus black while that current is driven into red and out of black. [A] to [V]"""
RANGES = (1.0, 10.0, 100.0, 1e3, 1e4)
"""Reference resistances of the ohms ranges, as multiples of the first. [1]"""
OVER_REFERENCE = 6.0
"""Top of a range as a multiple of its reference. [1]"""
FEELER = 1e-8
"""Current of the first try in ohms: about that of the highest range at its top. [A]"""
BLOCKS = 25.0
INPUT = 1e7
"""Input resistance in volts. [Ω]"""


def open_ohms(port: Port, meter: Meter) -> float | None:
    """What ohms would read with perfect leads: a source behind a reference, ranged upward; None for OL. [Ω]"""
    first = meter.ohms_compliance / meter.ohms_current
    # What blocks at the least current blocks at any: no simulator likes a milliampere forced through it.
    curve = Curve(port)
    if curve.ask(FEELER) / FEELER > BLOCKS * meter.ohms_overload:
        return None
    ohms = 0.0
    for multiple in RANGES:
        reference = first * multiple
        ohms = _on_load_line(curve, meter.ohms_compliance, reference)
        if ohms <= OVER_REFERENCE * reference:
            break
    return None if ohms > meter.ohms_overload else ohms


class Curve:
    """The volts of a port over its current, as far as asked; between two answers a power law. [A], [V]"""

    def __init__(self, port: Port) -> None:
        self._port = port
        self._amps: list[float] = []
        self._volts: list[float] = []

    def ask(self, amps: float) -> float:
        """Ask the port and remember."""
        volts = max(self._port(amps), 1e-15)
        at = bisect(self._amps, amps)
        self._amps.insert(at, amps)
        self._volts.insert(at, volts)
        return volts

    def guess(self, amps: float) -> float:
        """What the answers so far say; beyond them in proportion."""
        at = bisect(self._amps, amps)
        if at == 0 or at == len(self._amps):
            near = min(at, len(self._amps) - 1)
            return self._volts[near] * amps / self._amps[near]
        low, high = at - 1, at
        slope = math.log(self._volts[high] / self._volts[low]) / math.log(self._amps[high] / self._amps[low])
        return self._volts[low] * math.pow(amps / self._amps[low], slope)


def _on_load_line(curve: Curve, source: float, reference: float) -> float:
    """Resistance seen by a source behind a reference: at the one current at which the volts add up. [Ω]

    V(I) + I reference = source has one root, since a passive port's volts grow with its current.
    """
    ohms, last = 0.0, 0.0
    for turn in range(40):
        low, high = 0.0, source / reference
        for _ in range(60):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if curve.guess(middle) + middle * reference < source else (low, middle)
        amps = 0.5 * (low + high)
        if turn % 2 and last > 0.0:
            # Guesses creep up from one side; a step as far again brings the point between two answers.
            amps = min(max(amps + (amps - last), 0.5 * amps), 2.0 * amps, source / reference)
        last = amps
        across = curve.ask(amps)
        ohms = across / amps
        left = abs(across + amps * reference - source)
        if left <= 5e-4 * min(source, across) + 1e-9 or (turn and left < 1e-7):
            break
        if left < 0.4 * source and ohms > 2.0 * OVER_REFERENCE * reference:
            break
    return ohms


def open_diode(port: Port, meter: Meter) -> float | None:
    """What diode mode would read with perfect leads; None for OL. [V]"""
    if port(1e-4 * meter.diode_current) > meter.diode_overload:
        return None
    across = port(meter.diode_current)
    return None if across > min(meter.diode_overload, meter.diode_compliance - 0.05) else across


@dataclass(frozen=True, slots=True)
class TrueMeter:
    """One specimen. Currents and compliances are in `acts` [A], [V]; the rest are errors of showing."""

    acts: Meter
    leads: float
    diode_gain: float
    ohms_gain: float
    volts_gain: float
    volts_offset: float

    def contact(self, luck: Random) -> float:
        """Resistance of both tips at one touch; now and then one sits on flux or oxide. [Ω]"""
        tips = float(sum(0.004 + luck.gamma(1.6, 0.016) for _ in range(2)))
        return tips + (float(luck.uniform(0.8, 12.0)) if luck.random() < 0.006 else 0.0)

    def show_ohms(self, true: float | None, luck: Random) -> float | None:
        """What the display shows of a true resistance. [Ω]"""
        if true is None:
            return None
        through = true + (0.0 if self.acts.four_wire else self.contact(luck) + self.leads)
        if self.acts.nulled and not self.acts.four_wire:
            through -= self.leads
        first = self.acts.ohms_compliance / self.acts.ohms_current
        rank = next((k for k, m in enumerate(RANGES) if through <= OVER_REFERENCE * first * m), len(RANGES) - 1)
        step = self.acts.ohms_resolution * 10.0**rank
        shown = through * self.ohms_gain * (1.0 + float(luck.normal(0.0, 1.5e-3))) + float(luck.normal(0.0, 0.5 * step))
        return max(rounded(shown, step), 0.0) if shown <= self.acts.ohms_overload else None

    def show_diode(self, true: float | None, luck: Random) -> float | None:
        """What the display shows of a true drop. [V]"""
        if true is None:
            return None
        touch = self.contact(luck) + self.leads
        shown = (true + self.acts.diode_current * touch) * self.diode_gain + float(luck.normal(0.0, 5e-4))
        return rounded(shown, self.acts.diode_resolution) if shown <= self.acts.diode_overload else None

    def show_volts(self, true: float, luck: Random) -> float:
        """What the display shows of a true voltage, thermo-EMF of the touch included. [V]"""
        step = self.acts.volts_resolution * 10.0 ** max(0, math.ceil(math.log10(max(abs(true), 1e-9) / 0.6)))
        warm = float(luck.normal(0.0, 8e-6))
        return rounded(true * self.volts_gain + self.volts_offset + warm + float(luck.normal(0.0, 0.4 * step)), step)

    def sd(self, quantity: Quantity, value: float | None) -> float:
        """Standard deviation about a noise-free value, persistent errors included."""
        size = abs(value or 0.0)
        if quantity in (Quantity.OHMS, Quantity.PART_OHMS):
            # Leads scatter between benches and so does each touch.
            return math.hypot(0.006 * size, math.hypot(0.07 if not self.acts.four_wire else 0.002, 0.06))
        if quantity in (Quantity.DIODE, Quantity.PART_DIODE):
            return math.hypot(0.006 * size, 1e-3)
        if quantity is Quantity.VOLTS:
            return math.hypot(0.006 * size, 0.6 * self.acts.volts_resolution + 4e-5)
        if quantity is Quantity.SUPPLY_VOLTS:
            return math.hypot(0.003 * size, 4e-3)
        return math.hypot(0.006 * size, 1.5e-3)


@dataclass(frozen=True, slots=True)
class TrueSupply:
    """One specimen of the bench supply: lead resistance [Ω] and errors of its display."""

    leads: float
    volts_gain: float
    amps_gain: float
    amps_offset: float

    def show_volts(self, true: float, luck: Random) -> float:
        """Volts on its display. [V]"""
        return rounded(max(true * self.volts_gain + float(luck.normal(0.0, 1e-3)), 0.0), 1e-3)

    def show_amps(self, true: float, luck: Random) -> float:
        """Amperes on its display. [A]"""
        return rounded(max(true * self.amps_gain + self.amps_offset + float(luck.normal(0.0, 3e-4)), 0.0), 1e-3)


def rounded(value: float, step: float) -> float:
    """To the display's last figure, without tails of binary fractions."""
    return float(f"{round(value / step) * step:.10g}")


def claimed_meter(seed: str) -> Meter:
    """What the meter of a bench says of itself: three common sorts of hand-held meters."""
    luck = random_of(seed, "claimed meter")
    sort = int(luck.integers(3))
    if sort == 0:
        return Meter("pocket meter", 0.6e-3, 2.4, 1.999, lead_resistance=0.25, accuracy=0.01)
    if sort == 1:
        return Meter("bench hand", nulled=True, lead_resistance=0.18)
    return Meter("old hand-held", 1.05e-3, 3.2, lead_resistance=0.3, accuracy=0.012)


def true_meter(seed: str, claimed: Meter) -> TrueMeter:
    """The specimen on the bench."""
    luck = random_of(seed, "true meter")
    acts = Meter(
        claimed.name,
        claimed.diode_current * float(luck.triangular(0.92, 1.0, 1.08)),
        claimed.diode_compliance * float(luck.uniform(0.95, 1.05)),
        claimed.diode_overload,
        claimed.ohms_current * float(luck.uniform(0.9, 1.1)),
        claimed.ohms_compliance * float(luck.uniform(0.93, 1.07)),
        claimed.ohms_overload,
        INPUT,
        claimed.lead_resistance,
        claimed.nulled,
        claimed.volts_resolution,
        claimed.diode_resolution,
        claimed.ohms_resolution,
        claimed.accuracy,
        claimed.four_wire,
    )
    gains = [1.0 + float(luck.triangular(-1.0, 0.0, 1.0)) * claimed.accuracy for _ in range(3)]
    leads = max(claimed.lead_resistance + float(luck.normal(0.0, 0.05)), 0.05)
    return TrueMeter(acts, leads, gains[0], gains[1], gains[2], float(luck.normal(0.0, 3e-5)))


def true_supply(seed: str) -> TrueSupply:
    """The supply on the bench."""
    luck = random_of(seed, "true supply")
    return TrueSupply(
        float(luck.uniform(0.03, 0.085)),
        1.0 + float(luck.normal(0.0, 2e-3)),
        1.0 + float(luck.normal(0.0, 5e-3)),
        float(luck.normal(0.0, 1e-3)),
    )
