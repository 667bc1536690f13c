"""What the manual of the user's own meter says of it, where no line leads to it: told once on the page."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import FastAPI
from pydantic import BaseModel, ConfigDict, Field

from ohmwright.bootstrap import choose_meter, described_meters, keep_meter, own_meter, own_model
from ohmwright.errors import DataError
from ohmwright.web.plain import plain
from ohmwright.web.round_desk import RoundDesk

Figure = Annotated[float, Field(ge=0, le=1e12, allow_inf_nan=False)]
Word = Annotated[str, Field(max_length=60)]


class OwnMeterOrder(BaseModel):
    """A described meter by its name, or what a manual says, in SI units; limits of error of each mode. [%], [1]"""

    model_config = ConfigDict(extra="forbid", strict=True)
    choose: Word = ""
    name: Word = ""
    figures: Annotated[dict[Word, Figure], Field(max_length=20)] = {}
    limits: Annotated[dict[Word, Annotated[dict[Word, Figure], Field(max_length=4)]], Field(max_length=3)] = {}


def own_meter_routes(app: FastAPI, rounds: RoundDesk, *, practice: bool) -> None:
    """What the page may ask and tell of the meter in hand."""

    @app.get("/api/meter/own")
    def state() -> dict[str, Any]:
        known, found = described_meters(), own_meter()
        return {
            "own": found is not None, "meter": plain(own_model()), "limits": _limits(found),
            "known": [{"name": f.name, "meter": plain(f.meter), "limits": _limits(f)} for f in known],
        }  # fmt: skip

    @app.post("/api/meter/own")
    def tell(asked: OwnMeterOrder) -> dict[str, Any]:
        if practice:
            raise DataError(
                "The practice bench has its own meter.", hint="tell of yours at a case of a board of your own"
            )
        family = (
            choose_meter(asked.choose) if asked.choose else keep_meter(asked.name, asked.figures, asked.limits)
        )  # fmt: skip
        rounds.own(family.meter)
        return {"ok": True, "sequence": 0, "meter": family.name}


def _limits(family: Any) -> dict[str, Any]:
    """Percent, counts and last figure of each mode. [%], [1], SI unit"""
    if family is None:
        return {}
    limits = ((quantity.value, mode.accuracy) for quantity, mode in family.modes.items())
    return {
        name: {"percent": limit.percent, "counts": limit.counts, "step": limit.step}
        for name, limit in limits if limit is not None
    }  # fmt: skip
