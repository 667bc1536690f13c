"""Nets from what buzzes, boards from files, and looking, over the wire."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import FastAPI, Query, Request, Response
from fastapi.concurrency import run_in_threadpool
from pydantic import BaseModel, ConfigDict, Field

from ohmwright.bootstrap import KnownBoard, board_figure
from ohmwright.errors import DataError, UnknownNameError
from ohmwright.usecases import lay_known, map_nets
from ohmwright.usecases.desk import CaseView
from ohmwright.web.mapping import Mapping
from ohmwright.web.plain import plain
from ohmwright.web.wire import Name, Order, Short, Spot

LARGEST_BOARD = 100_000_000
"""Bytes of a board file. [B]"""
BOARD_BODY = ("application/octet-stream", LARGEST_BOARD)
Millimetres = Annotated[float, Field(ge=-10_000, le=10_000, allow_inf_nan=False)]
Size = Annotated[float, Field(gt=0, le=10_000, allow_inf_nan=False)]


class Heard(Order):
    """Two points, and whether they beep."""

    a: Name
    b: Name
    beeps: bool


class LookedOver(Order):
    """A field that was looked over. [mm], [1]"""

    side: Literal["top", "bottom"]
    x: Millimetres
    y: Millimetres
    width: Size
    height: Size
    magnification: Annotated[float, Field(ge=0.1, le=1000, allow_inf_nan=False)] = 1.0


class Seen(Order):
    """What was seen at a part."""

    part: Name
    finding: Short


class PadMark(BaseModel):
    """A pad of the file, and where it is seen. [px]"""

    model_config = ConfigDict(extra="forbid", strict=True)
    pad: Name
    layer: Name
    at: Spot


class LayFile(Order):
    """Lay the file on the picture by these pads; with nothing to enter, only say how it would fit."""

    marks: Annotated[list[PadMark], Field(max_length=40)]
    enter: bool = True


class Nets:
    """What the page asks of nets, and the file that was handed over last."""

    def __init__(self, mapping: Mapping) -> None:
        self.mapping = mapping
        self.session = mapping.session
        self.known: KnownBoard | None = None
        self._joins: tuple[int, object, tuple[Any, ...]] | None = None

    def joins(self, view: CaseView) -> tuple[Any, ...]:
        """What to buzz next: worked out once for each entry and each thought."""
        thought = self.session.thought
        if self._joins is None or self._joins[0] != view.sequence or self._joins[1] is not thought:
            found = map_nets.joins_for(view, None if thought is None else thought.diagnosis)
            self._joins = (view.sequence, thought, found)
        return self._joins[2]

    @property
    def done(self) -> dict[str, Any]:
        """What an order is answered with."""
        return {"ok": True, "sequence": self.session.view.sequence}

    def take_file(self, path: Path, name: str) -> dict[str, Any]:
        """Read a file, and say what it holds."""
        self.known = lay_known.known_from_file(path, name)
        return self.offer()

    def offer(self) -> dict[str, Any]:
        """What the file holds, and how it agrees with the map as it is."""
        known, board = self.held, self.session.view.board
        side = next((layer.side for layer in self.session.view.book.chart.layers), "top")
        same, other, which = lay_known.against_map(board, known)
        return {**plain(lay_known.offered(known, board, side)), "same": same, "other": other, "which": list(which)}

    def lay(self, order: LayFile) -> dict[str, Any]:
        """Lay the file, or say how it would fit."""
        known = self.held
        marks = [lay_known.MarkedPad(one.pad, one.layer, (one.at[0], one.at[1])) for one in order.marks]
        if order.enter:
            self.session.enter(order.seen, lambda desk, case: lay_known.lay_known(desk, case, known, marks))
            return self.done
        told: dict[str, Any] = plain(self.session.ask(lambda desk, case: lay_known.fit_told(desk, case, known, marks)))
        return told

    @property
    def held(self) -> KnownBoard:
        """The file that was handed over last."""
        if self.known is None:
            raise DataError("No file was handed over.", hint="choose a board file first")
        return self.known


def net_routes(app: FastAPI, mapping: Mapping) -> None:
    """What the page may ask and order of nets."""
    nets = Nets(mapping)
    _heard(app, nets)
    _files(app, nets)
    _looks(app, nets)
    _figures(app, nets)


def _heard(app: FastAPI, nets: Nets) -> None:
    session = nets.session

    @app.post("/api/map/heard")
    def heard(o: Heard) -> dict[str, Any]:
        session.enter(o.seen, lambda desk, case: map_nets.heard(desk, case, o.a, o.b, o.beeps))
        return nets.done

    @app.get("/api/map/pad")
    def pad(pad: str = Query(max_length=80)) -> dict[str, Any] | None:
        view = session.view
        try:
            found: dict[str, Any] = plain(map_nets.pad_story(view, pad, nets.joins(view)))
        except UnknownNameError:
            return None  # its part was erased while the page asked: there is nothing to tell of it any more
        return found

    @app.get("/api/map/nets")
    def overview() -> dict[str, Any]:
        view = session.view
        found = map_nets.nets_view(view, nets.joins(view))
        told = found.agreement
        return {
            "names": dict(found.names), "doubts": plain(found.doubts), "next": plain(found.next),
            "ground": list(found.ground), "called_ground": list(found.called_ground),
            "agreement": None if told is None else {**plain(told), "words": told.words, "belongs": told.belongs},
            "fields": plain(map_nets.inspected(view)),
            "looks": [{"parts": list(look.parts), "finding": look.finding.value} for look in view.facts.looks],
        }  # fmt: skip


def _files(app: FastAPI, nets: Nets) -> None:
    @app.post("/api/map/file")
    async def file(request: Request, name: str = Query("board", max_length=200)) -> dict[str, Any]:
        with tempfile.NamedTemporaryFile(prefix="ohmwright-", suffix=".board") as held:
            async for chunk in request.stream():
                await run_in_threadpool(held.write, chunk)
            held.flush()
            return await run_in_threadpool(nets.take_file, Path(held.name), Path(name).name[-80:])

    @app.post("/api/map/lay-file")
    def lay(o: LayFile) -> dict[str, Any]:
        return nets.lay(o)

    @app.post("/api/map/take-nets")
    def take(o: Order) -> dict[str, Any]:
        known = nets.held
        nets.session.enter(o.seen, lambda desk, case: lay_known.take_nets(desk, case, known))
        return nets.done


def _looks(app: FastAPI, nets: Nets) -> None:
    session = nets.session

    @app.post("/api/map/looked")
    def looked(o: LookedOver) -> dict[str, Any]:
        box = (o.x, o.y, o.width, o.height)
        session.enter(o.seen, lambda desk, case: map_nets.look_over(desk, case, o.side, box, o.magnification))
        return nets.done

    @app.post("/api/map/mark")
    def mark(o: Seen) -> dict[str, Any]:
        session.enter(o.seen, lambda desk, case: map_nets.mark(desk, case, o.part, o.finding))
        return nets.done


def _figures(app: FastAPI, nets: Nets) -> None:
    @app.get("/api/map/figure")
    def figure(
        side: Literal["top", "bottom", "both"] = "top", point: str = Query("", max_length=80)
    ) -> Response:  # the page makes a PNG of it
        svg = board_figure(nets.session.view, nets.mapping.shelf, side, point)
        return Response(svg, media_type="image/svg+xml")
