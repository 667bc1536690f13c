"""A board as a list of its pins and nets, as netlist files give it; where the pads lie, if the file says so."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from ohmwright.geometry import Pad


@dataclass(frozen=True, slots=True)
class ListedPart:
    """A part as a netlist file names it."""

    name: str
    value: str = ""
    footprint: str = ""


@dataclass(frozen=True, slots=True)
class ListedPin:
    """One pin and the net it is on; None where it is joined to nothing."""

    part: str
    pin: str
    net: str | None
    name: str = ""
    kind: str = ""

    @property
    def point(self) -> str:
        """As ``PART.PIN``."""
        return f"{self.part}.{self.pin}"


@dataclass(frozen=True)
class Netlist:
    """What a file says of parts, pins and nets.

    Parameters
    ----------
    pads : tuple of Pad
        In the file's own millimetres, y down; empty where it gives no places.
    outline : tuple of (float, float)
        Corners of the board's edge in the same frame. [mm]
    vias : int
        Places of a net that are no pin. [1]
    notes : tuple of str
        What was passed over, and why.
    """

    name: str
    parts: tuple[ListedPart, ...]
    pins: tuple[ListedPin, ...]
    pads: tuple[Pad, ...] = ()
    outline: tuple[tuple[float, float], ...] = ()
    vias: int = 0
    notes: tuple[str, ...] = ()

    @cached_property
    def net_of(self) -> Mapping[str, str | None]:
        """The net of each pin, by ``PART.PIN``."""
        return {pin.point: pin.net for pin in self.pins}

    @cached_property
    def nets(self) -> tuple[str, ...]:
        """Names of the nets, each once, sorted."""
        return tuple(sorted({pin.net for pin in self.pins if pin.net is not None}))
