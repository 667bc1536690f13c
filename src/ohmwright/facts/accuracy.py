"""How far a meter's figures may be from the truth: a share of the reading and some counts of the last figure.

A data sheet states limits, ``± (0.5 % + 3)``. Nothing more being known, every value within them is as likely as any
other, so the standard uncertainty is the half width divided by the root of three [1]_; parts that have nothing to do
with each other are added as squares [2]_.

References
----------
.. [1] JCGM 100:2008, Evaluation of measurement data: Guide to the expression of uncertainty in measurement, 4.3.7.
.. [2] The same, 5.1.2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

ROOT_3 = math.sqrt(3.0)


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Limits of error of one mode.

    Parameters
    ----------
    percent : float
        Of the reading. [%]
    counts : float
        Of the last figure. [1]
    step : float
        The last figure in the lowest range, in the SI unit of the mode.
    full : int
        Counts of the display, by which the step of higher ranges follows. [1]
    """

    percent: float
    counts: float
    step: float
    full: int = 6_000

    def step_at(self, value: float) -> float:
        """The last figure where this value is shown: each range has ten times the step of the one below.

        Examples
        --------
        >>> Accuracy(0.5, 3, 1e-4, 6000).step_at(0.425), Accuracy(0.5, 3, 1e-4, 6000).step_at(3.3)
        (0.0001, 0.001)
        """
        step = self.step
        while abs(value) >= step * self.full:
            step *= 10.0
        return float(f"{step:.6g}")

    def limit(self, value: float) -> float:
        """Half width of the band the truth lies in, in the SI unit of the mode."""
        return self.percent / 100.0 * abs(value) + self.counts * self.step_at(value)

    def standard(self, value: float) -> float:
        """Standard uncertainty, in the SI unit of the mode.

        Examples
        --------
        JCGM 100:2008, 4.3.7, example 2: a voltmeter with limits of 14e-6 of the reading and 2e-6 of its 1 V range
        shows 0.928 571 V; the half width is 15 µV and the standard uncertainty 8.7 µV.

        >>> round(Accuracy(14e-4, 2.0, 1e-6, 2_000_000).standard(0.928571) * 1e6, 1)
        8.7
        """
        return self.limit(value) / ROOT_3


def agree(a: float, sd_a: float, b: float, sd_b: float) -> bool:
    """Whether two readings of one quantity are the same as far as their meters can tell.

    The difference against twice its standard uncertainty (JCGM 100:2008, 5.1.2 and 6.2.1, coverage factor 2).
    """
    return abs(a - b) <= 2.0 * math.hypot(sd_a, sd_b)
