"""Values as they are printed on parts: figures, RKM letters, EIA-96, and what each could also mean.

A code may be read in several ways, so every function gives a list, the usual reading first.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from ohmwright.partbook.series import coarsest, series

TOLERANCES = {
    "E": 0.005, "L": 0.01, "P": 0.02, "W": 0.05, "B": 0.1, "C": 0.25, "D": 0.5, "F": 1.0, "G": 2.0, "H": 3.0, "J": 5.0,
    "K": 10.0, "M": 20.0, "N": 30.0,
}  # fmt: skip
"""Letter to tolerance of both signs. [%] IEC 60062, clause 5"""
LOPSIDED = {"Z": (-20.0, 80.0), "S": (-20.0, 50.0), "Q": (-10.0, 30.0), "T": (-10.0, 50.0)}
"""Letter to tolerance below and above. [%] IEC 60062, clause 5; Q and T from memory"""
SMALL_TOLERANCES = {"B": 0.1, "C": 0.25, "D": 0.5, "F": 1.0, "G": 2.0}
"""For capacitors below 10 pF. [pF] IEC 60062, clause 5"""
EIA_96_FACTORS = {
    "Z": 0.001, "Y": 0.01, "R": 0.01, "X": 0.1, "S": 0.1, "A": 1.0, "B": 10.0, "H": 10.0, "C": 100.0, "D": 1e3,
    "E": 1e4,
    "F": 1e5,
}  # fmt: skip
RKM = {"R": 1.0, "K": 1e3, "M": 1e6, "G": 1e9, "L": 1e-3}
"""Letters for the decimal point of ohms (IEC 60062, clause 4); L for milliohms is a maker's habit."""
RKM_FARADS = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "m": 1e-3}
TWO_MARKS = {
    "A": 1.0, "B": 1.1, "C": 1.2, "D": 1.3, "E": 1.5, "F": 1.6, "G": 1.8, "H": 2.0, "J": 2.2, "K": 2.4, "L": 2.7,
    "M": 3.0,
    "N": 3.3, "P": 3.6, "Q": 3.9, "R": 4.3, "S": 4.7, "T": 5.1, "U": 5.6, "V": 6.2, "W": 6.8, "X": 7.5, "Y": 8.2,
    "Z": 9.1,
    "a": 2.5, "b": 3.5, "d": 4.0, "e": 4.5, "f": 5.0, "m": 6.0, "n": 7.0, "t": 8.0, "y": 9.0,
}  # fmt: skip
"""First mark of the two on a ceramic capacitor; the second is the power of ten of picofarads. EIA-198, from memory"""
BANDS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
BAND_TOLERANCES = {
    "brown": 1.0, "red": 2.0, "green": 0.5, "blue": 0.25, "violet": 0.1, "grey": 0.05, "gold": 5.0, "silver": 10.0,
    "orange": 0.05, "yellow": 0.02,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Coded:
    """One way to read a code.

    Parameters
    ----------
    value : float
        [Ω], [F] or [H]
    tolerance : tuple of float or None
        Below and above. [%]
    way : str
        How it was read, with the standard.
    odd : bool
        Whether the value lies in no E series, which speaks against this reading.
    """

    value: float
    tolerance: tuple[float, float] | None
    way: str
    odd: bool = False


def resistor_code(text: str) -> tuple[Coded, ...]:
    """What a mark on a resistor may mean. [Ω]

    Examples
    --------
    >>> [c.value for c in resistor_code("220")], [c.value for c in resistor_code("24C")]
    ([22.0], [17400.0])
    """
    bare = text.strip().upper().replace(" ", "").replace(",", ".")
    return tuple(sorted(_resistor(bare), key=lambda coded: coded.odd))


def _resistor(bare: str) -> Iterator[Coded]:
    if re.fullmatch(r"0{1,4}", bare):
        yield Coded(0.0, None, "a link of no resistance")
        return
    if re.fullmatch(r"\d{3,4}", bare) and not bare.startswith("0"):
        figures = "three figures" if len(bare) == 3 else "four figures"
        yield _coded(int(bare[:-1]) * 10.0 ** int(bare[-1]), None, f"{figures}, the last the number of noughts")
    yield from _rkm(bare, RKM)
    match = re.fullmatch(r"(\d\d)([ZYRXSABHCDEF])", bare)
    if match and 1 <= int(match[1]) <= 96:
        value = round(series(96)[int(match[1]) - 1] * 100.0) * EIA_96_FACTORS[match[2]]
        yield Coded(float(f"{value:.6g}"), (-1.0, 1.0), "EIA-96: place in E96 and a letter for the factor")


def _rkm(bare: str, letters: dict[str, float]) -> Iterator[Coded]:
    point = "".join(letters)
    match = re.fullmatch(rf"(\d{{0,3}})([{point}])(\d{{0,4}})([BCDFGJKMN]?)", bare)
    if match and (match[1] or match[3]):
        value = float(f"{match[1] or '0'}.{match[3] or '0'}") * letters[match[2]]
        if match[2] == "L" and len(match[3]) < 2:
            return
        tolerance = TOLERANCES.get(match[4])
        both = (-tolerance, tolerance) if tolerance else None
        yield _coded(float(f"{value:.6g}"), both, "a letter for the decimal point (IEC 60062)")


def _coded(value: float, tolerance: tuple[float, float] | None, way: str) -> Coded:
    return Coded(value, tolerance, way, odd=value > 0.0 and coarsest(value) is None)


def capacitor_code(text: str) -> tuple[Coded, ...]:
    """What a mark on a capacitor may mean. [F]

    Examples
    --------
    >>> [round(c.value * 1e9, 6) for c in capacitor_code("104K")]
    [100.0]
    """
    return tuple(sorted(_capacitor(text.strip().replace(" ", "")), key=lambda coded: coded.odd))


def _capacitor(bare: str) -> Iterator[Coded]:
    match = re.fullmatch(r"(\d\d)(\d)([A-Z]?)", bare)
    if match and match[1][0] != "0":
        power = {"8": -2, "9": -1}.get(match[2], int(match[2]))
        picofarads = int(match[1]) * 10.0**power
        yield _capped(picofarads * 1e-12, match[3], "two figures and the number of noughts, in picofarads")
    match = re.fullmatch(rf"(\d{{0,3}})([{''.join(RKM_FARADS)}])(\d{{0,3}})([A-Z]?)", bare)
    if match and (match[1] or match[3]):
        value = float(f"{match[1] or '0'}.{match[3] or '0'}") * RKM_FARADS[match[2]]
        yield _capped(value, match[4], "a letter for the decimal point (IEC 60062)")
    match = re.fullmatch(r"(\d{0,2})R(\d{1,2})([A-Z]?)", bare)
    if match:
        yield _capped(
            float(f"{match[1] or '0'}.{match[2]}") * 1e-12, match[3], "R for the decimal point, in picofarads"
        )
    match = re.fullmatch(r"[A-Z]?([A-HJ-NP-Zabdefmnty])(\d)", bare)
    if match:
        power = -1 if match[2] == "9" else int(match[2])
        value = TWO_MARKS[match[1]] * 10.0**power * 1e-12
        yield Coded(float(f"{value:.6g}"), None, "a letter and a power of ten, in picofarads (EIA-198, from memory)")


def _capped(value: float, letter: str, way: str) -> Coded:
    value = float(f"{value:.6g}")
    capital = letter.upper()
    if capital in SMALL_TOLERANCES and 0.0 < value < 10e-12:
        share = 100.0 * SMALL_TOLERANCES[capital] * 1e-12 / value
        return _coded(value, (-share, share), way)
    if capital in LOPSIDED:
        return _coded(value, LOPSIDED[capital], way)
    tolerance = TOLERANCES.get(capital)
    return _coded(value, (-tolerance, tolerance) if tolerance else None, way)


def coil_code(text: str) -> tuple[Coded, ...]:
    """What a mark on a coil may mean. [H] Figures are microhenries by habit: ``100`` is 10 µH, ``R47`` 0.47 µH."""
    bare = text.strip().upper().replace(" ", "")
    out: list[Coded] = []
    match = re.fullmatch(r"(\d\d)(\d)([A-Z]?)", bare)
    if match:
        out.append(
            _capped(int(match[1]) * 10.0 ** int(match[2]) * 1e-6, match[3], "microhenries, the last the noughts")
        )
    match = re.fullmatch(r"(\d{0,3})([RN])(\d{0,3})([A-Z]?)", bare)
    if match and (match[1] or match[3]):
        unit = 1e-6 if match[2] == "R" else 1e-9
        value = float(f"{match[1] or '0'}.{match[3] or '0'}") * unit
        out.append(_capped(value, match[4], "R for the point in microhenries, N in nanohenries (common practice)"))
    return tuple(out)


def banded(bands: tuple[str, ...]) -> Coded | None:
    """A resistor by its colour bands, three to five, read from the end; None where they make no sense (IEC 60062)."""
    figures = 3 if len(bands) >= 5 else 2
    if not 3 <= len(bands) <= 6 or any(band not in BANDS for band in bands[:figures]):
        return None
    number = int("".join(str(BANDS.index(band)) for band in bands[:figures]))
    factor = {"gold": 0.1, "silver": 0.01}.get(bands[figures], 0.0)
    if bands[figures] in BANDS:
        factor = 10.0 ** BANDS.index(bands[figures])
    if factor == 0.0:
        return None
    tolerance = BAND_TOLERANCES.get(bands[figures + 1]) if len(bands) > figures + 1 else 20.0
    return _coded(
        float(f"{number * factor:.6g}"), (-tolerance, tolerance) if tolerance else None, "colour bands (IEC 60062)"
    )
