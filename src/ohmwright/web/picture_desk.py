"""The page's door to the picture work: registering, laying parts drawn onto their pads, telling pictures apart."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

from fastapi import FastAPI, Query

from ohmwright.usecases import lay_parts, look_fields, register_picture
from ohmwright.usecases.check_turns import turns_checked
from ohmwright.usecases.desk import Desk
from ohmwright.usecases.lay_parts import Laid, Laying
from ohmwright.usecases.picture_ports import Eyes
from ohmwright.usecases.right_part import right_part
from ohmwright.usecases.seek_place import PlaceFound, place_sought, settle_place
from ohmwright.web.picture_wire import (
    ComparePictures,
    GuessPackage,
    LayRow,
    RegisterByPairs,
    RegisterPicture,
    SeekPlace,
    SetDpi,
    SettlePlace,
)  # fmt: skip
from ohmwright.web.plain import plain
from ohmwright.web.session import CaseSession
from ohmwright.web.wire import LayPart, RightPart


class PictureDesk:
    """A case and the eyes that look at its pictures.

    Parameters
    ----------
    eyes : callable
        Gives them; asked for when they are first needed, because they are slow to load.
    """

    def __init__(self, session: CaseSession, desk: Desk, eyes: Callable[[], Eyes]) -> None:
        self.session = session
        self.desk = desk
        self._open = eyes
        self._eyes: Eyes | None = None
        self._found: dict[tuple[str, str], PlaceFound] = {}

    @property
    def eyes(self) -> Eyes:
        """Who looks."""
        self._eyes = self._eyes or self._open()
        return self._eyes

    def lay(self, o: LayPart, last: tuple[float, float] | None = None, how_many: int = 1) -> Laid:
        """Lay a part, or several alike in a row. [1]"""
        wish = _wish(o)
        out: list[Laid] = []
        self.session.enter(
            o.seen,
            lambda desk, case: out.append(
                lay_parts.lay_row(
                    desk, case, self.eyes, wish, last or wish.first, how_many, begin=int(last is not None)
                )
            ),
        )
        return out[0]

    def register(self, o: RegisterPicture) -> None:
        """Find where a picture lies. Looking takes seconds and holds nobody up; only the entry is in turn."""
        was, now = register_picture.found_place(self.desk, self.session.name, self.eyes, o.layer, o.side, o.onto)
        self.session.enter(None, lambda desk, case: register_picture.take_place(desk, case, was, now))

    def seek(self, o: SeekPlace) -> dict[str, Any]:
        """Look where a picture lies, and say it; the page settles it in its turn."""
        found = place_sought(self.desk, self.session.name, self.eyes, o.layer, o.side)
        self._found.pop((o.layer, o.side), None)
        if not isinstance(found, PlaceFound):
            return {"found": False, "words": found.why, "hint": found.hint, "gone": found.gone}
        self._found[o.layer, o.side] = found
        return {"found": True, "words": found.now.how, "hint": ""}

    def settle(self, o: SettlePlace) -> bool:
        """Take down what was found last; false where the pictures have been moved since. [1]"""
        found, done = self._found.pop((o.layer, o.side), None), []
        if found is None:
            return False
        self.session.enter(o.seen, lambda desk, case: done.append(settle_place(desk, case, found)))
        return done == [True]

    def by_pairs(self, o: RegisterByPairs) -> None:
        """Lay a picture by marked places."""
        pairs = [(p.other, _spot(p.there), _spot(p.here)) for p in o.pairs]
        self.session.enter(
            o.seen,
            lambda desk, case: register_picture.register_by_pairs(desk, case, self.eyes, o.layer, o.side, pairs),
        )

    def set_dpi(self, o: SetDpi) -> None:
        """Take the scale from the scanner's resolution."""
        self.session.enter(
            o.seen, lambda desk, case: register_picture.scale_from_dpi(desk, case, o.layer, o.dpi)
        )

    def done(self, laid: Laid | None = None) -> dict[str, Any]:
        """What every order answers; where parts were laid, which, and what of them is not sure."""
        notes, parts = (list(laid.notes), list(laid.parts)) if laid else ([], [])
        return {"ok": True, "sequence": self.session.view.sequence, "notes": notes, "parts": parts}


def picture_routes(app: FastAPI, here: PictureDesk) -> None:
    """What the page may ask and order about pictures."""

    @app.post("/api/map/register")
    def register(o: RegisterPicture) -> dict[str, Any]:
        here.register(o)
        return here.done()

    @app.post("/api/map/seek")
    def seek(o: SeekPlace) -> dict[str, Any]:
        return here.seek(o)

    @app.post("/api/map/settle")
    def settle(o: SettlePlace) -> dict[str, Any]:
        settled = here.settle(o)
        return {**here.done(), "settled": settled}

    @app.post("/api/map/pairs")
    def pairs(o: RegisterByPairs) -> dict[str, Any]:
        here.by_pairs(o)
        return here.done()

    @app.post("/api/map/dpi")
    def dpi(o: SetDpi) -> dict[str, Any]:
        here.set_dpi(o)
        return here.done()

    @app.post("/api/map/lay")
    def lay(o: LayPart) -> dict[str, Any]:
        return here.done(here.lay(o))

    @app.post("/api/map/row")
    def row(o: LayRow) -> dict[str, Any]:
        return here.done(here.lay(o, _spot(o.last), o.how_many))

    @app.post("/api/map/right")
    def right(o: RightPart) -> dict[str, Any]:
        here.session.enter(o.seen, lambda desk, case: right_part(desk, case, o.part))
        return here.done()

    @app.get("/api/map/turned")
    def turned() -> dict[str, Any]:
        return {"doubts": [plain(one) for one in turns_checked(here.desk, here.session.name)]}

    @app.post("/api/map/guess")
    def guess(o: GuessPackage) -> dict[str, Any]:
        name = here.session.name
        found = lay_parts.guess_package(here.desk, name, here.eyes, o.layer, _spot(o.first), _spot(o.far), o.least)
        return {"guesses": [plain(one) for one in found]}

    @app.post("/api/map/compare")
    def compare(o: ComparePictures) -> dict[str, Any]:
        name = here.session.name
        found = register_picture.differences(here.desk, name, here.eyes, o.first, o.second)
        return {"places": [plain(one) for one in found[:200]]}

    _looking(app, here)


def _looking(app: FastAPI, here: PictureDesk) -> None:
    @app.get("/api/map/fields")
    def fields(
        side: Literal["top", "bottom"] = "top", magnification: float = Query(10.0, ge=0.1, le=1000)
    ) -> dict[str, Any]:
        found: dict[str, Any] = plain(look_fields.side_fields(here.session.view, side, magnification, here.eyes))
        return found


def _spot(two: list[float]) -> tuple[float, float]:
    return two[0], two[1]


def _wish(o: LayPart) -> Laying:
    return Laying(o.kind, o.layer, _spot(o.first), _spot(o.far), o.package, o.count, o.name, o.value)
