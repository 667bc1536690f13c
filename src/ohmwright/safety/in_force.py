"""What to mind as the board stands now, whatever is done next; and when no hand may go near it with iron or solvent."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ohmwright.circuit import Board
from ohmwright.facts import Facts, Quantity
from ohmwright.quantities import format_quantity
from ohmwright.safety.permit import Notice, Refusal
from ohmwright.safety.rules import EXTRA_LOW, LOCAL
from ohmwright.safety.solvent import is_wet

VOLTS = (Quantity.VOLTS, Quantity.SUPPLY_VOLTS)


def in_force(board: Board, facts: Facts) -> tuple[Notice, ...]:
    """Cautions that hold until the board stands otherwise, gravest first."""
    return (*_dangerous(board, facts), *_fed(facts), *_wet(facts))


def hand_work(facts: Facts, act: str) -> Refusal | None:
    """Why an act with iron, hot air or solvent has to wait; None where nothing stands against it."""
    feed = facts.state.feed
    if feed is None:
        return None
    return Refusal(
        "fed",
        f"The supply is on at {feed.plus}: no {act} on a fed board.",
        "switch the supply off, discharge, let it cool, then do it; solvent and heat never together",
    )


def entry_volts(label_volts: float | None) -> Refusal | None:
    """Why a board whose entry carries such volts is not worked on here; None where it may be. [V]"""
    if label_volts is None or not EXTRA_LOW < label_volts < math.inf:  # no figure at all is refused elsewhere
        return None
    return Refusal(
        "over 60 V",
        f"An entry of {label_volts:g} V is mains, or more than {EXTRA_LOW:g} V DC: dangerous to touch, and its "
        "capacitors stay charged after it is unplugged.",
        f"hand the primary side to a qualified person; here only what lies behind it, at its own volts. {LOCAL}",
    )


def _dangerous(board: Board, facts: Facts) -> Iterator[Notice]:
    seen = [r for r in facts.readings if r.quantity in VOLTS and r.value is not None and abs(r.value) > EXTRA_LOW]
    if seen:
        most = max(seen, key=lambda r: abs(r.value or 0.0))
        where = f"{format_quantity(abs(most.value or 0.0), 'V')} was read at {most.red}"
    else:
        told = [e for e in facts.entries if (e.label_volts or 0.0) > EXTRA_LOW]
        rated = [n for n in board.nets if n.nominal is not None and n.nominal > EXTRA_LOW]
        if not (told or rated):
            return
        volts, name = (told[0].label_volts, told[0].net) if told else (rated[0].nominal, rated[0].name)
        where = f"{name} carries {format_quantity(volts or 0.0, 'V')}"
    yield Notice(
        "over 60 V",
        f"{where}: above {EXTRA_LOW:g} V DC it is dangerous to touch. Stop here, let nobody near it, and hand it to a "
        f"qualified person. {LOCAL}",
    )


def _fed(facts: Facts) -> Iterator[Notice]:
    if facts.state.feed is not None:
        yield Notice("fed", "Glasses on, parts may be hot; no iron, no solvent.")


def _wet(facts: Facts) -> Iterator[Notice]:
    if is_wet(facts):
        yield Notice("solvent", "Cleaned: air it until it is dry, before any heat or power.")
