"""Drawing the map: what the page sends while parts are laid on a picture, and what it is shown of it."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any, Protocol

from fastapi import FastAPI, HTTPException, Query, Request, Response
from fastapi.concurrency import run_in_threadpool

from ohmwright.bootstrap import practice_photo
from ohmwright.errors import DataError, OhmwrightError
from ohmwright.usecases import map_board
from ohmwright.usecases.pasted_pins import PinRow, pasted_pins
from ohmwright.web.aside import Aside
from ohmwright.web.plain import plain
from ohmwright.web.session import CaseSession
from ohmwright.web.wire import (
    ErasePart,
    JoinPads,
    LayHeld,
    LayPart,
    MovePart,
    NamePins,
    PracticePhoto,
    ReadPins,
    SetScale,
    TellGrounds,
    TellKind,
    TellNet,
)  # fmt: skip

LARGEST_PICTURE = 250_000_000
"""Bytes of an uploaded picture. [B]"""
LARGEST_TEXT = 900_000
"""Bytes of a pasted pin table as JSON. [B]"""
SIDES = ("top", "bottom")


class KeptPicture(Protocol):
    """What the shelf says of a picture."""

    @property
    def key(self) -> str:
        """Its name on the shelf."""
        ...
    @property
    def width_px(self) -> int:
        """[px]"""
        ...
    @property
    def height_px(self) -> int:
        """[px]"""
        ...


class Shelf(Protocol):
    """Where pictures are kept; `ohmwright.bootstrap.picture_shelf` gives one."""

    def take(self, source: Path) -> KeptPicture:
        """Take the picture in that file in."""
        ...

    def tile(self, key: str, level: int, x: int, y: int) -> bytes:
        """One tile, JPEG. [1]"""
        ...


class Mapping:
    """A case whose board is drawn, and the shelf with its pictures."""

    def __init__(self, session: CaseSession, shelf: Shelf) -> None:
        self.session = session
        self.shelf = shelf
        self._held: dict[str, KeptPicture] = {}

    def plain(self) -> dict[str, Any]:
        """Pictures, and pads in board millimetres. [mm]"""
        chart = self.session.view.book.chart
        return {
            "points": [
                {"name": f"{pad.part}.{pad.pin}", "x": pad.x_mm, "y": pad.y_mm, "side": pad.side,
                 "width": pad.width_mm, "height": pad.height_mm, "angle": pad.angle_deg}
                for pad in chart.pads
            ],
            "layers": [
                {"key": layer.key, "side": layer.side, "width": layer.width_px, "height": layer.height_px,
                 "name": layer.name, "how": layer.how, "to_board": [*layer.to_board.rows[0], *layer.to_board.rows[1]]}
                for layer in chart.layers
            ],
            "scale_from": chart.scale_from,
        }  # fmt: skip

    def hold_picture(self, file: Path) -> str:
        """Take a picture in without laying it under the map yet, which may take long; its key."""
        kept = self.shelf.take(file)
        self._held[kept.key] = kept
        return kept.key

    def lay_held(self, o: LayHeld) -> None:
        """Lay a picture under the map that was taken in before."""
        kept = self._held.get(o.key)
        if kept is None:
            raise DataError("This picture was not handed over.", hint="choose the file again")
        size = (kept.width_px, kept.height_px)
        self.session.enter(o.seen, lambda desk, case: map_board.add_picture(desk, case, kept.key, o.side, size, o.name))

    def add_picture(self, file: Path, side: str, name: str) -> None:
        """Take a picture in and lay it under the map."""
        kept = self.shelf.take(file)
        size = (kept.width_px, kept.height_px)
        self.session.enter(None, lambda desk, case: map_board.add_picture(desk, case, kept.key, side, size, name))

    def add_practice_photo(self, side: str) -> None:
        """Lay the photo of the practice board under the map."""
        bench = self.session.practice
        if bench is None:
            raise DataError("There is no practice board here.", hint="choose a photo of your own board")
        painter = Aside()
        try:
            jpeg = painter.do(practice_photo, bench.board, side)
        finally:
            painter.close()
        with tempfile.NamedTemporaryFile(prefix="ohmwright-", suffix=".jpg") as file:
            file.write(jpeg)
            file.flush()
            self.add_picture(Path(file.name), side, "practice board")


def map_routes(app: FastAPI, mapping: Mapping) -> None:
    """What the page may ask and order while a map is drawn."""
    _pictures(app, mapping)
    _parts(app, mapping)
    _nets(app, mapping)
    _pins(app, mapping)


def _done(mapping: Mapping) -> dict[str, Any]:
    return {"ok": True, "sequence": mapping.session.view.sequence}


def _pictures(app: FastAPI, mapping: Mapping) -> None:
    @app.post("/api/picture")
    async def picture(
        request: Request,
        side: str = Query("top", max_length=8),
        name: str = Query("", max_length=200),
        hold: bool = Query(False),
    ) -> dict[str, Any]:
        if side not in SIDES:
            raise DataError(f"There is no side {side!r}.", hint="top or bottom")
        with tempfile.NamedTemporaryFile(prefix="ohmwright-", suffix=".coming") as file:
            async for chunk in request.stream():
                await run_in_threadpool(file.write, chunk)
            file.flush()
            if hold:
                return {**_done(mapping), "key": await run_in_threadpool(mapping.hold_picture, Path(file.name))}
            await run_in_threadpool(mapping.add_picture, Path(file.name), side, name)
        return _done(mapping)

    @app.post("/api/map/picture")
    def lay_held(o: LayHeld) -> dict[str, Any]:
        mapping.lay_held(o)
        return {**_done(mapping), "first": len(mapping.session.view.book.chart.layers) == 1}

    @app.post("/api/map/photo")
    def photo(o: PracticePhoto) -> dict[str, Any]:
        mapping.add_practice_photo(o.side)
        return _done(mapping)

    @app.get("/api/tile/{key}/{level}/{x}/{y}")
    def tile(key: str, level: int, x: int, y: int) -> Response:
        try:
            data = mapping.shelf.tile(key, level, x, y)
        except OhmwrightError as error:
            raise HTTPException(404) from error
        keep = "private, max-age=31536000, immutable"
        return Response(data, media_type="image/jpeg", headers={"Cache-Control": keep})


def _parts(app: FastAPI, mapping: Mapping) -> None:
    enter = mapping.session.enter

    @app.post("/api/map/part")
    def part(o: LayPart) -> dict[str, Any]:
        first, far = (o.first[0], o.first[1]), (o.far[0], o.far[1])
        enter(o.seen, lambda desk, case: map_board.place_part(
            desk, case, o.kind, o.layer, first, far, package=o.package, count=o.count, name=o.name, value=o.value
        ))  # fmt: skip
        return _done(mapping)

    @app.post("/api/map/move")
    def move(o: MovePart) -> dict[str, Any]:
        enter(o.seen, lambda desk, case: map_board.move_part(
            desk, case, o.part, o.dx, o.dy, o.turn, mirror=o.mirror
        ))  # fmt: skip
        return _done(mapping)

    @app.post("/api/map/kind")
    def kind(o: TellKind) -> dict[str, Any]:
        enter(o.seen, lambda desk, case: map_board.redescribe_part(desk, case, o.part, o.kind, o.value))
        return _done(mapping)

    @app.post("/api/map/erase")
    def erase(o: ErasePart) -> dict[str, Any]:
        enter(o.seen, lambda desk, case: map_board.erase_part(desk, case, o.part))
        return _done(mapping)

    @app.get("/api/map/pattern")
    def pattern(package: str = Query(max_length=24), count: int = Query(ge=2, le=400)) -> dict[str, Any]:
        found = map_board.pattern_of(package, count)
        first, far = map_board.far_pins(package, count)
        return {"first": first, "far": far, "lands": plain(found.lands), "body": list(found.body_mm)}

    @app.get("/api/map/choices")
    def choices() -> dict[str, Any]:
        return {"packages": {name: list(counts) for name, counts in map_board.PACKAGES.items()}}


def _nets(app: FastAPI, mapping: Mapping) -> None:
    enter = mapping.session.enter

    @app.post("/api/map/join")
    def join(o: JoinPads) -> dict[str, Any]:
        enter(o.seen, lambda desk, case: map_board.join_pads(desk, case, o.pads, o.reason))
        return _done(mapping)

    @app.post("/api/map/net")
    def net(o: TellNet) -> dict[str, Any]:
        enter(o.seen, lambda desk, case: map_board.tell_net(
            desk, case, o.pad, o.name, ground=o.ground, entry=o.entry, nominal=o.nominal
        ))  # fmt: skip
        return _done(mapping)

    @app.post("/api/map/grounds")
    def grounds(o: TellGrounds) -> dict[str, Any]:
        enter(o.seen, lambda desk, case: map_board.tell_grounds(desk, case, o.pads))
        return _done(mapping)

    @app.post("/api/map/scale")
    def scale(o: SetScale) -> dict[str, Any]:
        a, b = (o.a[0], o.a[1]), (o.b[0], o.b[1])
        enter(o.seen, lambda desk, case: map_board.set_scale(desk, case, o.layer, a, b, o.mm))
        return _done(mapping)


def _pins(app: FastAPI, mapping: Mapping) -> None:
    @app.post("/api/map/read-pins")
    def read_pins(o: ReadPins) -> dict[str, Any]:
        table = pasted_pins(o.text, o.column)
        found: dict[str, Any] = plain(table)
        return found | {"doubtful": list(table.doubtful)}

    @app.post("/api/map/name-pins")
    def name_pins(o: NamePins) -> dict[str, Any]:
        rows = [PinRow(tuple(row.pins), row.name) for row in o.rows]
        mapping.session.enter(o.seen, lambda desk, case: map_board.name_pins(desk, case, o.part, rows))
        return _done(mapping)
