"""The part book as the page works at it: the shelves, the datasheets, and the board that lies beside."""

from __future__ import annotations

import re
import threading
import time
from collections import OrderedDict
from pathlib import Path
from typing import Any

from ohmwright.bootstrap import BookShelf, datasheet_page, datasheet_told, index_libraries, libraries_here, part_index
from ohmwright.errors import DataError, OhmwrightError
from ohmwright.library import AtHand, Found, KeptPaper, Limit, Pinned, Spot
from ohmwright.quantities import parse_quantity
from ohmwright.usecases.know_part import know_part, tell_look
from ohmwright.usecases.part_book import Shelf, find_parts, read_mark
from ohmwright.usecases.pasted_pins import PinRow
from ohmwright.usecases.replace_advice import replacement_for
from ohmwright.usecases.typical_circuit import typical_circuit
from ohmwright.web.aside import Aside
from ohmwright.web.book_wire import AskReplacement, KeepPart, PutOnto, PutStock, TellLook
from ohmwright.web.plain import plain
from ohmwright.web.session import CaseSession

PATIENCE = 60.0
"""How long a datasheet may take to be read. [s]"""
SHEETS = 12
"""Datasheets of which what was read is kept at hand. [1]"""
NO_LIBRARIES = (
    "No symbol libraries are installed. With the Debian packages kicad-symbols and kicad-footprints, tens of thousands "
    "of pinouts could be looked up here. Datasheets, pasted tables and parts typed by hand work without them."
)


