"""The plan of a feed on the page, asked for at the step that puts power on the board."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI, Query

from ohmwright.quantities import format_quantity
from ohmwright.usecases.plan_feed import plan_feed, plan_parts
from ohmwright.web.session import CaseSession


def feeding_routes(app: FastAPI, session: CaseSession) -> None:
    """What the page may ask of a feed. Nothing is written."""

    @app.get("/api/feed-plan")
    def feed_plan(
        net: str = Query(max_length=80), volts: float | None = Query(None, ge=0, le=60)
    ) -> dict[str, Any]:
        plan = session.ask(lambda desk, case: plan_feed(desk, case, net, volts))
        return plan_parts(plan) | {
            "charge": format_quantity(plan.charge, "J"), "plus": plan.plus, "minus": plan.minus,
            "settings": [[s.feed.volts, s.feed.limit, s.watts] for s in plan.steps],
        }
