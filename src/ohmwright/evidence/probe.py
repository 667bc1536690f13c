"""What a reading asks of the circuit: the source it applies, where it looks, and how the number is compared.

Numbers are compared on scales where their uncertainty is about even: ohms and amperes by their logarithm,
volts by an inverse hyperbolic sine, which is linear near zero and logarithmic far from it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import Board, BoardState, Feed
from ohmwright.facts import FED, LOOSE, Meter, Quantity, Reading
from ohmwright.solver import Port

Array = NDArray[np.float64]
DIODE_SCALE = 5e-3
"""Volts below which a diode reading is compared linearly. [V]"""
VOLTS_SCALE = 1e-3
OHMS_FLOOR = 0.05
AMPS_FLOOR = 1e-3
DIODE_KNEE = 100.0
"""Source resistance of a meter in diode mode near its compliance voltage. [Ω] estimate"""
SUPPLY_KNEE = 1e-3
RUNNING_VOLTS = 2.5
"""Above this regulators may start, and cold elements no longer say what the supply delivers. [V]"""

RANGE_TOP = 5.0
"""Top of a range in ohms as a multiple of its reference. [1] 2 to 6 by make; estimate"""
MOST_DECADES = 4
"""Ranges in ohms above the lowest. [1] common practice"""
COPPER = 0.02
"""Resistance of copper between pads of different parts: 40 squares of 35 µm, 1.72 µΩ cm through that; estimate. [Ω]"""


@dataclass(frozen=True, slots=True)
class Probe:
    """One quantity at two nets, with the source that goes with it.

    Parameters
    ----------
    quantity : Quantity
    red, black : str
        Nets.
    meter : Meter
    feed : Feed or None
        With nets in place of points.
    """

    quantity: Quantity
    red: str
    black: str
    meter: Meter
    feed: Feed | None = None
    copper: float = 0.0

    @property
    def ports(self) -> tuple[Port, ...]:
        """The source the circuit sees."""
        m = self.meter
        if self.feed is not None:
            f = self.feed
            return (Port(f.plus, f.minus, f.limit, f.volts, SUPPLY_KNEE + f.leads),)
        if self.quantity in (Quantity.DIODE, Quantity.PART_DIODE):
            return (Port(self.red, self.black, m.diode_current, m.diode_compliance, DIODE_KNEE),)
        return (Port(self.red, self.black, m.ohms_current, m.ohms_compliance, m.ohms_compliance / m.ohms_current),)

    @property
    def is_ohms(self) -> bool:
        """Whether the answer is a resistance."""
        return self.quantity in (Quantity.OHMS, Quantity.PART_OHMS)

    @property
    def is_diode(self) -> bool:
        """Whether the answer is a drop at the test current."""
        return self.quantity in (Quantity.DIODE, Quantity.PART_DIODE)

    def scaled(self, value: Array | float) -> Array:
        """A value on the scale of comparison."""
        v = np.asarray(value, dtype=float)
        if self.is_ohms:
            return np.asarray(np.log(np.maximum(v, 0.0) + OHMS_FLOOR))
        if self.quantity is Quantity.SUPPLY_AMPS:
            return np.asarray(np.log(np.maximum(v, 0.0) + AMPS_FLOOR))
        return np.asarray(np.arcsinh(v / self.scale))

    def unscaled(self, y: Array | float) -> Array:
        """The value in SI units."""
        v = np.asarray(y, dtype=float)
        if self.is_ohms:
            return np.asarray(np.maximum(np.exp(np.minimum(v, 40.0)) - OHMS_FLOOR, 0.0))
        if self.quantity is Quantity.SUPPLY_AMPS:
            return np.asarray(np.maximum(np.exp(np.minimum(v, 10.0)) - AMPS_FLOOR, 0.0))
        return np.asarray(np.sinh(np.clip(v, -20.0, 20.0)) * self.scale)

    def slope(self, value: Array | float) -> Array:
        """Derivative of the scale at a value."""
        v = np.asarray(value, dtype=float)
        if self.is_ohms:
            return np.asarray(1.0 / (np.maximum(v, 0.0) + OHMS_FLOOR))
        if self.quantity is Quantity.SUPPLY_AMPS:
            return np.asarray(1.0 / (np.maximum(v, 0.0) + AMPS_FLOOR))
        return np.asarray(1.0 / np.hypot(v, self.scale))

    @property
    def scale(self) -> float:
        """Volts below which volts are compared linearly: never finer than the display, or a coarse meter would seem to
        tell nothing from a little. [V]
        """
        if self.is_diode:
            return max(DIODE_SCALE, 2.0 * self.meter.diode_resolution)
        return max(VOLTS_SCALE, 2.0 * self.meter.volts_resolution)

    @property
    def overload(self) -> float:
        """Value above which the display says OL, on the scale of comparison; infinite where it never does."""
        if self.is_ohms:
            return float(self.scaled(self.meter.ohms_overload))
        if self.is_diode:
            return float(self.scaled(min(self.meter.diode_overload, 0.97 * self.meter.diode_compliance)))
        return math.inf

    @property
    def width(self) -> float:
        """Length of the scale that readings of this kind span, for what a stray reading may be."""
        return 20.0 if self.is_ohms else 6.5 if self.is_diode else 10.0

    def noise(self, value: float) -> float:
        """Standard deviation of a reading on the scale of comparison, the model's own error included."""
        m = self.meter
        if self.is_ohms:
            contact = 0.01 if m.four_wire else 0.08
            absolute = math.hypot(0.6 * m.ohms_resolution, m.accuracy * value, contact, 0.02 * value)
        elif self.is_diode:
            absolute = math.hypot(0.6 * m.diode_resolution, m.accuracy * value, 0.002, 0.012 * value)
        elif self.quantity is Quantity.SUPPLY_AMPS:
            absolute = math.hypot(0.002, 0.015 * value)
        elif self.quantity is Quantity.SUPPLY_VOLTS:
            absolute = math.hypot(0.006, 0.01 * value)
        else:
            # makers allow two digits and more besides the share of the reading; near zero those are all there is
            dropped = self.copper * self.feed.limit if self.feed is not None else 0.0
            absolute = math.hypot(1.2 * m.volts_resolution, 2e-5, (m.accuracy + 0.01) * abs(value), dropped)
        own = absolute * float(self.slope(value))
        return math.hypot(own, 1.5) if self._may_run else own

    @property
    def _may_run(self) -> bool:
        return self.feed is not None and self.feed.volts > RUNNING_VOLTS


