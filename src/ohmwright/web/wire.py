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


class Probe(BaseModel):
    """Where the probes are; all empty means at the due points."""

    model_config = ConfigDict(extra="forbid", strict=True)
    quantity: Annotated[str, Field(max_length=80)] = ""
    red: Annotated[str, Field(max_length=80)] = ""
    black: Annotated[str, Field(max_length=80)] = ""
