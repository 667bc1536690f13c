"""A camera at the meter's display: the page sends pictures, what they say joins the road of live readings."""

from __future__ import annotations

import time
from typing import Annotated, Any

from fastapi import FastAPI, Query, Request, Response
from fastapi.concurrency import run_in_threadpool
from pydantic import BaseModel, ConfigDict, Field

from ohmwright.bootstrap import display_eye, drawn_reading
from ohmwright.errors import DataError
from ohmwright.web.session import CaseSession

PICTURE_BODY = ("image/jpeg", 800_000)
"""Kind and most bytes of one picture from the camera. [B]"""


class Name(BaseModel):
    """What a mark that was not certain says."""

    model_config = ConfigDict(extra="forbid", strict=True)
    says: Annotated[str, Field(max_length=12)]


class Shows(BaseModel):
    """What the display shows, as the user reads it: figures as they stand, unit, and whether it is on hold."""

    model_config = ConfigDict(extra="forbid", strict=True)
    text: Annotated[str, Field(min_length=1, max_length=12)]
    unit: Annotated[str, Field(max_length=4)]
    diode: bool = False
    held: bool = False


def eye_routes(app: FastAPI, session: CaseSession) -> None:
    """What the page may send of its camera."""
    eyes: list[Any] = []

    def eye() -> Any:
        if not eyes:
            eyes.append(display_eye())
        return eyes[0]

    session.display = lambda quantity: _offered(eyes[0], quantity) if eyes else None

    @app.post("/api/eye/look")
    async def look(request: Request, corners: str = Query("", max_length=200)) -> dict[str, Any]:
        places = _corners(corners)
        jpeg = await request.body()
        return await run_in_threadpool(lambda: _plain(eye().look(jpeg, places, time.monotonic())))

    @app.post("/api/eye/find")
    async def find(request: Request) -> dict[str, Any]:
        jpeg = await request.body()
        return {"corners": await run_in_threadpool(lambda: eye().find(jpeg))}

    @app.post("/api/eye/teach")
    def teach(order: Name) -> dict[str, Any]:
        return {"ok": True, "known": eye().teach(order.says)}

    @app.post("/api/eye/pin")
    def pin() -> dict[str, Any]:
        eye().pin()
        return {"ok": True}

    @app.post("/api/eye/shows")
    def shows(order: Shows) -> dict[str, Any]:
        words = (*(("diode",) if order.diode else ()), *(("HOLD",) if order.held else ()))
        learnt = eye().shows(order.text.strip().upper().replace(",", "."), order.unit, words)
        return {"ok": True, "known": learnt}

    @app.post("/api/eye/forget")
    def forget() -> dict[str, Any]:
        eye().forget()
        return {"ok": True}

    drawn_routes(app, session)


def drawn_routes(app: FastAPI, session: CaseSession) -> None:
    """The practice meter's display as a camera would see it, for whoever tries the reading of displays there."""

    @app.get("/api/eye/drawn")
    def drawn() -> Response:
        if session.practice is None:
            raise DataError("Only a practice bench draws its display.", hint="use the camera")
        live = session.live()
        quantity, text = ("", "") if live is None else (live["quantity"], live["text"])
        picture = drawn_reading(quantity, text, time.monotonic_ns() % 100_000)
        return Response(picture, media_type="image/jpeg", headers={"Cache-Control": "no-store"})


def _offered(eye: Any, quantity: str) -> tuple[float | None, str] | None:
    """The value on the display if it can be a reading of that quantity: value and what is shown. [SI]"""
    found = eye.now(time.monotonic())
    return (found.value, found.text) if found is not None and found.is_of(quantity) else None


def _corners(text: str) -> tuple[float, ...]:
    try:
        return tuple(float(word) for word in text.split(","))
    except ValueError as error:
        raise DataError("The corners are no numbers.", hint="mark the display on the picture again") from error


def _plain(looked: Any) -> dict[str, Any]:
    read, found = looked.read, looked.believed
    return {
        "text": read.text, "unit": read.unit, "words": list(read.words), "why": read.why, "margin": read.margin,
        "boxes": [list(box) for box in looked.boxes], "asks": looked.asks,
        "believed": None if found is None else {"text": found.text, "value": found.value, "held": found.held},
    }  # fmt: skip
