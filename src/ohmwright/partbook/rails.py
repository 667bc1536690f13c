"""Grounds, rails and their volts from the names that designers give nets. Common practice, no source."""

from __future__ import annotations

import re
from collections.abc import Mapping

GROUND = re.compile(r"^(?:/.*/)?(?:GND|GNDA|AGND|DGND|PGND|VSS|GROUND|0V|COM|GNDPWR|GNDREF)(?:[_A-Z0-9]{0,6})?$", re.I)
RAIL = re.compile(
    r"(?:^|[/_])(?:\+?\d+V\d*|\+?\d+[.,]\d+V|[+-]\d+(?:[.,]\d+)?V?|V(?:CC|DD|BUS|IN|SYS|BAT|BATT|OUT|PP|REF|CORE|IO|USB|EXT)\w*"
    r"|P\d+V\d+|VPWR|VMAIN|AVDD|DVDD|AVCC|LIPO|BATTERY|PWR_?IN|HV|3V3\w*|5V\w*|1V\d\w*|2V\d\w*)",
    re.I,
)
_WHOLE = re.compile(r"(?<![A-Z0-9])[+P]?(\d{1,2})V(\d{1,2})?(?![A-Z0-9])", re.I)
_POINT = re.compile(r"\+?(\d{1,2})[.,](\d{1,2})\s*V?", re.I)
_PLAIN = re.compile(r"^/?\+(\d{1,2})(?:V)?$", re.I)
MOST_VOLTS = 60.0


def is_ground(name: str) -> bool:
    """Whether a net's name says it is a ground."""
    return bool(GROUND.match(name.strip("/")))


def is_rail(name: str) -> bool:
    """Whether a net's name says it feeds parts."""
    return not is_ground(name) and bool(RAIL.search(name))


def volts_of(name: str) -> float | None:
    """Nominal volts in a net's name, or None.

    Examples
    --------
    >>> volts_of("+3V3"), volts_of("VCC_1.8V"), volts_of("+12V"), volts_of("VBUS"), volts_of("SDA")
    (3.3, 1.8, 12.0, 5.0, None)
    """
    for pattern in (_WHOLE, _POINT, _PLAIN):
        match = pattern.search(name)
        if match:
            decimals = (
                match[2] if pattern is not _PLAIN and match.lastindex and match.lastindex > 1 and match[2] else "0"
            )
            volts = float(f"{match[1]}.{decimals}")
            return volts if 0.4 <= volts <= MOST_VOLTS else None
    if re.search(r"(?:^|[/_])V?USB_?(?:VBUS|5V)?$|VBUS", name, re.I):
        return 5.0
    return None


def ground_of(pads: Mapping[str, int]) -> str | None:
    """The net that is ground: of those so named the one with most pads, else the one with most pads of all.

    Parameters
    ----------
    pads : mapping
        Net to its number of pads.
    """
    named = [net for net in pads if is_ground(net)]
    return max(named or pads, key=lambda net: (pads[net], net), default=None)
