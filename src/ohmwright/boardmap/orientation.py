"""Whether a part lies on the map the right way round, as far as names of its pins and readings tell.

A chip of which pin 1 was taken at the wrong corner, or an underside laid unmirrored, has all its pins on the wrong
copper, and nothing on the picture says so. What tells is that a pin called ground is not ground while the one that
takes its place in a turned or mirrored part is, or that two like parts read alike only with one of them turned.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from ohmwright.circuit import Board, Part, Pin

GROUND_NAMES = re.compile(r"(?i)([ADP]?GND\d?|GROUND|[AD]?VSS\d?|0V|EP|EPAD)\Z")
"""Names of pins that are ground on every board. common practice, no source"""
NOT_GROUND = 5.0
"""From so much resistance to ground a pin is on other copper. [ohm] a guess: leads and contact stay under 2"""
ALIKE, UNLIKE = 0.15, 0.5
"""How far the logarithms of two readings of like parts may lie apart, and from where they contradict. [1] a guess"""
Readings = Mapping[str, float]
"""Ohms from a pad, PART.PIN, to ground. [ohm]"""


@dataclass(frozen=True, slots=True)
class TurnDoubt:
    """A part that may lie the wrong way round.

    Parameters
    ----------
    words : str
        What does not go together, and what would.
    turn : str
        ``turned half round``, ``turned a quarter``, ``mirrored`` and the like; empty where nothing explains it.
    """

    part: str
    words: str
    turn: str


def orientation_doubts(
    board: Board, to_ground: Readings, silent: frozenset[str] = frozenset()
) -> tuple[TurnDoubt, ...]:
    """Parts that may lie the wrong way round, in the order of the board.

    Parameters
    ----------
    to_ground : mapping of str to float
        Resistance from pads to ground, where it was read. [ohm]
    silent : frozenset of str
        Pads that did not beep with ground.
    """
    known = {**to_ground, **dict.fromkeys(silent - to_ground.keys(), math.inf)}
    found = [_by_ground(board, part, known) for part in board.parts if len(part.pins) > 2]
    told = {doubt.part for doubt in found if doubt is not None}
    twins = [doubt for doubt in _by_twins(board, to_ground) if doubt.part not in told]
    return (*(doubt for doubt in found if doubt is not None), *twins)


def ways_round(count: int) -> dict[str, tuple[int, ...]]:
    """For each wrong way to lay a part of so many pins, which pin then takes the place of each, from 0. [1]"""
    n = count - count % 2  # a pad under the body stays where it is
    last = tuple(range(n, count))
    ways = {"turned half round": tuple((i + n // 2) % n for i in range(n))}
    if n % 4 == 0 and n >= 12:
        ways["turned a quarter"] = tuple((i + n // 4) % n for i in range(n))
        ways["turned three quarters"] = tuple((i + 3 * n // 4) % n for i in range(n))
    ways["mirrored"] = tuple(n - 1 - i for i in range(n))
    ways["mirrored and turned half round"] = tuple((n // 2 - 1 - i) % n for i in range(n))
    return {words: (*order, *last) for words, order in ways.items()}


def pins_around(part: Part) -> tuple[Pin, ...]:
    """The pins as they are counted around the package, whatever order they were laid in."""
    if all(pin.number.isdigit() for pin in part.pins):
        return tuple(sorted(part.pins, key=lambda pin: int(pin.number)))
    return part.pins


def _by_ground(board: Board, part: Part, to_ground: Readings) -> TurnDoubt | None:
    pins = pins_around(part)
    known = [_is_ground(board, part, pin, to_ground) for pin in pins]
    must = [i for i, pin in enumerate(pins) if _called_ground(board, pin)]
    wrong = [i for i in must if known[i] is False]
    if not wrong:
        return None
    names = ", ".join(f"{part.name}.{pins[i].number}" for i in wrong[:3])
    best = ""
    for words, order in ways_round(len(pins)).items():
        there = [known[order[i]] for i in must]
        if all(v is not False for v in there) and any(v is True for v in there):
            best = words
            break
    if best:
        said = f"{names} should be ground and is not; it would be if {part.name} lay {best}"
    else:
        said = f"{names} should be ground by its name and is not: see its package, its pin names and the side it is on"
    return TurnDoubt(part.name, said, best)


def called_ground(board: Board, to_ground: Readings) -> tuple[str, ...]:
    """Pads of pins that are ground by their name, of which nothing else says yet whether they are.

    Parameters
    ----------
    to_ground : mapping of str to float
        Resistance from pads to ground, where it was read. [ohm]
    """
    out = []
    for part in board.parts:
        for pin in part.pins if len(part.pins) > 2 else ():
            open_yet = pin.net != board.ground and _is_ground(board, part, pin, to_ground) is None
            if open_yet and _called_ground(board, pin):
                out.append(f"{part.name}.{pin.number}")
    return tuple(out)


def _called_ground(board: Board, pin: Pin) -> bool:
    """By its name, or by a role that it does not have from lying on ground only."""
    return bool(GROUND_NAMES.match(pin.name)) or (pin.role == "GND" and pin.net != board.ground)


def _is_ground(board: Board, part: Part, pin: Pin, to_ground: Readings) -> bool | None:
    """Whether a pin is on ground by what was found out about it, not by its name; None where nothing was."""
    read = to_ground.get(f"{part.name}.{pin.number}")
    if read is not None and read > NOT_GROUND:
        return False
    if pin.net == board.ground:
        return True
    if pin.net is not None and (board.net(pin.net).rail or board.net(pin.net).nominal):
        return False
    return None


def _by_twins(board: Board, to_ground: Readings) -> list[TurnDoubt]:
    out = []
    chips = [part for part in board.parts if len(part.pins) > 2]
    for i, first in enumerate(chips):
        for second in chips[i + 1 :]:
            like = (first.kind, first.package, first.marking) == (second.kind, second.package, second.marking)
            if like and len(first.pins) == len(second.pins):
                a, b = (_read(part, to_ground) for part in (first, second))
                turn = _explained(a, b)
                if turn:
                    words = f"{second.name} reads like {first.name}, its twin, only if one of the two lay {turn}"
                    out.append(TurnDoubt(second.name, words, turn))
    return out


def _read(part: Part, to_ground: Readings) -> list[float | None]:
    return [to_ground.get(f"{part.name}.{pin.number}") for pin in pins_around(part)]


def _explained(a: list[float | None], b: list[float | None]) -> str:
    """By what turn two patterns of readings come to agree that contradict each other as they are."""
    as_laid = _apart(a, b)
    if len(as_laid) < 3 or sum(v > UNLIKE for v in as_laid) < 2:
        return ""
    for words, order in ways_round(len(a)).items():
        turned = _apart(a, [b[k] for k in order])
        if len(turned) >= 3 and max(turned) <= ALIKE:
            return words
    return ""


def _apart(a: list[float | None], b: list[float | None]) -> list[float]:
    pairs = [(x, y) for x, y in zip(a, b, strict=True) if x is not None and y is not None]
    return [abs(math.log((x + 0.5) / (y + 0.5))) for x, y in pairs]
