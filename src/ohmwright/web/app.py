"""The page's server: this machine only, one case, everything the page shows and orders."""

from __future__ import annotations

import asyncio
import re
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, suppress
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from fastapi import FastAPI, HTTPException, Request, Response, WebSocket, WebSocketDisconnect
from fastapi.concurrency import run_in_threadpool
from fastapi.exceptions import RequestValidationError
from fastapi.responses import FileResponse, JSONResponse, PlainTextResponse
from pydantic import ValidationError

from ohmwright.errors import CaseConflictError, InstrumentError, OhmwrightError, RefusedError
from ohmwright.web.book import LARGEST_PAPER, book_routes
from ohmwright.web.eye import PICTURE_BODY, eye_routes
from ohmwright.web.feeding import feeding_routes
from ohmwright.web.field_desk import LARGEST_THERMAL, FieldDesk, field_routes
from ohmwright.web.hearers import Hearers
from ohmwright.web.mapping import LARGEST_PICTURE, LARGEST_TEXT, Mapping, map_routes
from ohmwright.web.nets import BOARD_BODY, net_routes
from ohmwright.web.own_meter import own_meter_routes
from ohmwright.web.part_desk import PartDesk
from ohmwright.web.picture_desk import PictureDesk, picture_routes
from ohmwright.web.round_desk import RoundDesk, round_routes
from ohmwright.web.session import CaseSession
from ohmwright.web.sight import Sight
from ohmwright.web.supply_desk import SupplyDesk
from ohmwright.web.supply_routes import LOG_BODY, supply_routes
from ohmwright.web.wire import Amend, DoStep, Order, PartAct, Probe, Supply, TakeReading, Undo

STATIC = Path(str(files("ohmwright.web"))) / "static"
HOSTS = frozenset({"127.0.0.1", "localhost", "[::1]"})
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
    "connect-src 'self'; font-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""Nothing from elsewhere, no frames. Styles inline: the bars' widths are set on the elements."""
BODY = 20_000
"""Most bytes of an order. [B]"""
LIVE_EVERY = 0.15
"""Time between two looks at the meter. [s]"""
Next = Callable[[Request], Awaitable[Response]]


def create_app(
    session: CaseSession,
    sight: Sight | None = None,
    mapping: Mapping | None = None,
    book: PartDesk | None = None,
    pictures: PictureDesk | None = None,
    rounds: RoundDesk | None = None,
    supplies: SupplyDesk | None = None,
) -> FastAPI:
    """The server for one case.

    Parameters
    ----------
    sight : Sight or None
        The pictures of a practice board.
    mapping : Mapping or None
        A map that is being drawn.
    book : PartDesk or None
        The part book beside the board.
    pictures : PictureDesk or None
        The work on the pictures of that map.
    rounds : RoundDesk or None
        Readings point after point.
    supplies : SupplyDesk or None
        A supply that the program itself switches.
    """
    hearers = Hearers(session)

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        session.tell = hearers.teller(asyncio.get_running_loop())
        if rounds is not None:
            rounds.say = hearers.sayer(asyncio.get_running_loop())
        if supplies is not None:
            supplies.say = hearers.sayer(asyncio.get_running_loop())
        tasks = [asyncio.create_task(_needle(session, hearers)), asyncio.create_task(hearers.tell_news())]
        try:
            yield
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

    app = FastAPI(title="ohmwright", lifespan=lifespan, docs_url=None, redoc_url=None, openapi_url=None)
    app.middleware("http")(_guard)
    _errors(app)
    _orders(app, session)
    _views(app, session, sight, mapping)
    if mapping is not None:
        map_routes(app, mapping)
        net_routes(app, mapping)
    if pictures is not None:
        picture_routes(app, pictures)
    if book is not None:
        book_routes(app, book)
    _at_the_bench(app, session, rounds, supplies)
    _words(app, session, hearers)
    _static(app)
    return app


def _at_the_bench(
    app: FastAPI, session: CaseSession, rounds: RoundDesk | None, supplies: SupplyDesk | None
) -> None:
    """Heat and millivolts, the camera, feeding; readings in turn and a guarded supply where there are any."""
    field_routes(app, FieldDesk(session) if supplies is None else FieldDesk(session, supplies.warm))
    eye_routes(app, session)
    feeding_routes(app, session)
    if rounds is not None:
        round_routes(app, rounds)
        own_meter_routes(app, rounds, practice=session.practice is not None)
    if supplies is not None:
        supply_routes(app, session, supplies)


