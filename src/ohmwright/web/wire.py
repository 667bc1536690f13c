"""What the page may send, strictly: no field too many, none of another kind, nothing longer than it need be."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Name = Annotated[str, Field(min_length=1, max_length=80)]
Figures = Annotated[str, Field(min_length=1, max_length=24)]
Seen = Annotated[int, Field(ge=0, le=10_000_000)]
Names = Annotated[list[Name], Field(max_length=200)]


class Order(BaseModel):
    """Any order from the page. `seen` is the last event it had seen; an order given on older news is refused. [1]"""

    model_config = ConfigDict(extra="forbid", strict=True)
    seen: Seen


class DoStep(Order):
    """Carry out the due step; `figures` stand in the meter's place, `finding` and `parts` in the eye's or finger's."""

    figures: Figures | None = None
    finding: Name | None = None
    parts: Names = []


class TakeReading(Order):
    """A reading at points of one's own choosing; without figures the bench's meter reads."""

    quantity: Name
    red: Name
    black: Name
    figures: Figures | None = None


class PartAct(Order):
    """Something done to one part."""

    act: Literal["take off", "refit", "replace", "clean", "reflow"]
    part: Name


class Supply(Order):
    """Switch the supply on at a setting, or off; or discharge the board."""

    act: Literal["feed", "feed off", "discharge"]
    plus: Annotated[str, Field(max_length=80)] = ""
    minus: Annotated[str, Field(max_length=80)] = ""
    volts: Annotated[float, Field(ge=0, le=60)] = 0.0
    limit: Annotated[float, Field(ge=0, le=20)] = 0.0
    reason: Annotated[str, Field(max_length=400)] = ""


class Undo(Order):
    """Take an entry back; without a number the last."""

    sequence: Seen | None = None


class Amend(Order):
    """Put the figures of a reading right."""

    sequence: Seen
    figures: Figures


Spot = Annotated[list[Annotated[float, Field(ge=-1e6, le=1e6, allow_inf_nan=False)]], Field(min_length=2, max_length=2)]
Short = Annotated[str, Field(max_length=80)]
Millimetres = Annotated[float, Field(ge=-10_000, le=10_000, allow_inf_nan=False)]


class PracticePhoto(Order):
    """The photo of a side of the practice board."""

    side: Literal["top", "bottom"] = "top"


class LayHeld(Order):
    """Lay a picture under the map that was handed over to be held."""

    key: Name
    side: Literal["top", "bottom"]
    name: Annotated[str, Field(max_length=200)] = ""


class LayPart(Order):
    """Lay a part on a picture: where pin 1 and the pin farthest from it are. [px]"""

    kind: Name
    layer: Name
    first: Spot
    far: Spot
    package: Short = ""
    count: Annotated[int, Field(ge=2, le=400)] = 2
    name: Short = ""
    value: Short = ""


class MovePart(Order):
    """Move a part, turn it, or let its pins run the other way round. [mm], [deg]"""

    part: Name
    dx: Millimetres = 0.0
    dy: Millimetres = 0.0
    turn: Annotated[float, Field(ge=-360, le=360, allow_inf_nan=False)] = 0.0
    mirror: bool = False


class TellKind(Order):
    """Say what a part is after all."""

    part: Name
    kind: Name
    value: Short = ""


class RightPart(Order):
    """Bring a part that may lie the wrong way round to lie right."""

    part: Name


class ErasePart(Order):
    """Take a part from the map."""

    part: Name


class JoinPads(Order):
    """Pads that are one copper."""

    pads: Annotated[list[Name], Field(min_length=2, max_length=200)]
    reason: Short = "continuity"


class TellNet(Order):
    """What is known of the copper under a pad. [V]"""

    pad: Name
    name: Short = ""
    ground: bool = False
    entry: bool = False
    nominal: Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)] | None = None


class TellGrounds(Order):
    """Pads whose copper is ground."""

    pads: Annotated[list[Name], Field(min_length=1, max_length=200)]


class SetScale(Order):
    """How far apart two points of a picture are. [px], [mm]"""

    layer: Name
    a: Spot
    b: Spot
    mm: Annotated[float, Field(gt=0, le=2000, allow_inf_nan=False)]


class ReadPins(BaseModel):
    """A pasted pin table, to be looked over. [1]"""

    model_config = ConfigDict(extra="forbid", strict=True)
    text: Annotated[str, Field(max_length=200_000)]
    column: Annotated[int, Field(ge=0, le=9)] = 0


class NamedPins(BaseModel):
    """Pins that share a name."""

    model_config = ConfigDict(extra="forbid", strict=True)
    pins: Annotated[list[Name], Field(max_length=400)]
    name: Name


class NamePins(Order):
    """A pin table that was looked over."""

    part: Name
    rows: Annotated[list[NamedPins], Field(min_length=1, max_length=400)]


class TellEntry(Order):
    """What is known of where power comes in. [V]"""

    point: Name
    label_volts: Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)] | None = None
    polarity_measured: bool = False
    battery_off: bool = False


class Probe(BaseModel):
    """Where the probes are; all empty means at the due points."""

    model_config = ConfigDict(extra="forbid", strict=True)
    quantity: Annotated[str, Field(max_length=80)] = ""
    red: Annotated[str, Field(max_length=80)] = ""
    black: Annotated[str, Field(max_length=80)] = ""
