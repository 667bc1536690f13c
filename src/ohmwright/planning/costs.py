"""Minutes and risk of everything one can do at the bench. Estimates of common practice, no source."""

from __future__ import annotations

from ohmwright.circuit import Part

PROBE = 0.15
OHMS = 0.3
PAIR = 0.35
FEED = 0.8
FED_READING = 0.4
HEAT = 1.5
LOOK = 0.7
CURE = 6.0
TRY = 1.0
LOOSE = 0.5
REFIT = 0.6
UNMAPPED = 60.0
NOTHING = 20.0

TWO_PAD = 3.0
REMOVAL = {
    "coil": 5.0,
    "polymer": 5.0,
    "fuse": 3.0,
    "ferrite": 3.0,
    "diode": 4.0,
    "schottky": 4.0,
    "tvs": 4.0,
    "tvs-two-way": 4.0,
    "esd": 5.0,
    "fet-n": 7.0,
    "fet-p": 7.0,
    "load-switch": 9.0,
    "linear": 9.0,
    "ic": 14.0,
    "buck": 15.0,
    "charger": 20.0,
    "connector": 25.0,
    "crystal": 5.0,
}
LARGE = 40
BALL_GRID = 60.0


def removal_minutes(part: Part) -> float:
    """Minutes to take a part off, clean the pads and read what is left. [min]"""
    if len(part.pins) > LARGE:
        return BALL_GRID
    base = REMOVAL.get(part.kind, TWO_PAD)
    return base + max(0, len(part.pins) - 8) * 0.25


def removal_risk(part: Part) -> float:
    """Minutes lost on average to lifted pads and harmed neighbours, and to refitting a sound part. [min]"""
    return 0.1 + 0.35 * removal_minutes(part)
