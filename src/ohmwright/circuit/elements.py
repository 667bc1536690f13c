"""What a part is to direct current: two-terminal elements with an uncertain strength."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class ElementKind(StrEnum):
    """The two ways in which anything conducts at DC here."""

    RESISTIVE = "resistive"
    JUNCTION = "junction"


@dataclass(frozen=True, slots=True)
class Element:
    """A resistance between two nets, or a junction from anode to cathode.

    Parameters
    ----------
    part, label : str
        Whose element it is, and which of that part's: ``("Q3", "body diode")``.
    a, b : str
        Nets; for a junction anode and cathode.
    median : float
        Resistance, or the forward drop at 1 mA for a junction. [Ω or V]
    spread : float
        Standard deviation: of ln R for a resistance [1], of the drop at 1 mA for a junction. [V]
    emission : float
        Emission coefficient n of a junction. [1]
    """

    part: str
    label: str
    kind: ElementKind
    a: str
    b: str
    median: float
    spread: float
    emission: float = 1.0
