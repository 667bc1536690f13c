"""Begin a case on a board."""

from __future__ import annotations

import re

from ohmwright.casebook import CaseOpened, Entry
from ohmwright.casebook.events import SymptomTold
from ohmwright.circuit import Board
from ohmwright.errors import DataError
from ohmwright.facts import Symptom
from ohmwright.usecases.desk import CaseView, Desk, record, view_of

_NAME = re.compile(r"[\w][\w .#-]{0,79}\Z")


def open_case(
    desk: Desk,
    name: str,
    board: Board,
    *,
    symptom: Symptom = Symptom.UNKNOWN,
    entries: tuple[Entry, ...] = (),
    note: str = "",
) -> CaseView:
    """Open a case and write down what is known before the first reading."""
    if not _NAME.match(name):
        raise DataError(
            f"{name[:80]!r} cannot name a case.", hint="use letters, figures, spaces, dots, # and dashes, at most 80"
        )
    desk.store.open_case(name, desk.now(), desk.author, CaseOpened(board, note))
    told = () if symptom is Symptom.UNKNOWN else (SymptomTold(symptom),)
    if told or entries:
        record(desk, name, *told, *entries)
    return view_of(desk, name)
