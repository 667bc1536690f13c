"""ohmwright from Python: names and numbers in, plain JSON data out.

>>> from ohmwright.api import open_case
>>> case = open_case("my-board.json")                       # doctest: +SKIP
>>> case.read("diode", "C12.1", "GND", 0.003).suspects()    # doctest: +SKIP
"""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Any, TypeVar

from ohmwright import usecases
from ohmwright.bootstrap import board_from_file, case_as_json, case_from_file, desk_at, start_case
from ohmwright.casebook import events as happened
from ohmwright.casebook import json_of
from ohmwright.casebook.events import EntryDescribed
from ohmwright.circuit import Board, Feed
from ohmwright.errors import UnknownNameError
from ohmwright.facts import HeatFinding, LookFinding, Symptom
from ohmwright.formats.board_json import board_from_json
from ohmwright.formats.case_json import entry_from_json
from ohmwright.usecases.desk import CaseView, Desk, view_of

Choice = TypeVar("Choice", bound=StrEnum)

__all__ = ["Case", "open_case", "resume_case", "work"]


def open_case(
    board: Board | dict[str, Any] | str | Path,
    *,
    name: str = "",
    cases: str | Path | None = None,
    symptom: str = "unknown",
) -> Case:
    """A new case on a board.

    Parameters
    ----------
    board : Board, dict, str or Path
        A board, its plain description (docs/case-format.md), or the name of a board file.
    cases : str or Path or None
        File to keep the case in; without one it lives as long as the program.
    symptom : str
        ``unknown``, ``dead``, ``draws the full limit``, ``draws nothing``.
    """
    if isinstance(board, dict):
        board = board_from_json(board)
    elif not isinstance(board, Board):
        board = board_from_file(Path(board))
    desk = desk_at(Path(cases) if cases else None, memory=cases is None)
    view = usecases.open_case(desk, name or board.name, board, symptom=_chosen(Symptom, symptom))
    return Case(desk, view)


def resume_case(name: str, cases: str | Path | None = None) -> Case:
    """A case from the store, where it was left."""
    desk = desk_at(Path(cases) if cases else None)
    return Case(desk, view_of(desk, name))


def work(case: dict[str, Any] | str | Path) -> dict[str, Any]:
    """The answer to a case file, or to its plain data: suspects, groups, claims, next tests."""
    source = case if isinstance(case, dict) else Path(case)
    desk = desk_at(memory=True)
    return Case(desk, start_case(desk, case_from_file(source))).answer()


