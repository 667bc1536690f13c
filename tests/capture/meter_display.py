"""What a meter's display makes of what is across its probes: readings now and then, noise, ranges, a hold."""

from __future__ import annotations

import numpy as np

from ohmwright.usecases.capture import Sample

OHM_RANGES = ((600.0, 0.1), (6e3, 1.0), (6e4, 10.0), (6e5, 100.0), (6e6, 1e3), (4e7, 1e4))
VOLT_RANGES = ((0.6, 1e-4), (6.0, 1e-3), (60.0, 1e-2))
RANGES = 0.35


class Display:
    """A meter's display: a number of readings per second, noise, ranges that are changed, a hold."""

    def __init__(self, dice: np.random.Generator, quantity: str, rate: float) -> None:
        self.dice, self.quantity, self.rate = dice, quantity, rate
        self.tells_step = dice.random() < 0.7
        self.range = 0
        self.changing = 0
        self.averages = dice.random() < 0.5
        self.before: float | None = None
        self.slow_range = dice.random() < RANGES
        self.frozen: Sample | None = None

    def ranges(self) -> tuple[tuple[float, float], ...]:
        return {"diode": ((2.0, 1e-3),), "ohms": OHM_RANGES, "volts": VOLT_RANGES}[self.quantity]

    def show(self, at: float, true: float | None, held: bool) -> Sample:
        if held:
            self.frozen = self.frozen or Sample(at, 0.0)
            return Sample(at, self.frozen.value, self.frozen.overload, True, self.frozen.step)
        shown = self._reading(at, true)
        self.frozen = shown
        return shown

    def _reading(self, at: float, true: float | None) -> Sample:
        if true is None:
            self.before = None
            if self.quantity == "volts":
                stray = float(self.dice.normal(0, 0.006))
                return Sample(at, round(stray / 1e-3) * 1e-3, step=1e-3 if self.tells_step else 0.0)
            self.range = len(self.ranges()) - 1
            return Sample(at, None, overload=True)
        if self.averages and self.before is not None:
            share = float(self.dice.uniform(0.7, 1.0))
            true = share * true + (1 - share) * self.before
        self.before = true
        ranges = self.ranges()
        fitting = next((k for k, (top, _) in enumerate(ranges) if abs(true) <= top), None)
        if fitting is None:
            return Sample(at, None, overload=True)
        if fitting != self.range and self.slow_range and self.changing < 2 and self.quantity != "diode":
            self.changing += 1
            return self._while_changing(at, true)
        self.range, self.changing = fitting, 0
        return self._figures(at, true, ranges[fitting][1])

    def _while_changing(self, at: float, true: float) -> Sample:
        """Blank, OL for a moment, or the figures of the range that is left."""
        top, step = self.ranges()[self.range]
        kind = self.dice.random()
        if kind < 0.4:
            return Sample(at, None)
        if kind < 0.6 or abs(true) > top:
            return Sample(at, None, overload=True)
        return self._figures(at, true, step)

    def _figures(self, at: float, true: float, step: float) -> Sample:
        noisy = true * (1 + float(self.dice.normal(0, 4e-4))) + float(self.dice.normal(0, 0.35 * step))
        return Sample(at, round(noisy / step) * step, step=step if self.tells_step else 0.0)
