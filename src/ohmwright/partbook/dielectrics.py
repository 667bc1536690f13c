"""Dielectric codes of ceramic capacitors after EIA-198-1 (and IEC 60384-21 and -22)."""

from __future__ import annotations

import re
from dataclasses import dataclass

LOW = {"X": -55.0, "Y": -30.0, "Z": 10.0}
"""Lowest temperature. [°C]"""
HIGH = {"4": 65.0, "5": 85.0, "6": 105.0, "7": 125.0, "8": 150.0, "9": 200.0}
"""Highest temperature. [°C]"""
CHANGE = {
    "A": (-1.0, 1.0), "B": (-1.5, 1.5), "C": (-2.2, 2.2), "D": (-3.3, 3.3), "E": (-4.7, 4.7), "F": (-7.5, 7.5),
    "P": (-10.0, 10.0), "R": (-15.0, 15.0), "S": (-22.0, 22.0), "T": (-33.0, 22.0), "U": (-56.0, 22.0), "V": (-82.0,
    22.0),
}  # fmt: skip
"""Change over that range, below and above. [%]"""
SLOPE = {"C": 0.0, "B": 0.3, "M": 1.0, "P": 1.5, "R": 2.2, "S": 3.3, "T": 4.7, "U": 7.5}
"""Class 1: first figures of the slope. [ppm/K]"""
FACTOR = {"0": -1.0, "1": -10.0, "2": -100.0, "3": -1e3, "5": 1.0, "6": 10.0, "7": 100.0, "8": 1e3}
"""Class 1: factor of the slope. [1]"""
SPREAD = {"G": 30.0, "H": 60.0, "J": 120.0, "K": 250.0, "L": 500.0, "M": 1000.0, "N": 2500.0}
"""Class 1: tolerance of the slope. [ppm/K]"""


@dataclass(frozen=True, slots=True)
class Dielectric:
    """What a dielectric code says.

    Parameters
    ----------
    low, high : float
        Range of temperature. [°C]
    change : (float, float) or None
        Class 2: change of capacitance over that range. [%] What the voltage takes away comes on top.
    slope, slope_spread : float or None
        Class 1. [ppm/K]
    """

    code: str
    low: float
    high: float
    change: tuple[float, float] | None = None
    slope: float | None = None
    slope_spread: float | None = None
    caution: str = ""


def dielectric(code: str) -> Dielectric | None:
    """What a code such as ``X7R`` or ``C0G`` says; None where it is no such code.

    Examples
    --------
    >>> dielectric("X7R").change, dielectric("NP0").slope_spread, dielectric("X7Q")
    ((-15.0, 15.0), 30.0, None)
    """
    bare = code.strip().upper().replace("COG", "C0G").replace("NPO", "NP0")
    if bare == "NP0":
        bare = "C0G"
    if re.fullmatch(r"[XYZ][4-9][A-FPR-V]", bare):
        caution = "with rated volts across it a small body keeps 20 to 60 % of its capacitance (common practice)"
        return Dielectric(bare, LOW[bare[0]], HIGH[bare[1]], change=CHANGE[bare[2]], caution=caution)
    if re.fullmatch(r"[CBMPRSTU][0-35-8][GHJKLMN]", bare):
        slope = SLOPE[bare[0]] * FACTOR[bare[1]] + 0.0
        return Dielectric(bare, -55.0, 125.0, slope=slope, slope_spread=SPREAD[bare[2]])
    return None
