"""Grounds, rails and their volts from the names that designers give nets. Common practice, no source."""

from __future__ import annotations

import re
from collections.abc import Mapping

GROUND = re.compile(
    r"^(?:.*/)?(?:(?:GND|GNDA|AGND|DGND|PGND|VSS|GROUND|GNDPWR|GNDREF)[_A-Z0-9]{0,6}|0V|COM)$", re.I
)
"""0V and COM stand alone: 0V9 is a rail and COMP a signal."""
RAIL = re.compile(
    r"(?:^|[/_])(?:\+?\d+V\d*|\+?\d+[.,]\d+V|[+-]\d+(?:[.,]\d+)?V?|V(?:CC|DD|BUS|IN|SYS|BAT|BATT|OUT|PP|REF|CORE|IO|USB|EXT)\w*"
    r"|P\d+V\d+|VPWR|VMAIN|AVDD|DVDD|AVCC|LIPO|BATTERY|PWR_?IN|HV|3V3\w*|5V\w*|1V\d\w*|2V\d\w*|USB_?5V|V\d+[P.,]\d+)",
    re.I,
)
NOT_RAIL = re.compile(
    r"(?:^|[/_\-])(?:EN|ENABLE|PG|PGOOD|POK|OK|FB|DET|DETECT|SENSE|SNS|MON|ADC|CTRL|ON|OFF|FAULT|FLT|OC|LED|SEL|INT|RST|STAT|GATE)(?:[_\-\d]|$)"
    r"|SENSE-ERROR|VREF",
    re.I,
)
"""Names of enables, senses and the like that carry a supply's name too."""
_VOLTS = re.compile(r"(?<![\d.,])([+-]?)(\d{1,3})(?:[.,](\d{1,2}))?V(\d{1,2})?(?!\d)", re.I)
_OTHER = re.compile(r"(?<![A-Z\d])V(\d{1,2})P(\d{1,2})(?!\d)|(?<![A-Z\d])V(\d{1,2})[.,](\d{1,2})(?!\d)", re.I)
_PLAIN = re.compile(r"(?:^|[/_])([+-])(\d{1,2})(?:[.,](\d{1,2}))?(?![\dV.,])", re.I)
MOST_VOLTS = 60.0


def is_ground(name: str) -> bool:
    """Whether a net's name says it is a ground."""
    return bool(GROUND.match(name.strip("/")))


def is_rail(name: str) -> bool:
    """Whether a net's name says it feeds parts."""
    if is_ground(name) or name.startswith("Net-(") or NOT_RAIL.search(name):
        return False
    return bool(RAIL.search(name))


def volts_of(name: str) -> float | None:
    """Nominal volts in a net's name; None where it tells none, two, or volts below ground. [V]

    The engine's rails all lie above ground: a feed for -12 V must never be taken for one of +12 V.

    Examples
    --------
    >>> volts_of("+3V3"), volts_of("VCC_1.8V"), volts_of("+12V"), volts_of("VBUS"), volts_of("-12V")
    (3.3, 1.8, 12.0, 5.0, None)
    """
    told = {volts for volts in _readings(name) if 0.4 <= abs(volts) <= MOST_VOLTS}
    if len(told) == 1:
        volts = told.pop()
        return volts if volts > 0.0 else None
    if told:
        return None
    if re.search(r"(?:^|[/_])V?USB_?(?:VBUS|5V)?$|VBUS", name, re.I):
        return 5.0
    return None


def _readings(name: str) -> list[float]:
    found = [
        float(f"{sign.replace('+', '')}{whole}.{point or tail or '0'}")
        for sign, whole, point, tail in _VOLTS.findall(name)
        if not (point and tail)
    ]
    found += [float(f"{a or c}.{b or d}") for a, b, c, d in _OTHER.findall(name)]
    return found or [float(f"{sign}{whole}.{point or '0'}") for sign, whole, point in _PLAIN.findall(name)]


def ground_of(pads: Mapping[str, int]) -> str | None:
    """The net that is ground: of those so named the one with most pads, else the one with most pads of all.

    Parameters
    ----------
    pads : mapping
        Net to its number of pads.
    """
    named = [net for net in pads if is_ground(net)]
    return max(named or pads, key=lambda net: (pads[net], net), default=None)
