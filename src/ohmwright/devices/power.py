"""How power goes through a part while the board is up, as its kind and the roles of its pins tell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import StrEnum

from ohmwright.circuit import Part
from ohmwright.devices.kind import pair


class Flow(StrEnum):
    """What the volts at a sink owe to those at the source."""

    PASSES = "passes"
    """The same while it is on."""
    STEPS_DOWN = "steps down"
    """No more than at the source."""
    RECTIFIES = "rectifies"
    """One drop of a diode less, or more than that from elsewhere."""


_FLOWS: Mapping[str, tuple[tuple[Flow, str, str], ...]] = {
    "fet-n": ((Flow.PASSES, "drain", "source"),),
    "fet-p": ((Flow.PASSES, "drain", "source"),),
    "load-switch": ((Flow.PASSES, "IN", "OUT"),),
    "linear": ((Flow.STEPS_DOWN, "IN", "OUT"),),
    "buck": ((Flow.STEPS_DOWN, "VIN", "SW"),),
    "diode": ((Flow.RECTIFIES, "anode", "cathode"),),
    "schottky": ((Flow.RECTIFIES, "anode", "cathode"),),
}
"""By kind: what it does, from the pins of which role to those of which. The switch pin of a step-down converter has, on
the average, what stands behind its coil."""


def flows(part: Part) -> Iterator[tuple[Flow, str, str]]:
    """What a part does with power, from which net to which."""
    for flow, source, sink in _FLOWS.get(part.kind, ()):
        for a, b in pair(part, source, sink):
            if a.net is not None and b.net is not None:
                yield flow, a.net, b.net
