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
SOFT = (Severity(50.0, 500.0, "leak", 0.5), Severity(500.0, 5e3, "leak", 0.5))
"""What a junction that has gone soft amounts to at a meter's milliampere, 0.1 to 1 V; estimates."""
OPENED = (
    Severity(1e3, 1e5, "open", 0.1),
    Severity(1e5, 1e7, "open", 0.2),
    Severity(1e7, 1e11, "open", 0.7),
)
"""What is left of an element that is open: a cracked body still touches, a blown one does not. Estimates."""
LOOSENED = (
    Severity(0.5, 30.0, "open", 0.15),
    Severity(30.0, 3e3, "open", 0.15),
    Severity(3e3, 3e5, "open", 0.2),
    Severity(3e5, 3e7, "open", 0.2),
    Severity(3e7, 1e11, "open", 0.3),
)
"""The same for a cracked joint, which touches more often than not. Estimates."""
ADDED = (Severity(1.3, 3.0, "open", 0.5), Severity(3.0, 30.0, "open", 0.5))
"""Factors on an element's resistance by what a cracked joint adds to it, short of an open. Estimates."""
CUT_OFF = (
    Severity(5.0, 2e3, "open", 0.35),
    Severity(2e3, 1e11, "open", 0.65),
)
"""The same for one pin of a part of many: the coarse and the clean break of `LOOSENED`. Estimates."""
FAR = 5.0
"""How many times its own resistance an element must gain before anybody would call it open. [1]"""
DRIFTS = (Severity(1.3, 3.0, "drift", 0.5), Severity(3.0, 30.0, "drift", 0.35), Severity(0.3, 0.8, "drift", 0.15))
"""Factors of a drifted value: corrosion drives resistors upward (common practice)."""
AS_RESISTOR = (
    Severity(1.0, 30.0, "as built", 0.15),
    Severity(30.0, 1e3, "as built", 0.25),
    Severity(1e3, 3e4, "as built", 0.35),
    Severity(3e4, 1e6, "as built", 0.25),
)
"""Values of resistors on computer boards, for a part that may be one; estimates."""
AS_LINK = (Severity(0.004, 0.6, "as built", 1.0),)
"""The same for a bead, a coil, a fuse or a link; estimates."""
BRIDGES = (
    Severity(0.01, 1.0, "short", 0.3),
    Severity(1.0, 300.0, "leak", 0.2),
    Severity(300.0, 1e5, "leak", 0.5),
)
"""What solder or residue between neighbouring pins amounts to; estimates."""
