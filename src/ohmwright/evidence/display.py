"""What a meter or a supply shows of the volts and amperes at its points, and how that leans on its own errors."""

from __future__ import annotations

import numpy as np

from ohmwright.evidence.probe import Array, Probe
from ohmwright.facts import Quantity


def shown(probe: Probe, volts: Array, current: Array, leads: Array | None) -> tuple[Array, Array, Array, Array]:
    """The number shown; its derivatives by the volts, by the lead unknown, and the current's by its logarithm."""
    lead = 0.0 if leads is None else leads
    zero = np.zeros_like(volts)
    if probe.is_ohms:
        m = probe.meter
        current = np.maximum(current, 1e-15)
        fixed = 0.0 if m.nulled or m.four_wire else m.lead_resistance
        by = 1.0 / current * (1.0 + np.where(current < 0.999 * m.ohms_current, volts / (current * _knee(m)), 0.0))
        shown = np.maximum(volts, 0.0) / current + fixed + lead
        return shown, by, np.ones_like(volts) if not m.four_wire else zero, zero
    if probe.is_diode:
        return volts + current * (probe.meter.lead_resistance + lead), np.ones_like(volts), current, current
    feed = probe.feed
    if feed is None or probe.quantity is Quantity.VOLTS:
        return volts, np.ones_like(volts), zero, zero
    limited = current > 0.999 * feed.limit
    if probe.quantity is Quantity.SUPPLY_AMPS:
        return current, np.where(limited, 0.0, -1.0 / (feed.leads + 1e-3)), zero, zero
    shown = volts + current * feed.leads
    return shown, np.where(limited, 1.0, 1e-3 / (feed.leads + 1e-3)), zero, zero


def _knee(meter) -> float:  # type: ignore[no-untyped-def]  # a Meter
    return float(meter.ohms_compliance / meter.ohms_current)
