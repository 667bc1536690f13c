"""What a meter cannot see in the mode it stands in, worked out from what it applies and how well it tells.

A leak :math:`R` beside a junction takes :math:`V/R` of the test current :math:`I`, and the drop falls to the root of
:math:`I = V/R + I_0 (e^{V/nV_T} - 1)`. It can be seen if that is more than twice what the reading may be off by
and what sound junctions differ by. In ohms a leak is read itself, up to where the display says OL.
"""

from __future__ import annotations

import math

from ohmwright.evidence.probe import Probe
from ohmwright.facts import LOOSE, Meter, Quantity
from ohmwright.quantities import format_quantity

EMISSION = 1.8 * 0.02585
"""n V_T of the junctions of a chip's input clamps at 25 °C. [V] estimate for n"""
USUAL_DROP = 0.5
"""A junction's drop at 1 mA where nothing else is known. [V]"""
SPREAD = 0.012
"""How far sound junctions of one kind differ. [V] estimate; unknown to a first reading"""
MOST_LEAK = 1e8
SURE = 2.0
"""Standard deviations apart that count as seen (JCGM 100:2008, 6.2.1, coverage factor 2). [1]"""
FINE_OHMS = 0.2
"""Difference of low resistances that tells one shorted part from another. [Ω] estimate"""


def drop_with_leak(meter: Meter, drop: float, leak: float) -> float:
    """What diode mode shows over a junction of that drop with a leak beside it. [V], [Ω]"""
    from scipy.optimize import brentq  # only who asks what cannot be seen pays for loading it

    amps = meter.diode_current
    saturation = amps / math.expm1(drop / EMISSION)

    def balance(volts: float) -> float:
        return volts / leak + saturation * math.expm1(volts / EMISSION) - amps

    return float(brentq(balance, 0.0, max(drop, 1e-6) * 1.001))


def largest_leak_seen(meter: Meter, drop: float = USUAL_DROP) -> float:
    """The largest leak beside a junction that shows in diode mode. [V], [Ω]"""
    from scipy.optimize import brentq  # as above

    probe = Probe(Quantity.DIODE, "a", "b", meter)
    off = math.hypot(probe.noise(drop) / float(probe.slope(drop)), SPREAD)

    def seen(log_leak: float) -> float:
        return drop - drop_with_leak(meter, drop, math.exp(log_leak)) - SURE * off

    low, high = math.log(1.0), math.log(MOST_LEAK)
    if seen(low) <= 0.0:
        return 1.0
    return MOST_LEAK if seen(high) >= 0.0 else math.exp(float(brentq(seen, low, high)))


def blind_words(meter: Meter, quantity: Quantity, drop: float = USUAL_DROP) -> tuple[str, ...]:
    """What the meter cannot see at this step, in the words of the trade; nothing where it sees all that matters."""
    if quantity in (Quantity.DIODE, Quantity.PART_DIODE):
        return _diode_words(meter, drop, loose=quantity in LOOSE)
    if quantity in (Quantity.OHMS, Quantity.PART_OHMS):
        return _ohms_words(meter)
    return ()


def _diode_words(meter: Meter, drop: float, *, loose: bool) -> tuple[str, ...]:
    leak, top = largest_leak_seen(meter, drop), min(meter.diode_overload, 0.97 * meter.diode_compliance)
    step = meter.diode_resolution / meter.diode_current
    found = []
    if not loose:
        most = format_quantity(float(f"{leak:.2g}"), "Ω")
        found.append(f"This meter cannot see a leak above {most} in diode mode: use ohms.")
    if step > FINE_OHMS:
        found.append(
            f"Near zero its last figure is good to {format_quantity(step, 'Ω', 3)}: rank low resistances in ohms, "
            f"leads nulled."
        )
    if top < 1.8:
        found.append(f"It says OL above {format_quantity(top, 'V', 3)}: a row of two junctions or an LED looks open.")
    return tuple(found)


def _ohms_words(meter: Meter) -> tuple[str, ...]:
    found = []
    probe = Probe(Quantity.OHMS, "a", "b", meter)
    blur = SURE * probe.noise(0.3) / float(probe.slope(0.3))
    lead = 0.0 if meter.nulled or meter.four_wire else meter.lead_resistance
    if blur > FINE_OHMS or lead > FINE_OHMS:
        also = "" if not lead else f", and its leads add {format_quantity(lead, 'Ω', 3)}: null them"
        found.append(f"It cannot tell low resistances apart by less than {format_quantity(blur, 'Ω', 3)}{also}.")
    if meter.ohms_compliance > 0.45:
        found.append(
            f"It applies up to {format_quantity(meter.ohms_compliance, 'V', 3)} in ohms: junctions conduct and read as "
            f"resistances. Swap the probes; a leak reads the same both ways."
        )
    return tuple(found)
