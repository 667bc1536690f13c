"""What the page may ask and order about the supply, its traces and its sweeps."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import FastAPI, Query, Request
from fastapi.concurrency import run_in_threadpool
from pydantic import BaseModel, ConfigDict, Field

from ohmwright.bootstrap import found_instruments, known_families, who_is
from ohmwright.errors import DataError, InstrumentError
from ohmwright.usecases.sweep_supply import knee_words, pairs_from_words
from ohmwright.usecases.trace_supply import present_feed, record_trace, trace_from_csv
from ohmwright.usecases.trace_views import trace_list, trace_shown
from ohmwright.web.plain import plain
from ohmwright.web.session import CaseSession
from ohmwright.web.supply_desk import SupplyDesk
from ohmwright.web.wire import Name, Order

LARGEST_LOG = 8_000_000
"""Bytes of a log file. [B]"""
LOG_BODY = ("application/octet-stream", LARGEST_LOG)
Address = Annotated[str, Field(min_length=3, max_length=200, pattern=r"^[^\r\n]+$")]
Volts = Annotated[float, Field(gt=0, le=60, allow_inf_nan=False)]


class WhoOrder(BaseModel):
    """Something to be asked who it is, and joined."""

    model_config = ConfigDict(extra="forbid", strict=True)
    address: Address


class HoldOrder(Order):
    """Feed one step of the plan for a rail. [V], [1], [s]"""

    net: Name
    volts: Volts | None = None
    step: Annotated[int, Field(ge=1, le=12)] = 1
    seconds: Annotated[float, Field(ge=1, le=60)] = 20.0


class SweepOrder(Order):
    """Volts in even steps up to a setting. [V], [A], [1]"""

    net: Name
    volts: Volts
    limit: Annotated[float, Field(gt=0, le=5, allow_inf_nan=False)]
    steps: Annotated[int, Field(ge=6, le=60)] = 16


class HeatOrder(BaseModel):
    """The hottest place. [°C]"""

    model_config = ConfigDict(extra="forbid", strict=True)
    celsius: Annotated[float, Field(ge=-40, le=400, allow_inf_nan=False)]


class PairsOrder(BaseModel):
    """Volts and amps of a sweep that was done by hand."""

    model_config = ConfigDict(extra="forbid", strict=True)
    pairs: Annotated[list[Annotated[str, Field(max_length=40)]], Field(max_length=2000)]


def supply_routes(app: FastAPI, session: CaseSession, supplies: SupplyDesk) -> None:
    """The supply and its feeds."""

    @app.get("/api/supply/now")
    def now() -> dict[str, Any]:
        return supplies.plain()

    @app.post("/api/supply/join")
    def join(o: WhoOrder) -> dict[str, Any]:
        return {"ok": True, **supplies.join(o.address)}

    @app.post("/api/supply/hold")
    def hold(o: HoldOrder) -> dict[str, Any]:
        supplies.hold(o.seen, o.net, o.volts, o.step, o.seconds)
        return {"ok": True, "sequence": session.view.sequence}

    @app.post("/api/supply/sweep")
    def sweep(o: SweepOrder) -> dict[str, Any]:
        supplies.sweep(o.seen, o.net, o.volts, o.limit, o.steps)
        return {"ok": True, "sequence": session.view.sequence}

    @app.post("/api/supply/stop")
    def stop() -> dict[str, Any]:
        supplies.stop()
        return {"ok": True, "sequence": 0}

    @app.post("/api/supply/heat")
    def heat(o: HeatOrder) -> dict[str, Any]:
        supplies.heat(o.celsius)
        return {"ok": True, "sequence": 0}

    _found(app)
    _traces(app, session)


def _found(app: FastAPI) -> None:
    @app.get("/api/instruments")
    def found() -> dict[str, Any]:
        try:
            there, trouble = [plain(one) for one in found_instruments()], ""
        except InstrumentError as error:
            there, trouble = [], error.what
        known = [{"name": one.name, "kind": one.kind} for one in known_families()]
        return {"found": there, "families": known, "trouble": trouble}

    @app.post("/api/instruments/who")
    def who(o: WhoOrder) -> dict[str, Any]:
        return {"ok": True, "sequence": 0, **plain(who_is(o.address))}


def _traces(app: FastAPI, session: CaseSession) -> None:
    @app.get("/api/traces")
    def traces() -> dict[str, Any]:
        return {"traces": session.ask(trace_list)}

    @app.get("/api/trace")
    def trace(sequence: int = Query(ge=0, le=10_000_000)) -> dict[str, Any]:
        found: dict[str, Any] = plain(session.ask(lambda desk, case: trace_shown(desk, case, sequence)))
        return found

    @app.post("/api/trace/file")
    async def log(request: Request, good: bool = False) -> dict[str, Any]:
        body = await request.body()
        if not body:
            raise DataError("The log is empty.", hint="lines of seconds,amps[,volts]")
        feed = present_feed(session.view.facts.state)

        def take() -> None:
            taken = trace_from_csv(body.decode("utf-8", "replace"), feed)
            session.enter(None, lambda desk, case: record_trace(desk, case, taken, good=good))

        # On the server's own loop it would hold up everybody, who stops a feed too.
        await run_in_threadpool(take)
        return {"ok": True, "sequence": session.view.sequence}

    @app.post("/api/sweep/pairs")
    def pairs(o: PairsOrder) -> dict[str, Any]:
        points = pairs_from_words(o.pairs)
        return {"ok": True, "sequence": 0, "knee": knee_words(points), "points": [list(p) for p in points]}
