"""What an edit of the map makes of the board. Nets are worked out here; events name pads only."""

from __future__ import annotations

from dataclasses import replace

from ohmwright.casebook.events import PadsJoined, PartIdentified, PartPlaced, PinNamed
from ohmwright.circuit import Board, Net, Part, Pin
from ohmwright.errors import DataError


def edited_board(board: Board, edit: PartPlaced | PinNamed | PartIdentified | PadsJoined, sequence: int) -> Board:
    """The board after one edit; a net first known by this edit is named for its sequence number. [1]"""
    if isinstance(edit, PartPlaced):
        return board.with_part(edit.part)
    if isinstance(edit, PinNamed):
        part, pin = _pad(board, edit.pad)
        return board.with_part(_with_pin(part, replace(pin, role=edit.role, name=edit.name or pin.name)))
    if isinstance(edit, PartIdentified):
        known = board.part(edit.part)
        return board.with_part(
            replace(
                known,
                marking=edit.number or known.marking,
                source=edit.source or known.source,
                look=edit.look or known.look,
            )
        )
    return _joined(board, edit, f"net{sequence}")


def _joined(board: Board, edit: PadsJoined, fresh: str) -> Board:
    nets = {pin.net for _, pin in (_pad(board, edit.a), _pad(board, edit.b)) if pin.net is not None}
    if len(nets) > 1:
        raise DataError(
            f"{edit.a} and {edit.b} are already on two different nets, {' and '.join(sorted(nets))}.",
            why="one of the three entries must be wrong, or a part of almost no resistance lies between them",
            hint="buzz both again, then undo the entry that was wrong",
        )
    name = next(iter(nets), fresh)
    if name not in board.net_by_name:
        board = replace(board, nets=(*board.nets, Net(name, source=edit.reason)))
    for pad in (edit.a, edit.b):
        part, pin = _pad(board, pad)
        board = board.with_part(_with_pin(part, replace(pin, net=name)))
    return board


def _pad(board: Board, pad: str) -> tuple[Part, Pin]:
    name, _, number = pad.rpartition(".")
    part = board.part(name or pad)
    return part, part.pin(number)


def _with_pin(part: Part, pin: Pin) -> Part:
    return replace(part, pins=tuple(pin if old.number == pin.number else old for old in part.pins))
