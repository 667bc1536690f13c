"""Step-up converters with their switches inside: boost and buck-boost.

What differs from a buck: the coil stands between the input and the switch node, so a shorted lower switch
pulls the input down through the coil, and the output is fed from the input through coil and upper switch
whether the chip runs or not.
"""

from __future__ import annotations

from collections.abc import Iterator

from ohmwright.circuit import Element, Part
from ohmwright.devices.integrated import pin_modes, substrate
from ohmwright.devices.kind import FaultMode, Kind, junction, pair, resistive, shorted

LOW, HIGH = 0.43, 0.45
"""Body diodes of a lower and an upper switch at 1 mA. [V] common practice, no source"""


def _leg(part: Part, switch: str, rail: str) -> Iterator[Element]:
    """A half bridge, off: both body diodes, and what leaks past them."""
    for ground, sw in pair(part, "GND", switch):
        yield from junction(part, f"{switch} low side body diode", ground, sw, LOW, 0.04, 1.15)
        yield from resistive(part, f"{switch} low side, off", ground, sw, 1e6, 1.0)
    for sw, out in pair(part, switch, rail):
        yield from junction(part, f"{switch} high side body diode", sw, out, HIGH, 0.04, 1.15)
        yield from resistive(part, f"{switch} high side, off", sw, out, 1e7, 1.0)


def _boost(part: Part) -> Iterator[Element]:
    """Without a pin for the output it is the kind whose rectifier stands outside."""
    yield from substrate(part, loads=("VIN", "VCC"), skip=("SW",))
    yield from _leg(part, "SW", "OUT")


def _boost_modes(part: Part) -> Iterator[FaultMode]:
    yield from shorted(part, "SW", "GND", "low side", 0.42)
    yield from shorted(part, "SW", "OUT", "high side", 0.20)
    yield from pin_modes(part, "VIN", 0.14)
    yield from pin_modes(part, "OUT", 0.08)
    yield from pin_modes(part, "VCC", 0.06)
    yield from pin_modes(part, "EN", 0.03)
    yield from pin_modes(part, "FB", 0.03)


def _buck_boost(part: Part) -> Iterator[Element]:
    yield from substrate(part, loads=("VIN", "OUT", "VCC"), skip=("SW1", "SW2"))
    yield from _leg(part, "SW1", "VIN")
    yield from _leg(part, "SW2", "OUT")


def _buck_boost_modes(part: Part) -> Iterator[FaultMode]:
    yield from shorted(part, "SW1", "GND", "input side, low", 0.18)
    yield from shorted(part, "VIN", "SW1", "input side, high", 0.18)
    yield from shorted(part, "SW2", "GND", "output side, low", 0.18)
    yield from shorted(part, "SW2", "OUT", "output side, high", 0.14)
    yield from pin_modes(part, "VIN", 0.10)
    yield from pin_modes(part, "OUT", 0.08)
    yield from pin_modes(part, "VCC", 0.08)
    yield from pin_modes(part, "FB", 0.03)


_SOURCE = "as for the buck: estimate after the shares of dead-board causes in common practice"
KINDS = (
    Kind(
        "boost",
        "boost regulator with its FETs inside",
        3.0,
        _SOURCE,
        _boost,
        _boost_modes,
        roles=("VIN", "SW", "OUT", "GND", "VCC", "EN", "FB", "PG", "IO"),
    ),
    Kind(
        "buck-boost",
        "buck-boost regulator with its FETs inside",
        4.0,
        _SOURCE,
        _buck_boost,
        _buck_boost_modes,
        roles=("VIN", "SW1", "SW2", "OUT", "GND", "VCC", "BOOT", "EN", "FB", "PG", "IO"),
    ),
)
