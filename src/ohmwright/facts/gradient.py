"""Millivolts along copper that carries a known current: what was read where, and what the copper looks like."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ohmwright.circuit import BoardState
from ohmwright.errors import DataError, ReadingError

Point = tuple[float, float]
"""Board millimetres, x right and y down. [mm]"""
MOST_POINTS, MOST_CORNERS, MOST_RUNS = 200, 400, 400


@dataclass(frozen=True, slots=True)
class Run:
    """A straight piece of trace. Widths in one unit suffice: what a square is worth is solved for.

    Parameters
    ----------
    a, b : (float, float)
        Its ends; runs that share an end are joined there. [mm]
    width_mm : float
    """

    a: Point
    b: Point
    width_mm: float = 1.0


@dataclass(frozen=True, slots=True)
class CopperShape:
    """The copper that the readings lie on: traces, or an area with holes.

    Parameters
    ----------
    runs : tuple of Run
        Tree-like copper; empty for an area.
    outline : tuple of (float, float)
        Corners of the area in order. [mm]
    holes : tuple of tuples of (float, float)
        Corners of each hole. [mm]
    square_ohms : float
        What a square of it is thought to have; solved for with the position. [Ω] 0.5 mΩ: 35 µm at 20 °C,
        resistivity of IEC 60028 over thickness.
    log_sd : float
        How well that is known, of its natural logarithm: layers and thickness are seldom known. [1] estimate
    """

    runs: tuple[Run, ...] = ()
    outline: tuple[Point, ...] = ()
    holes: tuple[tuple[Point, ...], ...] = ()
    square_ohms: float = 0.5e-3
    log_sd: float = 0.7

    def __post_init__(self) -> None:
        numbers = [
            *self.outline,
            *(p for hole in self.holes for p in hole),
            *(p for r in self.runs for p in (r.a, r.b)),
        ]
        if bool(self.runs) == bool(self.outline):
            raise DataError(
                "The copper is either traces or an area.",
                hint="click along the trace from pad to pad, or around the edge of the area",
            )
        if len(numbers) > MOST_CORNERS + 2 * MOST_RUNS or len(self.holes) > 60:
            raise DataError(
                "This copper has too many corners.",
                hint="draw it coarser: a millimetre here or there hardly moves the answer",
            )
        if self.outline and (len(self.outline) < 3 or any(len(hole) < 3 for hole in self.holes)):
            raise DataError("An area needs three corners or more.", hint="click around the edge of the copper")
        if not all(math.isfinite(v) and abs(v) < 10_000.0 for p in numbers for v in p):
            raise DataError("A corner of this copper lies nowhere.", hint="give millimetres on the board")
        if any(run.a == run.b or not 0.0 < run.width_mm < 1000.0 for run in self.runs):
            raise DataError("A trace of no length or no width.", hint="click two different spots")
        if not (0.0 < self.square_ohms < 1.0 and 0.0 < self.log_sd <= 3.0):
            raise DataError("Copper does not have that resistance.", hint="0.0005 ohms per square is the usual 35 µm")


@dataclass(frozen=True, slots=True)
class GradientPoint:
    """One reading: red at a point of the copper.

    Parameters
    ----------
    volts : float
        Red against black, supply on less supply off where both were read. [V]
    at : str
        The pad, where it is one.
    """

    x_mm: float
    y_mm: float
    volts: float
    at: str = ""

    @property
    def where(self) -> Point:
        """[mm]"""
        return self.x_mm, self.y_mm


@dataclass(frozen=True, slots=True)
class Gradient:
    """Readings along one copper while a known current passes through it.

    Parameters
    ----------
    net : str
        The rail, or the ground net.
    current : float
        Fed into it at `source`; negative where it is taken out there, as at the clip on ground. [A]
    black : (float, float) or None
        Where the black probe stands on the same copper; None where it is elsewhere: the readings then share
        an offset that is not known. [mm]
    resolution : float
        Smallest step of the meter in that range. [V]
    contact_mm : float
        How well a probe is where it is said to be, one standard deviation. [mm] estimate
    offset : float
        Standard deviation of what a warm contact adds to all readings. [V] a few µV per kelvin; textbook
    differenced : bool
        Whether each value is supply on less supply off, or half of two polarities.
    pads : tuple of (str, float, float)
        Pads of this net and where they lie, as far as was known. [mm]
    """

    net: str
    copper: CopperShape
    source: Point
    current: float
    points: tuple[GradientPoint, ...]
    black: Point | None = None
    resolution: float = 1e-4
    contact_mm: float = 0.3
    noise: float = 0.0
    offset: float = 5e-6
    differenced: bool = False
    pads: tuple[tuple[str, float, float], ...] = ()
    state: BoardState = BoardState()
    key: str = ""

    def __post_init__(self) -> None:
        if not 1e-6 < abs(self.current) <= 20.0:
            raise ReadingError(
                f"A current of {self.current} A through the copper.",
                hint="enter the amperes that the supply shows, up to 20",
            )
        if len(self.points) > MOST_POINTS or len(self.pads) > 20 * MOST_POINTS:
            raise ReadingError(f"{len(self.points)} points.", hint=f"at most {MOST_POINTS}")
        if not all(math.isfinite(v) and abs(v) < 10_000.0 for p in self.points for v in p.where):
            raise ReadingError("A reading lies nowhere.", hint="give millimetres on the board")
        if not all(math.isfinite(p.volts) and abs(p.volts) <= 5.0 for p in self.points):
            raise ReadingError(
                "More than 5 V along one copper.", why="millivolts are expected", hint="check the range and the unit"
            )
        if not (
            1e-9 <= self.resolution <= 1.0
            and 0.0 <= self.contact_mm <= 20.0
            and self.offset >= 0.0
            and self.noise >= 0.0
        ):
            raise ReadingError(
                "This is no meter that can be.", hint="give its smallest step in volts: 0.0001 for 0.1 mV"
            )
