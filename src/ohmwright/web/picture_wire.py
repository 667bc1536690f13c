"""What the page sends about pictures: how they lie, what is laid on them, what two of them show differently."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from ohmwright.web.wire import LayPart, Name, Order, Spot

SideName = Literal["top", "bottom"]


class RegisterPicture(Order):
    """Find where a picture lies; `onto` is the key of the one it is laid on, or empty."""

    layer: Name
    side: SideName
    onto: Annotated[str, Field(max_length=80)] = ""


class SeekPlace(BaseModel):
    """Look where a picture lies; nothing goes on record yet."""

    model_config = ConfigDict(extra="forbid", strict=True)
    layer: Name
    side: SideName


class SettlePlace(Order):
    """Take down where it was found to lie."""

    layer: Name
    side: SideName


class MarkedPair(BaseModel):
    """One place in two pictures. [px]"""

    model_config = ConfigDict(extra="forbid", strict=True)
    other: Name
    there: Spot
    here: Spot


class RegisterByPairs(Order):
    """Lay a picture by places marked in it and in others."""

    layer: Name
    side: SideName
    pairs: Annotated[list[MarkedPair], Field(min_length=1, max_length=60)]


class SetDpi(Order):
    """At how many dots per inch a picture was scanned. [px/inch]"""

    layer: Name
    dpi: Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]


class LayRow(LayPart):
    """Lay several parts alike; `last` is where pin 1 of the last one is. [px]"""

    last: Spot
    how_many: Annotated[int, Field(ge=2, le=60)]


class GuessPackage(BaseModel):
    """Two clicks, pin 1 and the pin farthest from it. [px]"""

    model_config = ConfigDict(extra="forbid", strict=True)
    layer: Name
    first: Spot
    far: Spot
    least: int = Field(default=2, ge=2, le=400)


class ComparePictures(BaseModel):
    """Keys of two pictures of one side."""

    model_config = ConfigDict(extra="forbid", strict=True)
    first: Name
    second: Name
