"""Record where it got warm."""

from __future__ import annotations

from ohmwright.casebook.events import HeatRecorded
from ohmwright.circuit import Feed
from ohmwright.errors import DataError
from ohmwright.facts import Facts, HeatFinding, Quantity
from ohmwright.usecases.desk import CaseView, Desk, book_of, record, thought_through


def record_heat(
    desk: Desk,
    case: str,
    finding: HeatFinding,
    parts: tuple[str, ...],
    *,
    watts: float | None = None,
    method: str = "finger",
    expected: int | None = None,
) -> CaseView:
    """Record where it got warm; without `watts` they are taken from the supply's last volts and amps. [W]"""
    power = fed_watts(book_of(desk, case).facts) if watts is None else watts
    entry = HeatRecorded(finding, parts, power, method)
    return thought_through(desk, case, record(desk, case, entry, expected=expected))


def ended_feed(facts: Facts) -> Feed | None:
    """The feed that something was seen under, where it has ended and nothing was done to the board since."""
    last = facts.last_fed
    return last.feed if last is not None and facts.state.feed is None else None


def fed_watts(facts: Facts) -> float:
    """Volts times amperes as the supply last showed them, now or under the last feed if nothing was done since. [W]"""
    state = facts.last_fed
    shown = {r.quantity: r.value for r in facts.readings if r.state == state and r.value is not None}
    volts, amps = shown.get(Quantity.SUPPLY_VOLTS), shown.get(Quantity.SUPPLY_AMPS)
    if volts is None or amps is None:
        raise DataError(
            "How much power went in is not known.",
            why="what can be felt depends on volts times amps",
            hint="record supply volts and supply amps first, or give the watts",
        )
    return abs(volts * amps)
