"""What the map of a case holds that cannot all be true: beeps against silences, and beeps against names."""

from __future__ import annotations

from ohmwright.boardmap.copper import Disagreement, Verdict
from ohmwright.casebook.events import NetTold, PadsJoined
from ohmwright.casebook.fold import Casebook
from ohmwright.circuit import Board


def disagreements(book: Casebook) -> tuple[Disagreement, ...]:
    """What was heard and told of the copper and cannot all be true, oldest first."""
    found = [*book.copper.disagreements(), *_against_names(book)]
    return tuple(sorted(found, key=lambda one: one.entries))


def _against_names(book: Casebook) -> list[Disagreement]:
    """Beeps between two nets that have names of their own, and the entries that named them."""
    board, found = book.board, []
    for entry in book.counted:
        what, sequence = entry.what, entry.event.sequence
        if not isinstance(what, PadsJoined) or book.copper.verdicts.get(sequence) is not Verdict.COPPER:
            continue
        first, second = _net(board, what.a), _net(board, what.b)
        if first is None or second is None or first == second:
            continue
        names = sorted(_named_by(book, first) + _named_by(book, second))
        cures = (sequence, *names) if len(names) <= 2 else (sequence,)
        pair = tuple(sorted((sequence, *names[-1:])))
        found.append(Disagreement(what.a, what.b, pair, tuple(names[:-1]), tuple(sorted(cures))))
    return found


def _named_by(book: Casebook, net: str) -> list[int]:
    """The entries that called a net by its name."""
    return [
        entry.event.sequence for entry in book.counted
        if isinstance(entry.what, NetTold) and (entry.what.name == net or entry.what.ground)
        and _net(book.board, entry.what.pad) == net
    ]  # fmt: skip


def _net(board: Board, pad: str) -> str | None:
    if pad == board.ground:
        return pad
    name, _, number = pad.rpartition(".")
    part = board.part_by_name.get(name)
    return None if part is None else next((pin.net for pin in part.pins if pin.number == number), None)
