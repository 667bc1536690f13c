"""How bad a fault is: ranges of resistance, each with a spread inside."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Severity:
    """A range of resistance (for a drift, of the factor on the sound value).

    Parameters
    ----------
    low, high : float
        [Ω], or [1] for a drift.
    mode : str
        ``short`` or ``leak`` for a path that should not be; ``drift``.
    share : float
        Its part among the severities of its mode. [1]
    """

    low: float
    high: float
    mode: str
    share: float

    @property
    def median(self) -> float:
        """Geometric middle."""
        return math.sqrt(self.low * self.high)

    @property
    def log_sd(self) -> float:
        """Spread of the natural logarithm, that of a uniform density over the range. [1]"""
        return math.log(self.high / self.low) / math.sqrt(12.0)


BINS = (
    Severity(0.005, 0.05, "short", 0.30),
    Severity(0.05, 0.5, "short", 0.35),
    Severity(0.5, 10.0, "short", 0.35),
    Severity(10.0, 100.0, "leak", 0.30),
    Severity(100.0, 1e3, "leak", 0.30),
    Severity(1e3, 1e4, "leak", 0.22),
    Severity(1e4, 1e5, "leak", 0.18),
)
"""Severities of a path that should not be. Shares are estimates (no source)."""
OPENED = Severity(1e5, 1e11, "open", 1.0)
"""What is left of an element that is open: a cracked joint still touches, a cut path does not. Estimate."""
DRIFTS = (Severity(1.3, 3.0, "drift", 0.5), Severity(3.0, 30.0, "drift", 0.35), Severity(0.3, 0.8, "drift", 0.15))
"""Factors of a drifted value: corrosion drives resistors upward (common practice)."""
