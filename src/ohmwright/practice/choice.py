"""Which board and which fault are on the bench: told by name or path, or drawn by the seed."""

from __future__ import annotations

from pathlib import Path

from ohmwright.circuit import Board
from ohmwright.errors import DataError, FileFormatError, UnknownNameError
from ohmwright.formats.board_json import read_board_json
from ohmwright.formats.json_field import Field
from ohmwright.formats.json_text import read_json_text
from ohmwright.practice.chance import Dice, about, dice_for
from ohmwright.practice.fault_json import LARGEST, NOTHING_WRONG, Defect, Fault, read_fault_json

HERE = Path(__file__).parent
DRAWN = ("", "random")


def boards() -> dict[str, Path]:
    """The boards that come with the bench, by name of their file."""
    return {path.stem: path for path in sorted((HERE / "boards").glob("*.json"))}


def faults() -> dict[str, Path]:
    """The faults that come with it."""
    return {path.stem: path for path in sorted((HERE / "faults").glob("*.json"))}


def chosen(board: str, fault: str, seed: int) -> tuple[Board, Fault]:
    """Board and fault of those names or paths.

    Parameters
    ----------
    board : str
        Empty: that of the fault, or drawn.
    fault : str
        Empty or ``random``: drawn among those with something to find; ``none``: a sound board.
    seed : int
        Draws what is left open. [1]
    """
    dice = dice_for(seed, "which")
    told = None if fault in DRAWN or fault == "none" else _path(fault, faults(), "fault")
    if not board and told is not None:
        return _with(told)
    if board:
        found = read_board_json(_path(board, boards(), "board"))
    else:
        # Draw a fault first, so that every fault is as likely, whatever board it is for.
        known = boards()
        found = read_board_json(known[str(dice.choice(sorted(known)))])
    if fault == "none":
        return found, NOTHING_WRONG
    return found, read_fault_json(told, found) if told is not None else _drawn(found, dice)


def _drawn(board: Board, dice: Dice) -> Fault:
    fitting = [read_fault_json(path, board) for path in faults().values() if _board_of(path) == board.name]
    worth = [fault for fault in fitting if fault.defects]
    if worth:
        return worth[int(dice.integers(len(worth)))]
    capacitors = [p for p in board.parts if p.kind in ("capacitor", "polymer") and len(set(p.nets)) == 2]
    if not capacitors:
        raise DataError(
            f"No fault is known for {board.name}, and it has no capacitor to be shorted.", hint="hand over a fault file"
        )
    part = capacitors[int(dice.integers(len(capacitors)))]
    pins = (part.pins[0].number, part.pins[1].number)
    return Fault("drawn", "drawn by the seed", (Defect(part.name, "short", pins, about(dice, 0.3, 0.8)),))


def _with(fault: Path) -> tuple[Board, Fault]:
    name = _board_of(fault)
    for path in boards().values():
        board = read_board_json(path)
        if board.name == name or path.stem == name:
            return board, read_fault_json(fault, board)
    raise UnknownNameError.among("board", name, (read_board_json(p).name for p in boards().values()), where=str(fault))


def _board_of(fault: Path) -> str:
    data = read_json_text(fault, largest=LARGEST, deepest=8)
    if not isinstance(data, dict) or "board" not in data:
        raise FileFormatError("This fault does not say for which board.", where=str(fault), hint="name the board too")
    return Field(data["board"], str(fault)).text()


def _path(name: str, known: dict[str, Path], kind: str) -> Path:
    if name in known:
        return known[name]
    path = Path(name)
    if path.suffix == ".json" or path.is_file():
        return path
    raise UnknownNameError.among(kind, name, known)