class PartDesk:
    """Own book, libraries and datasheets beside one case."""

    def __init__(self, session: CaseSession, shelf: BookShelf) -> None:
        self.session = session
        self._shelf = shelf
        self._lock = threading.RLock()
        self._index: Shelf | None = None
        self._libraries = {"state": "unknown", "count": 0, "parts": 0, "pinouts": 0, "lands": 0, "words": ""}
        self._sheets: OrderedDict[str, dict[str, Any]] = OrderedDict()
        self._started = False

    # Looking parts up.

    def state(self) -> dict[str, Any]:
        """What there is to look parts up in. The first call sets the libraries going."""
        with self._lock:
            if not self._started:
                self._started = True
                threading.Thread(target=self._ready_libraries, name="libraries", daemon=True).start()
            stock = [plain(part) for part in self._shelf.notes.stock()]
            return {"libraries": dict(self._libraries), "stock": stock}

    def find(self, name: str, n_pins: int | None, having: list[str]) -> dict[str, Any]:
        """Parts that fit, the user's own first; and how long it took. [s]"""
        self.state()
        began = time.perf_counter()
        with self._lock:
            own: Shelf = self._shelf.own
            shelves = [shelf for shelf in (own, self._index) if shelf is not None]
            found = find_parts(shelves, name, n_pins=n_pins, pin_names=having, most=24)
        return {"parts": found, "seconds": time.perf_counter() - began, "libraries": dict(self._libraries)}

    def mark(self, text: str, package: str, n_pins: int | None, readings: list[str], year: int) -> dict[str, Any]:
        """What a mark may mean."""
        with self._lock:
            shelves = [shelf for shelf in (self._shelf.own, self._index) if shelf is not None]
            return read_mark(text, year, package=package, n_pins=n_pins, readings=readings, shelves=shelves)

    def _ready_libraries(self) -> None:
        """Bring the index up to date in a process of its own, then open it."""
        try:
            count, fresh = libraries_here()
            if not count:
                self._tell_libraries(state="none", words=NO_LIBRARIES)
                return
            self._tell_libraries(state="ready" if fresh else "going through", count=count)
            if not fresh:
                _aside(index_libraries)
            index, _ = part_index()
            parts, pinouts, lands = index.counts()
            with self._lock:
                self._index = index
            self._tell_libraries(state="ready", parts=parts, pinouts=pinouts, lands=lands)
        except OhmwrightError as error:
            self._tell_libraries(state="trouble", words=error.what)

    def _tell_libraries(self, **told: Any) -> None:
        with self._lock:
            self._libraries |= told

    # Datasheets.

    def take_paper(self, file: Path, name: str) -> dict[str, Any]:
        """Take a datasheet in and read it."""
        kept = self._shelf.papers.take(file, name)
        return self._told(kept)

    def paper(self, key: str) -> dict[str, Any]:
        """What a datasheet on the shelf tells."""
        return self._told(self._shelf.papers.get(key))

    def picture(self, key: str, page: int, width: int) -> bytes:
        """A page of it, PNG."""
        return datasheet_page(self._shelf.papers.get(key).path, page, width)

    def _told(self, kept: KeptPaper) -> dict[str, Any]:
        with self._lock:
            found = self._sheets.get(kept.key)
        if found is None:
            found = plain(_aside(datasheet_told, kept.path))
            with self._lock:
                self._sheets[kept.key] = found
                while len(self._sheets) > SHEETS:
                    self._sheets.popitem(last=False)
        with self._lock:
            spots = [plain(spot) for spot in self._shelf.notes.spots(kept.key)]
        return {"key": kept.key, "name": kept.name, "sheet": found, "spots": spots}

    def put_spot(self, paper: str, spot: Spot) -> None:
        """Mark a place on a figure."""
        self._shelf.papers.get(paper)
        with self._lock:
            self._shelf.notes.put_spot(paper, spot)

    def drop_spot(self, paper: str, page: int, name: str) -> None:
        """Take a place from a figure."""
        with self._lock:
            self._shelf.notes.drop_spot(paper, page, name)

    def figure(self, number: str) -> dict[str, Any]:
        """The page with the typical circuit of a part, and the places on it; empty where nobody said."""
        with self._lock:
            where = self._shelf.notes.figure(number)
            limits = [plain(limit) for limit in self._shelf.notes.limits(number)]
        if where is None:
            return {"paper": None, "limits": limits}
        try:
            told = self.paper(where[0])
        except OhmwrightError as error:
            return {"paper": None, "limits": limits, "trouble": error.what}
        return {"paper": told, "page": where[1], "limits": limits}

    def set_figure(self, number: str, paper: str, page: int) -> None:
        """Say where the typical circuit of a part is."""
        self._shelf.papers.get(paper)
        with self._lock:
            self._shelf.notes.set_figure(number, paper, page)

    # What was looked over.

    def keep(self, told: KeepPart) -> None:
        """Put a part that was looked over into the user's own book."""
        pins = tuple(Pinned(pin, row.name, row.kind) for row in told.rows for pin in row.pins)
        twice = sorted({p.number for p in pins if sum(q.number == p.number for q in pins) > 1})
        if twice:
            raise DataError(f"Pins {', '.join(twice[:8])} stand in more than one line.", hint="cross one of them out")
        limits = tuple(Limit(**line.model_dump()) for line in told.limits)
        with self._lock:
            self._shelf.own.add(Found(told.number.strip(), told.source, footprint=told.package, pins=pins))
            self._shelf.notes.keep_limits(told.number.strip(), limits)
            if told.paper and told.figure_page:
                self._shelf.notes.set_figure(told.number.strip(), told.paper, told.figure_page)

    def drop(self, number: str) -> None:
        """Take a part out of the user's own book."""
        with self._lock:
            self._shelf.own.remove(number)

    def put_onto(self, told: PutOnto) -> None:
        """A part of the board is of that number; its pins get their names."""
        rows = [PinRow(tuple(row.pins), row.name, row.kind) for row in told.rows]
        self.session.enter(
            told.seen, lambda desk, case: know_part(desk, case, told.part, rows, told.number, told.source)
        )

    def tell_look(self, told: TellLook) -> None:
        """Take down how an unmarked part looks."""
        self.session.enter(told.seen, lambda desk, case: tell_look(desk, case, told.part, told.look))

    # Around a chip, and in its place.

    def around(self, part: str) -> dict[str, Any]:
        """The typical circuit of a chip, and what the parts around it must be."""
        view = self.session.view
        return typical_circuit(view.board, part, view.facts)

    def replacement(self, asked: AskReplacement) -> dict[str, Any]:
        """What may take the place of a part, and which parts at hand will do."""
        stock = []
        with self._lock:
            at_hand = self._shelf.notes.stock()
        board = self.session.view.board
        many = len(board.part(asked.part).pins) > 2
        for part in at_hand:
            pins = self._pins(part.name) if many else {}
            stock.append({"name": part.name, "where": part.where, "kind": part.kind,
                          "properties": dict(part.properties), "pins": pins})  # fmt: skip
        told = asked.model_dump(exclude={"part"})
        advice = replacement_for(board, asked.part, told, stock)
        kinds = _alike(advice["kind"])
        fitting = {(s["name"], s["where"]) for s in stock if s["kind"] in kinds}
        advice["at_hand"] = [
            one for one in advice["at_hand"] if (one["candidate"]["name"], one["candidate"]["where"]) in fitting
        ]
        return advice

    def _pins(self, number: str) -> dict[str, str]:
        with self._lock:
            for shelf in (self._shelf.own, self._index):
                found = shelf.find(number, most=1) if shelf is not None else ()
                if found and found[0].score >= 0.95:
                    return found[0].names
        return {}

    def put_stock(self, told: PutStock) -> None:
        """Note a part at hand; figures that cannot be read are refused now and not when they are wanted."""
        for text in told.properties.values():
            parse_quantity(text)
        part = AtHand(told.name.strip(), told.where.strip(), told.kind, tuple(told.properties.items()))
        with self._lock:
            self._shelf.notes.put_stock(part)

    def drop_stock(self, name: str, where: str) -> None:
        """A part at hand is used up."""
        with self._lock:
            self._shelf.notes.drop_stock(name, where)


def _alike(kind: str) -> tuple[str, ...]:
    """Kinds that may stand for one another in a drawer."""
    for group in (("capacitor", "polymer"), ("resistor", "sense"), ("diode", "schottky"), ("tvs", "tvs-two-way")):
        if kind in group:
            return group
    return (kind,) if not re.fullmatch(r"ic|buck|boost|buck-boost|linear|load-switch|charger", kind) else (
        "ic", "buck", "boost", "buck-boost", "linear", "load-switch", "charger",
    )  # fmt: skip


def _aside(task: Any, *given: Any) -> Any:
    """The task done in a process of its own, ended when it takes too long."""
    aside = Aside()
    clock = threading.Timer(PATIENCE, aside.close)
    clock.start()
    try:
        return aside.do(task, *given)
    except EOFError as error:
        raise DataError("This took too long and was given up.", hint="paste the pin table as text instead") from error
    finally:
        clock.cancel()
        aside.close()