async def _needle(session: CaseSession, hearers: Hearers) -> None:
    """Pass on what the meter shows, while somebody looks."""
    last: dict[str, Any] | None = {}
    while True:
        await asyncio.sleep(LIVE_EVERY)
        if not hearers.anyone:
            last = {}
            continue
        try:
            live = await run_in_threadpool(session.live)
        except OhmwrightError:
            live = None
        if live != last:
            last = live
            hearers.spread(live or {"kind": "live", "text": ""})


async def _guard(request: Request, call_next: Next) -> Response:
    """Only this machine, only this page, only small bodies; and the headers that keep the page to itself."""
    refusal = _refusal(request)
    response = refusal if refusal is not None else await call_next(request)
    response.headers["Content-Security-Policy"] = POLICY
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Referrer-Policy"] = "no-referrer"
    response.headers["Permissions-Policy"] = "camera=(self), microphone=(), geolocation=()"
    response.headers["Cross-Origin-Opener-Policy"] = "same-origin"
    response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    response.headers.setdefault("Cache-Control", "no-store")
    return response


def _refusal(request: Request) -> Response | None:
    if not own_host(request.headers.get("host", "")):
        return _trouble(403, "not-here", "This address is not answered.", "open the address that ohmwright printed")
    origin = request.headers.get("origin")
    if origin is not None and not own_origin(origin, request.headers.get("host", "")):
        return _trouble(403, "not-this-page", "Orders are taken from ohmwright's own page only.", "")
    return _body_refusal(request) if request.method == "POST" else None


BODIES: dict[str, tuple[str, int]] = {
    "/api/picture": ("image/", LARGEST_PICTURE),
    "/api/heat/picture": ("application/octet-stream", LARGEST_THERMAL),
    "/api/book/paper": ("application/pdf", LARGEST_PAPER),
    "/api/map/file": BOARD_BODY,
    "/api/eye/look": PICTURE_BODY,
    "/api/trace/file": LOG_BODY,
    "/api/eye/find": PICTURE_BODY,
    "/api/map/read-pins": ("application/json", LARGEST_TEXT),
    "/api/book/read-pins": ("application/json", LARGEST_TEXT),
    "/api/book/keep": ("application/json", LARGEST_TEXT),
    "/api/book/onto": ("application/json", LARGEST_TEXT),
}
"""What a body has to say it is and how long it may be, where it is no short order. [B]"""


def _body_refusal(request: Request) -> Response | None:
    """Orders are short and JSON; a picture or a datasheet says that it is one, and a pin table may be longer."""
    kind, path = request.headers.get("content-type", "").split(";")[0], request.url.path
    wanted, most = BODIES.get(path, ("application/json", BODY))
    if not kind.startswith(wanted):
        what = {"image/": "A picture has to say so", "application/pdf": "A datasheet has to say that it is a PDF",
                "application/octet-stream": "A board file has to come as plain bytes"}  # fmt: skip
        return _trouble(415, "not-json", f"{what.get(wanted, 'An order has to be JSON')}.", "")
    length = request.headers.get("content-length", "")
    if not length.isdigit() or int(length) > most:
        return _trouble(413, "too-long", "This is too long.", f"at most {most} bytes")
    return None


def own_host(host: str) -> bool:
    """Whether a Host header names this machine: another name that resolves here must not be answered."""
    name = host.rsplit(":", 1)[0] if not host.endswith("]") else host
    return name in HOSTS


def own_origin(origin: str, host: str) -> bool:
    """Whether an Origin is the page this server itself has sent."""
    split = urlsplit(origin)
    return split.scheme == "http" and split.netloc == host and own_host(host)


def _trouble(status: int, code: str, what: str, hint: str, where: str = "") -> JSONResponse:
    return JSONResponse({"code": code, "message": what, "hint": hint, "where": where}, status)


def _why_and_what_to_try(error: OhmwrightError) -> str:
    """In sentences; a line or a field of a file is named with them, as the page shows no place of its own for it."""
    inner = re.search(r"[/\\]|::|^gate ", error.where)  # a file of this server's own, an address, the name of a rule
    place = "" if inner else error.where
    said = (words.strip().rstrip(".") for words in (error.why, error.hint))
    sentences = " ".join(f"{words[0].upper()}{words[1:]}." for words in said if words)
    named = re.match(r"\S+\.\w+", place)  # a file keeps its name as it is written
    return f"{place if named else f'{place[:1].upper()}{place[1:]}'}. {sentences}".removeprefix(". ").strip()


def _errors(app: FastAPI) -> None:
    @app.exception_handler(OhmwrightError)
    async def ours(_: Request, error: Exception) -> Response:
        if not isinstance(error, OhmwrightError):
            raise error
        kinds = ((CaseConflictError, 409), (RefusedError, 403), (InstrumentError, 503))
        status = next((number for kind, number in kinds if isinstance(error, kind)), 422)
        return _trouble(status, error.code, error.what, _why_and_what_to_try(error), error.where)

    @app.exception_handler(RequestValidationError)
    async def unreadable(_: Request, error: Exception) -> Response:
        first = error.errors()[0] if isinstance(error, RequestValidationError) else {"loc": (), "msg": ""}
        where = ".".join(str(part) for part in first["loc"])
        return _trouble(422, "unreadable", f"The order cannot be read: {first['msg']}.", "", where)


