"""What the page may send of the part book, strictly, as `ohmwright.web.wire` does for the rest."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from ohmwright.web.wire import Name, Order, Short

Number = Annotated[float, Field(ge=-1e12, le=1e12, allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0.0, le=1.0, allow_inf_nan=False)]
Key = Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]
Page = Annotated[int, Field(ge=1, le=100_000)]
PartNumber = Annotated[str, Field(min_length=1, max_length=80)]
"""A part number as printed."""


class Told(BaseModel):
    """Anything that goes into the user's own book: it is no part of the case. [1]"""

    model_config = ConfigDict(extra="forbid", strict=True)


class PinLine(Told):
    """Pins of one name that somebody confirmed."""

    pins: Annotated[list[Name], Field(min_length=1, max_length=400)]
    name: Name
    kind: Short = ""


class LimitLine(Told):
    """A limit that somebody confirmed, in the unit as printed."""

    sort: Literal["absolute", "recommended"]
    parameter: Annotated[str, Field(min_length=1, max_length=200)]
    low: Number | None = None
    typical: Number | None = None
    high: Number | None = None
    unit: Annotated[str, Field(max_length=20)] = ""
    page: Page


Lines = Annotated[list[PinLine], Field(min_length=1, max_length=2000)]


class KeepPart(Told):
    """A part, looked over line by line, for the user's own book."""

    number: PartNumber
    source: Annotated[str, Field(min_length=1, max_length=200)]
    package: Short = ""
    rows: Lines
    limits: Annotated[list[LimitLine], Field(max_length=400)] = []
    paper: Key | None = None
    figure_page: Page | None = None


class DropPart(Told):
    """A part goes out of the user's own book."""

    number: PartNumber


class PutOnto(Order):
    """A part of the board is of that number, and its pins have those names."""

    part: Name
    number: PartNumber
    source: Annotated[str, Field(min_length=1, max_length=200)]
    rows: Lines


class TellLook(Order):
    """How an unmarked part looks."""

    part: Name
    look: Name


class PutSpot(Told):
    """A place on a figure; shares of the page's width and height. [1]"""

    paper: Key
    page: Page
    name: Name
    x: Share
    y: Share
    role: Short = ""


class DropSpot(Told):
    """A place goes from a figure."""

    paper: Key
    page: Page
    name: Name


class SetFigure(Told):
    """That page of that datasheet shows the typical circuit of a part."""

    number: PartNumber
    paper: Key
    page: Page


class PutStock(Told):
    """A part at hand, its properties as written."""

    name: PartNumber
    where: Annotated[str, Field(min_length=1, max_length=80)]
    kind: Name
    properties: Annotated[dict[Name, Short], Field(max_length=20)] = {}


class DropStock(Told):
    """A part at hand is used up."""

    name: PartNumber
    where: Annotated[str, Field(min_length=1, max_length=80)]


class AskReplacement(Told):
    """What may replace a part; figures as written, empty where the board's own serve."""

    part: Name
    kind: Short = ""
    rail: Short = ""
    value: Short = ""
    amps: Short = ""
    rated: Short = ""
