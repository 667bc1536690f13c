"""What the page may send about heat and millivolts, as strictly as everything else."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from ohmwright.usecases.trace_millivolts import Told
from ohmwright.web.wire import Name, Order

Mm = Annotated[float, Field(ge=-5000, le=5000, allow_inf_nan=False)]
Place = Annotated[list[Mm], Field(min_length=2, max_length=2)]
Seconds = Annotated[float, Field(ge=0, le=1e6, allow_inf_nan=False)]
Px = Annotated[float, Field(ge=-10, le=20_000, allow_inf_nan=False)]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class ReadPoint(_Strict):
    """Millivolts at a place of the copper. [mm], [mV]"""

    x: Mm
    y: Mm
    millivolts: Annotated[float, Field(ge=-5000, le=5000, allow_inf_nan=False)]
    at: Annotated[str, Field(max_length=80)] = ""


class CopperDrawn(_Strict):
    """The copper as clicked: traces as lines of corners, or an area with holes. [mm]"""

    traces: Annotated[list[Annotated[list[Place], Field(min_length=2, max_length=60)]], Field(max_length=60)] = []
    widths: Annotated[list[Annotated[float, Field(gt=0, le=500)]], Field(max_length=60)] = Field(default_factory=list)
    outline: Annotated[list[Place], Field(max_length=200)] = []
    holes: Annotated[list[Annotated[list[Place], Field(min_length=3, max_length=100)]], Field(max_length=60)] = []
    ounces: Annotated[float, Field(gt=0.05, le=10)] = 1.0


class Millivolts(Order):
    """Readings along one copper. [A], [V], [mm]"""

    net: Name
    copper: CopperDrawn
    source: Place
    black: Place | None = None
    current: Annotated[float, Field(ge=-20, le=20, allow_inf_nan=False)]
    step: Annotated[float, Field(gt=0, le=1)]
    points: Annotated[list[ReadPoint], Field(max_length=200)] = Field(default_factory=list)
    contact_mm: Annotated[float, Field(ge=0, le=20)] = 0.3
    differenced: bool = False


class HeatPair(_Strict):
    """A point of the thermal picture, and where it is on the board. [px], [mm]"""

    px: Annotated[list[Px], Field(min_length=2, max_length=2)]
    mm: Place


class LookAtHeat(Order):
    """Lay the pictures on the board and see what the feed warmed. [Hz], [s], [W]"""

    pairs: Annotated[list[HeatPair], Field(max_length=40)]
    side: Literal["top", "bottom"] = "top"
    hertz: Annotated[float, Field(ge=0, le=100)] = 0.0
    rate: Annotated[float, Field(ge=0, le=1000)] = 0.0
    times: Annotated[list[Seconds], Field(max_length=4000)] = Field(default_factory=list)
    watts: Annotated[float, Field(gt=0, le=1000)] | None = None


class TakeHeat(Order):
    """Put a spot on record; -1: nothing got warm. [1]"""

    spot: Annotated[int, Field(ge=-1, le=50)]


def told(o: Millivolts) -> Told:
    """The measurement in plain values."""
    return Told(
        o.net,
        tuple(tuple((p[0], p[1]) for p in line) for line in o.copper.traces),
        tuple(o.copper.widths),
        tuple((p[0], p[1]) for p in o.copper.outline),
        tuple(tuple((p[0], p[1]) for p in hole) for hole in o.copper.holes),
        o.copper.ounces,
        (o.source[0], o.source[1]),
        None if o.black is None else (o.black[0], o.black[1]),
        o.current,
        o.step,
        tuple((p.x, p.y, p.millivolts * 1e-3, p.at) for p in o.points),
        o.contact_mm,
        o.differenced,
    )