def _orders(app: FastAPI, session: CaseSession) -> None:
    """What the page may order. Plain functions: each runs in a thread of its own."""

    @app.post("/api/do")
    def do_step(order: DoStep) -> dict[str, Any]:
        session.do_step(order.seen, order.figures, order.finding, tuple(order.parts))
        return {"ok": True, "sequence": session.view.sequence}

    @app.post("/api/reading")
    def reading(order: TakeReading) -> dict[str, Any]:
        session.take_reading(order.seen, order.quantity, order.red, order.black, order.figures)
        return {"ok": True, "sequence": session.view.sequence}

    @app.post("/api/part")
    def part(order: PartAct) -> dict[str, Any]:
        session.at_part(order.seen, order.act, order.part)
        return {"ok": True, "sequence": session.view.sequence}

    @app.post("/api/supply")
    def supply(order: Supply) -> dict[str, Any]:
        wish = (order.plus, order.minus, order.volts, order.limit)
        session.supply(order.seen, order.act, wish, order.reason)
        return {"ok": True, "sequence": session.view.sequence}

    @app.post("/api/skip")
    def skip(order: Order) -> dict[str, Any]:
        session.skip(order.seen)
        return {"ok": True, "sequence": session.view.sequence}

    @app.post("/api/undo")
    def undo(order: Undo) -> dict[str, Any]:
        session.undo(order.seen, order.sequence)
        return {"ok": True, "sequence": session.view.sequence}

    @app.post("/api/amend")
    def amend(order: Amend) -> dict[str, Any]:
        session.amend(order.seen, order.sequence, order.figures)
        return {"ok": True, "sequence": session.view.sequence}


def _views(app: FastAPI, session: CaseSession, sight: Sight | None, mapping: Mapping | None) -> None:
    @app.get("/api/case")
    def case() -> dict[str, Any]:
        return session.state()

    @app.get("/api/write-up")
    def write_up() -> Response:
        return PlainTextResponse(session.write_up(), media_type="text/markdown; charset=utf-8")

    @app.get("/api/truth")
    def truth() -> dict[str, Any]:
        return {"parts": list(session.truth())}

    @app.get("/api/sight")
    def pictures() -> dict[str, Any]:
        nothing: dict[str, Any] = {"sides": [], "points": [], "layers": [], "scale_from": ""}
        return nothing | (mapping.plain() if mapping else sight.plain() if sight else {})

    @app.get("/api/picture/{side}")
    def picture(side: str) -> Response:
        if sight is None or side not in sight.sides():
            raise HTTPException(404)
        return Response(sight.image(side), media_type="image/jpeg", headers={"Cache-Control": "private, max-age=600"})


def _words(app: FastAPI, session: CaseSession, hearers: Hearers) -> None:
    @app.websocket("/api/words")
    async def words(socket: WebSocket) -> None:
        host = socket.headers.get("host", "")
        if not own_host(host) or not own_origin(socket.headers.get("origin", ""), host):
            await socket.close(1008)
            return
        await socket.accept()
        async with hearers.hearing(socket):
            await socket.send_json(await run_in_threadpool(session.state))
            await _obey_probe(socket, session)


async def _obey_probe(socket: WebSocket, session: CaseSession) -> None:
    """What comes in over the socket is only where the probes are."""
    with suppress(WebSocketDisconnect):
        while True:
            text = await socket.receive_text()
            try:
                probe = Probe.model_validate_json(text[:1000])
                await run_in_threadpool(session.probe, probe.quantity, probe.red, probe.black)
            except (OhmwrightError, ValidationError) as error:
                message = error.what if isinstance(error, OhmwrightError) else "Those points cannot be read."
                await socket.send_json({"kind": "trouble", "message": message})


def _static(app: FastAPI) -> None:
    known = {path.relative_to(STATIC).as_posix(): path for path in STATIC.rglob("*") if path.is_file()}

    @app.get("/{path:path}")
    def page(path: str) -> Response:
        found = known.get(path or "index.html")
        if found is None and not path:
            return PlainTextResponse("The page is not built. Run: make demo", 503)
        if found is None or found.name.startswith("."):
            raise HTTPException(404)
        keep = "private, max-age=31536000, immutable" if path.startswith("assets/") else "no-store"
        return FileResponse(found, headers={"Cache-Control": keep})
