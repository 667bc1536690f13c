"""Heat pictures and millivolts: what the page hands over, and what it is shown of it before it goes on record."""

from __future__ import annotations

import base64
import math
import tempfile
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from fastapi import FastAPI, Query, Request
from fastapi.concurrency import run_in_threadpool

from ohmwright.bootstrap import thermal_file, thermal_preview
from ohmwright.errors import DataError
from ohmwright.usecases.heat_picture import HeatSeen, heat_rise, heat_seen, take_heat
from ohmwright.usecases.trace_millivolts import take_millivolts, trace_now
from ohmwright.web.field_wire import LookAtHeat, Millivolts, TakeHeat, told
from ohmwright.web.plain import plain
from ohmwright.web.session import CaseSession

LARGEST_THERMAL = 120_000_000
"""[B]"""
MOST_VALUES = 60_000_000
"""Pixels times frames of a series given as many files. [1]"""
SOUND_FROM = 4
"""The hottest pixel but so many is no broken one. [1]"""
ROLES = ("before", "during", "after")


class FieldDesk:
    """Thermal pictures that were handed over, until they are taken into the case.

    Parameters
    ----------
    warm : callable
        Told the hottest place of every picture that was taken with the supply on. [°C]
    """

    def __init__(self, session: CaseSession, warm: Callable[[float], None] = lambda celsius: None) -> None:
        self.session, self._warm = session, warm
        self._frames: dict[str, Any] = {}
        self._rate = 0.0
        self._seen: HeatSeen | None = None
        self._lock = threading.Lock()

    def take(
        self, role: str, file: Path, scale: tuple[float, float, float, float], more: bool = False
    ) -> dict[str, Any]:
        """One thermal file, supply off, on, or off again; `more` of them are frames of one series, in order."""
        frames, rate = thermal_file(file, *scale)
        with self._lock:
            so_far = self._frames.get(role) if more else None
            if so_far is not None:
                if so_far.shape[1:] != frames.shape[1:] or so_far.size + frames.size > MOST_VALUES:
                    raise DataError(
                        "This file is no more of the same series.",
                        why="its picture is of another size, or the series becomes too long",
                        hint="give files of one camera, or fewer of them",
                    )
                frames = np.concatenate((so_far, frames))
            elif role == "before":
                self._frames.clear()
            self._frames[role] = frames
            self._rate = rate or self._rate
            self._seen = None
        if role == "during":
            self._warm(hottest(frames))
        middle = frames.mean(axis=0)
        png = base64.b64encode(thermal_preview(middle)).decode("ascii")
        return {
            "role": role, "frames": len(frames), "width": frames.shape[2], "height": frames.shape[1], "rate": rate,
            "coldest": float(middle.min()), "hottest": float(middle.max()), "png": f"data:image/png;base64,{png}",
        }  # fmt: skip

    def look(self, o: LookAtHeat) -> dict[str, Any]:
        """What the feed warmed."""
        with self._lock:
            before, during, after = (self._frames.get(role) for role in ROLES)
            rate = o.rate or self._rate
        if during is None or (before is None and not o.hertz):
            raise DataError("Two pictures are needed.", hint="one with the supply off and one with it on, camera fixed")
        rise = heat_rise(during if before is None else before, during, after, hertz=o.hertz, rate=rate, times=o.times)
        pairs = [((p.px[0], p.px[1]), (p.mm[0], p.mm[1])) for p in o.pairs]
        view = self.session.view
        seen = heat_seen(view.board, view.facts, rise, pairs, o.side, o.watts)
        with self._lock:
            self._seen = seen
        shown = np.clip(rise.kelvin, 0.0, None).astype(np.float32)
        png = base64.b64encode(thermal_preview(shown)).decode("ascii")
        return {**plain(seen), "png": f"data:image/png;base64,{png}"}

    def record(self, o: TakeHeat) -> dict[str, Any]:
        """Put what was seen on record."""
        seen = self._seen
        if seen is None:
            raise DataError("There is nothing to take yet.", hint="look at the pictures first")
        self.session.enter(o.seen, lambda desk, case: take_heat(desk, case, seen, None if o.spot < 0 else o.spot))
        return {"ok": True, "sequence": self.session.view.sequence}


def hottest(frames: Any) -> float:
    """The hottest place of any frame, shape (n, h, w), but for three pixels that may be broken. [°C]"""
    flat = frames.reshape(len(frames), -1)
    return float(np.partition(flat, -SOUND_FROM, axis=1)[:, -SOUND_FROM].max())


def field_routes(app: FastAPI, fields: FieldDesk) -> None:
    """What the page may ask and order about heat and millivolts."""
    _heat(app, fields)
    session = fields.session

    @app.post("/api/millivolts/look")
    def trace(o: Millivolts) -> dict[str, Any]:
        return _known(plain(session.ask(lambda desk, case: trace_now(desk, case, told(o).gradient))))

    @app.get("/api/millivolts/shown")
    def shown() -> dict[str, Any]:
        found = session.display("volts")
        if found is None:
            raise DataError("No meter shows volts.", hint="join one in a round, or a camera; or type what yours shows")
        return {"ok": True, "millivolts": None if found[0] is None else 1e3 * found[0], "text": found[1]}

    @app.post("/api/millivolts/take")
    def take(o: Millivolts) -> dict[str, Any]:
        session.enter(o.seen, lambda desk, case: take_millivolts(desk, case, told(o).gradient))
        return {"ok": True, "sequence": session.view.sequence}


def _heat(app: FastAPI, fields: FieldDesk) -> None:
    @app.post("/api/heat/picture")
    async def picture(
        request: Request,
        role: str = Query("during", max_length=8),
        low: float = Query(math.nan),
        high: float = Query(math.nan),
        per_count: float = Query(math.nan),
        offset: float = Query(0.0),
        more: bool = Query(False),
    ) -> dict[str, Any]:
        if role not in ROLES:
            raise DataError(f"There is no picture {role!r}.", hint="before, during or after")
        with tempfile.NamedTemporaryFile(prefix="ohmwright-", suffix=".coming") as file:
            async for chunk in request.stream():
                await run_in_threadpool(file.write, chunk)
            file.flush()
            return await run_in_threadpool(fields.take, role, Path(file.name), (low, high, per_count, offset), more)

    @app.post("/api/heat/look")
    def look(o: LookAtHeat) -> dict[str, Any]:
        return _known(fields.look(o))

    @app.post("/api/heat/take")
    def take(o: TakeHeat) -> dict[str, Any]:
        return fields.record(o)


def _known(data: dict[str, Any]) -> dict[str, Any]:
    """Plain data with None where a number is not known."""
    return {key: _finite(item) for key, item in data.items()}


def _finite(data: Any) -> Any:
    if isinstance(data, float):
        return data if math.isfinite(data) else None
    if isinstance(data, dict):
        return {key: _finite(item) for key, item in data.items()}
    if isinstance(data, list | tuple):
        return [_finite(item) for item in data]
    return data
