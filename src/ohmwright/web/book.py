"""The part book over the wire."""

from __future__ import annotations

import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from fastapi import FastAPI, Query, Request, Response
from fastapi.concurrency import run_in_threadpool

from ohmwright.errors import DataError
from ohmwright.library import Spot
from ohmwright.usecases.pasted_pins import pasted_pins
from ohmwright.web.book_wire import (
    AskReplacement,
    DropPart,
    DropSpot,
    DropStock,
    KeepPart,
    PutOnto,
    PutSpot,
    PutStock,
    SetFigure,
    TellLook,
)  # fmt: skip
from ohmwright.web.part_desk import PartDesk
from ohmwright.web.plain import plain
from ohmwright.web.wire import ReadPins

LARGEST_PAPER = 100_000_000
"""Bytes of a datasheet. [B]"""
DONE = {"ok": True}


def book_routes(app: FastAPI, desk: PartDesk) -> None:
    """What the page may ask of the part book and put into it."""
    _looking_up(app, desk)
    _papers(app, desk)
    _keeping(app, desk)
    _beside_the_board(app, desk)


def _looking_up(app: FastAPI, desk: PartDesk) -> None:
    @app.get("/api/book")
    def state() -> dict[str, Any]:
        return desk.state()

    @app.get("/api/book/find")
    def find(
        name: str = Query("", max_length=80),
        pins: int | None = Query(None, ge=1, le=5000),
        having: str = Query("", max_length=200),
    ) -> dict[str, Any]:
        return desk.find(name.strip(), pins, [word for word in having.replace(",", " ").split() if word][:20])

    @app.get("/api/book/mark")
    def mark(
        text: str = Query(min_length=1, max_length=40),
        package: str = Query("", max_length=24),
        pins: int | None = Query(None, ge=1, le=5000),
        readings: str = Query("", max_length=400),
    ) -> dict[str, Any]:
        told = [line.strip() for line in readings.split(";") if line.strip()]
        return desk.mark(text, package, pins, told, datetime.now(tz=UTC).year)

    @app.post("/api/book/read-pins")
    def read_pins(o: ReadPins) -> dict[str, Any]:
        table = pasted_pins(o.text, o.column)
        found: dict[str, Any] = plain(table)
        return found | {"doubtful": list(table.doubtful)}


def _papers(app: FastAPI, desk: PartDesk) -> None:
    @app.post("/api/book/paper")
    async def take(request: Request, name: str = Query("datasheet.pdf", max_length=200)) -> dict[str, Any]:
        with tempfile.NamedTemporaryFile(prefix="ohmwright-", suffix=".coming") as file:
            async for chunk in request.stream():
                await run_in_threadpool(file.write, chunk)
            file.flush()
            return await run_in_threadpool(desk.take_paper, Path(file.name), name)

    @app.get("/api/book/paper/{key}")
    def paper(key: str) -> dict[str, Any]:
        return desk.paper(key)

    @app.get("/api/book/paper/{key}/page/{number}")
    def page(key: str, number: int, width: int = Query(1400, ge=100, le=2400)) -> Response:
        keep = "private, max-age=31536000, immutable"
        return Response(desk.picture(key, number, width), media_type="image/png", headers={"Cache-Control": keep})

    @app.get("/api/book/figure")
    def figure(number: str = Query(min_length=1, max_length=80)) -> dict[str, Any]:
        return desk.figure(number)

    @app.post("/api/book/figure")
    def set_figure(o: SetFigure) -> dict[str, Any]:
        desk.set_figure(o.number, o.paper, o.page)
        return DONE

    @app.post("/api/book/spot")
    def spot(o: PutSpot) -> dict[str, Any]:
        desk.put_spot(o.paper, Spot(o.page, o.name.strip(), o.x, o.y, o.role))
        return DONE

    @app.post("/api/book/unspot")
    def unspot(o: DropSpot) -> dict[str, Any]:
        desk.drop_spot(o.paper, o.page, o.name)
        return DONE


def _keeping(app: FastAPI, desk: PartDesk) -> None:
    @app.post("/api/book/keep")
    def keep(o: KeepPart) -> dict[str, Any]:
        desk.keep(o)
        return DONE

    @app.post("/api/book/drop")
    def drop(o: DropPart) -> dict[str, Any]:
        desk.drop(o.number)
        return DONE

    @app.post("/api/book/stock")
    def stock(o: PutStock) -> dict[str, Any]:
        desk.put_stock(o)
        return DONE

    @app.post("/api/book/unstock")
    def unstock(o: DropStock) -> dict[str, Any]:
        desk.drop_stock(o.name, o.where)
        return DONE


def _beside_the_board(app: FastAPI, desk: PartDesk) -> None:
    @app.post("/api/book/onto")
    def onto(o: PutOnto) -> dict[str, Any]:
        desk.put_onto(o)
        return {"ok": True, "sequence": desk.session.view.sequence}

    @app.post("/api/book/look")
    def look(o: TellLook) -> dict[str, Any]:
        desk.tell_look(o)
        return {"ok": True, "sequence": desk.session.view.sequence}

    @app.get("/api/book/around")
    def around(part: str = Query(min_length=1, max_length=80)) -> dict[str, Any]:
        return desk.around(part)

    @app.post("/api/book/replace")
    def replace(o: AskReplacement) -> dict[str, Any]:
        if not o.part.strip():
            raise DataError("No part was named.", hint="choose a part on the board")
        return desk.replacement(o)
