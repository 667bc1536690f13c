"""Record where it got warm."""

from __future__ import annotations

from ohmwright.casebook.events import HeatRecorded
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


def fed_watts(facts: Facts) -> float:
    """Volts times amperes as the supply last showed them in the present state. [W]"""
    shown = {r.quantity: r.value for r in facts.readings if r.state == facts.state and r.value is not None}
    volts, amps = shown.get(Quantity.SUPPLY_VOLTS), shown.get(Quantity.SUPPLY_AMPS)
    if volts is None or amps is None:
        raise DataError(
            "How much power went in is not known.",
            why="what can be felt depends on volts times amps",
            hint="record supply volts and supply amps first, or give the watts",
        )
    return abs(volts * amps)
