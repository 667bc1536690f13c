"""Where power comes in and the plan of a feed: what the page tells and asks before power is put on the board."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI, Query

from ohmwright.quantities import format_quantity
from ohmwright.usecases.map_board import describe_entry_at
from ohmwright.usecases.path_of_feeds import path_of_feeds
from ohmwright.usecases.plan_feed import plan_feed, plan_parts
from ohmwright.web.plain import plain
from ohmwright.web.session import CaseSession
from ohmwright.web.wire import TellEntry


def feeding_routes(app: FastAPI, session: CaseSession) -> None:
    """What the page may ask of a feed, and tell of where power comes in."""

    @app.post("/api/entry")
    def entry(o: TellEntry) -> dict[str, Any]:
        session.enter(
            o.seen,
            lambda desk, case: describe_entry_at(
                desk, case, o.point, o.label_volts, o.polarity_measured, o.battery_off
            ),
        )
        return {"ok": True, "sequence": session.view.sequence}

    @app.get("/api/feed-plan")
    def feed_plan(
        net: str = Query(max_length=80), volts: float | None = Query(None, ge=0, le=60),
        leads: float | None = Query(None, ge=0, le=10),
    ) -> dict[str, Any]:  # fmt: skip
        plan = session.ask(lambda desk, case: plan_feed(desk, case, net, volts))
        path = session.ask(lambda desk, case: path_of_feeds(desk, case, net, leads))
        return plan_parts(plan) | {
            "path": None if path is None else plain(path),
            "charge": format_quantity(plan.charge, "J"), "plus": plan.plus, "minus": plan.minus,
            "settings": [[s.feed.volts, s.feed.limit, s.watts] for s in plan.steps],
        }
