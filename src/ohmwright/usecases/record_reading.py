"""Take down a reading."""

from __future__ import annotations

from ohmwright.casebook.events import ReadingRecorded
from ohmwright.errors import UnknownNameError
from ohmwright.facts import Meter, Quantity
from ohmwright.planning.advice import Advice
from ohmwright.usecases.desk import CaseView, Desk, book_of, record, thought_through
from ohmwright.usecases.entry_scale import entered_value
from ohmwright.usecases.one_key import OneKey, one_key_reading

KEYS = {"z": OneKey.NEAR_ZERO, "e": OneKey.AS_EXPECTED, "o": OneKey.OVERLOAD, "s": OneKey.SAME}
"""One key for each outcome that needs no figures."""


def record_reading(
    desk: Desk,
    case: str,
    quantity: str,
    red: str,
    black: str,
    value: str | float | None,
    *,
    meter: Meter | None = None,
    expected: int | None = None,
) -> CaseView:
    """Record a reading given as figures, as text (``0.425``, ``4k7``, ``OL``) or with one key.

    Parameters
    ----------
    value : str, float or None
        In the SI unit of the quantity; None is an overload.
    """
    entry = reading_entry(desk, case, quantity, red, black, value, meter=meter)
    return thought_through(desk, case, record(desk, case, entry, expected=expected))


def reading_entry(
    desk: Desk, case: str, quantity: str, red: str, black: str, value: str | float | None, *, meter: Meter | None = None
) -> ReadingRecorded:
    """The entry for a reading, not yet written. The value is in the SI unit of the quantity."""
    wanted, used = parse_quantity_name(quantity), meter or desk.meter
    outcome = _outcome(value) if isinstance(value, str) else None
    if outcome is OneKey.AS_EXPECTED:
        view = thought_through(desk, case, book_of(desk, case))
        return one_key_reading(outcome, wanted, red, black, used, view.facts, view.advice)
    if outcome is not None:
        from_facts = book_of(desk, case).facts
        return one_key_reading(outcome, wanted, red, black, used, from_facts, Advice(()))
    if isinstance(value, str):
        return ReadingRecorded(wanted, red, black, entered_value(value, wanted, used).value, used, value.strip())
    return ReadingRecorded(wanted, red, black, value, used, "figures")


def parse_quantity_name(text: str) -> Quantity:
    """The quantity of that name."""
    known = {quantity.value: quantity for quantity in Quantity}
    if text not in known:
        raise UnknownNameError.among("quantity", text, known)
    return known[text]


def _outcome(text: str) -> OneKey | None:
    bare = text.strip()
    return KEYS.get(bare) or next((o for o in OneKey if o.value.lower() == bare.lower()), None)
