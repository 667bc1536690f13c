"""What an eye, a finger or a camera found. A crack raises suspicion; it never settles anything."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ohmwright.circuit import BoardState


class LookFinding(StrEnum):
    """What the eye saw at a part."""

    NOTHING = "nothing"
    CRACK = "crack"
    BURN = "burn"
    CORROSION = "corrosion"
    MISSING = "missing"
    REWORKED = "reworked"


@dataclass(frozen=True, slots=True)
class Look:
    """A part, or all parts of an area, inspected."""

    parts: tuple[str, ...]
    finding: LookFinding
    state: BoardState = BoardState()
    key: str = ""


class HeatFinding(StrEnum):
    """How sharply the heat was placed."""

    PART = "part"
    AREA = "area"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Heat:
    """Where it got warm while the board was fed.

    Parameters
    ----------
    finding : HeatFinding
        One part, an area with the listed parts, or nothing felt.
    parts : tuple of str
        The part, or those of the area; empty for nothing.
    watts : float
        Volts at the pads times amperes. [W]
    method : str
        ``finger``, ``camera``, ``alcohol film``: errors of one method on one rail repeat.
    shares : tuple of (str, float)
        From a picture: how likely the warmest spot is that part; what is missing to one is none on the map. [1]
    """

    finding: HeatFinding
    parts: tuple[str, ...]
    watts: float
    state: BoardState
    method: str = "finger"
    key: str = ""
    shares: tuple[tuple[str, float], ...] = ()