def probe_of(board: Board, reading: Reading) -> Probe:
    """What a reading asks.

    Raises
    ------
    UnknownNameError
        If it names a point that is not on the board.
    """
    return Probe(
        reading.quantity,
        board.net_at(reading.red),
        board.net_at(reading.black),
        _ranged(reading),
        _at_nets(board, reading.state.feed) if reading.quantity in FED else None,
        _copper(board, reading) if reading.quantity is Quantity.VOLTS else 0.0,
    )


def _ranged(reading: Reading) -> Meter:
    """The meter as it stood in the range that it showed a resistance in.

    Meters compare what they measure with a reference resistor of the range, and go up a decade until it is shown: what
    is megohms sees microamperes, and a junction there reads many times what it reads in the lowest range.
    """
    meter = reading.meter
    if reading.quantity not in (Quantity.OHMS, Quantity.PART_OHMS) or meter.four_wire:
        return meter
    first = meter.ohms_compliance / meter.ohms_current
    shown = meter.ohms_overload if reading.value is None else reading.value
    decades = math.ceil(math.log10(max(shown / (RANGE_TOP * first), 1.0)))
    return replace(meter, ohms_current=meter.ohms_current / 10.0 ** min(decades, MOST_DECADES)) if decades else meter


def _copper(board: Board, reading: Reading) -> float:
    """What copper may add between the points of a reading: nothing between the pads of one part."""
    pads = [point for point in (reading.red, reading.black) if point not in board.net_by_name]
    parts = {point.rpartition(".")[0] for point in pads}
    return 0.0 if len(pads) < 2 or len(parts) < 2 else COPPER


def _at_nets(board: Board, feed: Feed | None) -> Feed | None:
    if feed is None:
        return None
    return Feed(board.net_at(feed.plus), board.net_at(feed.minus), feed.volts, feed.limit, feed.leads)


def electrical_state(state: BoardState, quantity: Quantity) -> BoardState:
    """What of a board state the circuit itself feels."""
    if quantity in LOOSE:
        return BoardState()
    return BoardState(
        off=state.off,
        lifted=state.lifted,
        bridges=state.bridges,
        feed=state.feed,
        switched_on=state.switched_on,
    )
