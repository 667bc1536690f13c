"""An outcome given with one key instead of a number, made into an honest reading.

"Near zero" and "as expected" say less than figures do, so the reading gets a coarser meter: the engine
then does not take it for more than it is.
"""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum

from ohmwright.casebook.events import ReadingRecorded
from ohmwright.errors import ReadingError
from ohmwright.facts import Facts, Meter, Quantity
from ohmwright.planning.advice import Advice, Hump

HEALTHY = ("none", "healthy")
"""Keys under which the engine says what a healthy board would show."""


class OneKey(StrEnum):
    """What one key can say of a reading."""

    NEAR_ZERO = "near zero"
    AS_EXPECTED = "as expected"
    OVERLOAD = "OL"
    SAME = "same as before"


def one_key_reading(
    outcome: OneKey, quantity: Quantity, red: str, black: str, meter: Meter, facts: Facts, advice: Advice
) -> ReadingRecorded:
    """The reading that an outcome stands for, with the outcome itself on record."""
    if outcome is OneKey.OVERLOAD:
        return ReadingRecorded(quantity, red, black, None, meter, outcome.value)
    if outcome is OneKey.SAME:
        same = [r for r in facts.readings if (r.quantity, r.red, r.black) == (quantity, red, black)]
        if not same:
            raise ReadingError(
                f"Nothing was read before in {quantity.value} from {red} to {black}.",
                hint="type the figures as the meter shows them",
            )
        return ReadingRecorded(quantity, red, black, same[-1].value, same[-1].meter, outcome.value)
    if outcome is OneKey.NEAR_ZERO:
        coarse = _coarser(meter, quantity, 1.0 if quantity in (Quantity.OHMS, Quantity.PART_OHMS) else 0.005)
        return ReadingRecorded(quantity, red, black, 0.0, coarse, outcome.value)
    hump = expected_when_healthy(advice, quantity, red, black)
    if hump.overload > 0.5:
        return ReadingRecorded(quantity, red, black, None, meter, outcome.value)
    middle, half = (hump.low + hump.high) / 2, (hump.high - hump.low) / 2
    return ReadingRecorded(quantity, red, black, middle, _coarser(meter, quantity, half), outcome.value)


def expected_when_healthy(advice: Advice, quantity: Quantity, red: str, black: str) -> Hump:
    """What an advised test expects of a healthy board at those points."""
    for test in advice.tests:
        if any((s.act, s.quantity, s.red, s.black) == ("read", quantity.value, red, black) for s in test.steps):
            for hump in test.humps:
                if hump.key.split(":")[0] in HEALTHY or "healthy" in hump.words.lower():
                    return hump
    raise ReadingError(
        f"No advised test says what to expect in {quantity.value} from {red} to {black}.",
        hint="type the figures as the meter shows them",
    )


def _coarser(meter: Meter, quantity: Quantity, step: float) -> Meter:
    """The meter with a display no finer than `step`, in the unit of the quantity."""
    if quantity in (Quantity.OHMS, Quantity.PART_OHMS):
        return replace(meter, ohms_resolution=max(meter.ohms_resolution, step))
    if quantity in (Quantity.DIODE, Quantity.PART_DIODE):
        return replace(meter, diode_resolution=max(meter.diode_resolution, step))
    return replace(meter, volts_resolution=max(meter.volts_resolution, step))
