"""A circuit as the simulators take it: resistances, junctions and current sources between named nodes."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

THERMAL = 300.15 * 1.380649e-23 / 1.602176634e-19
"""Volts of kT/q at 27 °C, the temperature the simulator works at unless told otherwise. [V]"""
LEAST_OHMS = 1e-5
LEAST_AMPS = 1e-22
"""Smallest saturation current written out. [A]"""


def saturation(drop: float, emission: float) -> float:
    """Saturation current of a junction with that drop at 1 mA. [V] to [A]"""
    return max(1e-3 / math.expm1(drop / (emission * THERMAL)), LEAST_AMPS)


@dataclass
class Network:
    """Nodes are any strings; `ground` is the reference.

    Attributes
    ----------
    resistances : list of (str, str, float)
    junctions : list of (str, str, float, float, float)
        Anode, cathode, saturation current [A], emission coefficient [1], series resistance [Ω].
    sources : list of (str, str, float)
        Current from the first node through the source into the second. [A]
    """

    ground: str
    resistances: list[tuple[str, str, float]] = field(default_factory=list)
    junctions: list[tuple[str, str, float, float, float]] = field(default_factory=list)
    sources: list[tuple[str, str, float]] = field(default_factory=list)

    def resist(self, a: str, b: str, ohms: float) -> None:
        """Put a resistance between two nodes, unless they are one."""
        if a != b:
            self.resistances.append((a, b, max(ohms, LEAST_OHMS)))

    def join(self, anode: str, cathode: str, drop: float, emission: float, series: float) -> None:
        """Put a junction of that drop at 1 mA between two nodes, unless they are one."""
        if anode != cathode:
            # The drop told is that of the whole junction, its series resistance included.
            own = max(drop - 1e-3 * series, 0.02)
            self.junctions.append((anode, cathode, saturation(own, emission), emission, series))

    def push(self, source: str, sink: str, amps: float) -> None:
        """Drive a current out of one node and into another."""
        if source != sink and amps != 0.0:
            self.sources.append((source, sink, amps))

    @property
    def nodes(self) -> tuple[str, ...]:
        """All nodes but ground, in order of first use."""
        pairs: Iterable[tuple[str, str]] = (
            pair for group in (self.resistances, self.junctions, self.sources) for pair in ((e[0], e[1]) for e in group)
        )
        return tuple(dict.fromkeys(node for pair in pairs for node in pair if node != self.ground))