class Case:
    """One board on the bench. What is entered is on the disk when the call returns."""

    def __init__(self, desk: Desk, view: CaseView) -> None:
        self._desk = desk
        self._view = view

    @property
    def name(self) -> str:
        """Its name in the store."""
        return self._view.name

    @property
    def view(self) -> CaseView:
        """The case as a value."""
        return self._view

    def read(self, quantity: str, red: str, black: str, value: str | float | None) -> Case:
        """Enter a reading: figures in SI units, a text such as ``4k7`` or ``OL``, or a one-key outcome."""
        self._view = usecases.record_reading(self._desk, self.name, quantity, red, black, value)
        return self

    def saw(self, part: str, finding: str) -> Case:
        """Enter what the eye saw at a part (several with commas between)."""
        found = _chosen(LookFinding, finding)
        self._view = usecases.record_look(self._desk, self.name, _names(part), found)
        return self

    def warm(self, parts: str, finding: str = "", watts: float | None = None, method: str = "finger") -> Case:
        """Enter where it got warm: one part, several (an area), or "" for nowhere. [W]"""
        names = _names(parts)
        guessed = HeatFinding.NOTHING if not names else HeatFinding.PART if len(names) == 1 else HeatFinding.AREA
        found = _chosen(HeatFinding, finding) if finding else guessed
        self._view = usecases.record_heat(self._desk, self.name, found, names, watts=watts, method=method)
        return self

    def take_off(self, part: str) -> Case:
        """Enter that a part came off."""
        self._view = usecases.take_off(self._desk, self.name, part)
        return self

    def refit(self, part: str) -> Case:
        """Enter that the same part went back on."""
        self._view = usecases.refit(self._desk, self.name, part)
        return self

    def fit_new(self, part: str) -> Case:
        """Enter that a new part was fitted."""
        self._view = usecases.replace_part(self._desk, self.name, part)
        return self

    def clean(self, part: str) -> Case:
        """Enter that a part or a net's copper was cleaned."""
        self._view = usecases.clean(self._desk, self.name, part)
        return self

    def reflow(self, part: str) -> Case:
        """Enter that a part's joints were melted again."""
        self._view = usecases.reflow(self._desk, self.name, part)
        return self

    def bridge(self, a: str, b: str) -> Case:
        """Enter that a wire joins two points."""
        self._view = usecases.bridge(self._desk, self.name, a, b)
        return self

    def feed(self, plus: str, minus: str, volts: float, limit: float, *, reason: str = "") -> list[dict[str, Any]]:
        """Ask leave to feed the board, enter the feed, and return what to mind. [V], [A]

        Parameters
        ----------
        reason : str
            For passing gates that may be passed; it goes on record.
        """
        wish = Feed(plus, minus, volts, limit)
        self._view, permit = usecases.set_feed(self._desk, self.name, wish, override=reason)
        return _plain_list(permit.notices)

    def feed_off(self) -> Case:
        """Enter that the supply is off."""
        self._view = usecases.feed_off(self._desk, self.name)
        return self

    def discharge(self) -> Case:
        """Enter that the board was discharged."""
        self._view = usecases.discharge(self._desk, self.name)
        return self

    def tried(self, works: bool) -> Case:
        """Enter whether the board works now."""
        self._view = usecases.tried(self._desk, self.name, works)
        return self

    def told(self, symptom: str) -> Case:
        """Enter what the board does."""
        self._view = usecases.tell_symptom(self._desk, self.name, _chosen(Symptom, symptom))
        return self

    def entry(
        self,
        net: str,
        label_volts: float | None = None,
        *,
        polarity_measured: bool = False,
        battery_off: bool = False,
    ) -> Case:
        """Enter what is known of a power entry. [V]"""
        known = EntryDescribed(net, label_volts, polarity_measured, battery_off)
        self._view = usecases.describe_entry(self._desk, self.name, known)
        return self

    def skip(self, title: str) -> Case:
        """Pass a test over while the board stands as it does."""
        self._view = usecases.skip(self._desk, self.name, title)
        return self

    def undo(self, sequence: int | None = None) -> Case:
        """Take an entry back, by default the last. [1]"""
        self._view = usecases.undo(self._desk, self.name, sequence)
        return self

    def amend(self, sequence: int, entry: dict[str, Any], before: int = 0) -> Case:
        """Put an entry right, or with 0 put in a forgotten one before event `before`. [1]"""
        self._view = usecases.amend(self._desk, self.name, sequence, entry_from_json(entry), position=before)
        return self

    def amend_value(self, sequence: int, value: str | float | None) -> Case:
        """Put the figures of a reading right. [1], value in SI units."""
        old = next((e.what for e in self._view.book.counted if sequence in e.origins), None)
        if not isinstance(old, happened.ReadingRecorded):
            raise UnknownNameError.among("reading", f"e{sequence}", [r.key for r in self._view.facts.readings])
        entry = {"kind": "reading", "quantity": old.quantity.value, "red": old.red, "black": old.black, "value": value}
        return self.amend(sequence, {**entry, "meter": json_of(old.meter)})

    def suspects(self) -> list[dict[str, Any]]:
        """Who is still suspect, most probable first, with reasons."""
        return _plain_list(self._view.diagnosis.suspects)

    def groups(self) -> list[dict[str, Any]]:
        """Suspects that nothing so far tells apart."""
        return _plain_list(self._view.diagnosis.groups)

    def claims(self) -> list[dict[str, Any]]:
        """What may be claimed, with its signs."""
        return _plain_list(self._view.diagnosis.claims)

    def contradictions(self) -> list[dict[str, Any]]:
        """Readings that do not fit together."""
        return _plain_list(self._view.diagnosis.contradictions)

    def next_tests(self) -> list[dict[str, Any]]:
        """What to do next, best first."""
        return _plain_list(self._view.advice.tests)

    def why(self, name: str) -> list[dict[str, Any]]:
        """What speaks for and against a suspect."""
        return _plain_list(usecases.why(self._view, name))

    def book(self) -> list[dict[str, Any]]:
        """Everything entered, in order, with what was taken back or no longer holds."""
        lost = {orphan.sequence: orphan.why for orphan in self._view.book.orphans}
        return [
            {
                "sequence": event.sequence, "at": event.at, "author": event.author,
                "text": usecases.entry_words(event.what), "undone": event.sequence in self._view.book.undone,
                "no_longer_holds": lost.get(event.sequence, ""),
            }
            for event in self._view.book.events
        ]  # fmt: skip

    def write_up(self, *, markdown: bool = True) -> str:
        """The record of the case."""
        return usecases.write_up(self._view, markdown=markdown)

    def to_json(self) -> dict[str, Any]:
        """The case as plain data (docs/case-format.md)."""
        return case_as_json(self._view)

    def answer(self) -> dict[str, Any]:
        """Everything the engine says, in one piece of plain data."""
        thought: dict[str, Any] = json_of(self._view.thought)
        return {"case": self.name, "sequence": self._view.sequence, **thought["diagnosis"], **thought["advice"]}


def _plain_list(values: tuple[object, ...]) -> list[dict[str, Any]]:
    return [json_of(value) for value in values]


def _names(text: str) -> tuple[str, ...]:
    return tuple(name.strip() for name in text.split(",") if name.strip())


def _chosen(choices: type[Choice], text: str) -> Choice:
    known = {choice.value: choice for choice in choices}
    if text not in known:
        raise UnknownNameError.among("choice", text, known)
    return known[text]
