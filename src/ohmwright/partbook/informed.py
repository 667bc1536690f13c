"""A board as the engine should have it once the part book has had its say."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from ohmwright.circuit import Board, Part, Pin
from ohmwright.partbook.chip_readings import read_chips
from ohmwright.partbook.inside import engine_part
from ohmwright.partbook.neighbours import neighbours_of
from ohmwright.partbook.seen import Seen, looks_on
from ohmwright.partbook.transfer import with_kinds


def informed(
    board: Board, pin_names: Mapping[str, Mapping[str, str]] | None = None, seen: Sequence[Seen] = ()
) -> Board:
    """The board with chips opened up pin to pin, and parts of unknown kind with the kinds they may be.

    Only chips of the kind ``ic`` and parts of unknown kind change: what somebody said stays as it was said. A pin of a
    chip that nobody has named and that lies on a rail is taken to feed the chip.

    Parameters
    ----------
    pin_names : mapping or None
        Chip to pin number to name, where the board does not have it.
    seen : sequence of Seen
        What was noticed beside the looks that the board has. Readings have no place here: the engine weighs them
        itself, and what is told twice counts twice.
    """
    seen = (*looks_on(board), *seen)
    around, readings = read_chips(board, pin_names, seen)
    opened = with_kinds(board, neighbours_of(around, readings, seen))
    named = pin_names or {}
    chips = {reading.chip for reading in readings}
    opened = opened.with_parts(
        engine_part(board, chip, readings, named.get(chip))
        for chip in chips
        if board.part(chip).kind == "ic" and _is_named(board.part(chip), named.get(chip, {}))
    )
    return opened.with_parts(_fed(board, part) for part in opened.parts if part.kind == "ic")


def _fed(board: Board, part: Part) -> Part:
    """A plain chip with its nameless pins on rails as supply pins.

    What such a pin draws by itself would else be a leak, for a signal pin draws nothing.
    """
    feeding = {pin.net for pin in part.pins_of_role("VDD")}
    pins = tuple(
        replace(pin, role="VDD")
        if pin.role in ("", "IO") and not pin.name and _on_rail(board, pin) and pin.net not in feeding
        else pin
        for pin in part.pins
    )
    return part if pins == part.pins else replace(part, pins=pins)


def _on_rail(board: Board, pin: Pin) -> bool:
    return pin.net is not None and pin.net != board.ground and bool(board.net(pin.net).rail)


def _is_named(part: Part, names: Mapping[str, str]) -> bool:
    return any(pin.name or pin.number in names for pin in part.pins)
