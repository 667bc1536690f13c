"""Two pads with something on them, kind unknown: a weighted mixture of what it could be."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ohmwright.circuit import Element, Part, Spread
from ohmwright.devices.kind import FaultMode, Kind, resistive

USUAL_WEIGHTS = (("capacitor", 0.62), ("resistor", 0.24), ("ferrite", 0.10), ("diode", 0.04))
"""Share of each kind among unmarked two-pad parts of a computer board; estimate."""

NAME = "unknown-two-pads"


def could_be(part: Part) -> tuple[tuple[str, float], ...]:
    """Kinds the part could be with weights that sum to one."""
    weights = part.could_be or USUAL_WEIGHTS
    total = sum(weight for _, weight in weights)
    return tuple((kind, weight / total) for kind, weight in weights)


def taken_as(part: Part, kind: str) -> Part:
    """The part if it were of that kind. A diode is taken with its anode on the first pad."""
    pins = part.pins
    if kind in ("diode", "schottky", "tvs", "led"):
        pins = (replace(pins[0], role="anode"), replace(pins[1], role="cathode"))
    if kind == "resistor" and part.value is None:
        return replace(part, kind=kind, pins=pins, value=Spread(10e3, 2.3, "value not known"))
    return replace(part, kind=kind, pins=pins)


def _elements(part: Part) -> Iterator[Element]:
    """Unless told otherwise it blocks, as the commonest of its kinds does."""
    a, b = part.pins
    yield from resistive(part, "body", a, b, 1e9, 0.0)


def _modes(part: Part) -> Iterator[FaultMode]:
    from ohmwright.devices import KINDS

    for kind, weight in could_be(part):
        for mode in KINDS[kind].modes(taken_as(part, kind)):
            if mode.mode.value in ("short", "leak"):
                yield replace(mode, share=mode.share * weight)


KINDS = (Kind(NAME, "two pads, kind unknown", 0.7, "mixture of its kinds", _elements, _modes),)
