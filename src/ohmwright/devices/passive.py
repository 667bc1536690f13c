"""Parts with two terminals and no junction: capacitor, resistor, and everything wound or fusible.

Failure shares are those of MIL-HDBK-338B (1 Oct 1998) as a public reliability program quotes them;
other handbooks differ by a factor of two, so the weights are weak and the user's own jobs may replace
them. Rates are estimates for dead computer boards, not handbook values.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations

from ohmwright.circuit import Element, Part, Spread
from ohmwright.devices.kind import FaultMode, Kind, Mode, resistive

INSULATION = 1e9
"""Leakage resistance of a sound ceramic capacitor, a conservative figure. [Ω] common practice, no source"""


def _capacitor(part: Part) -> Iterator[Element]:
    a, b = part.pins
    leakage = part.parameter("insulation", Spread(INSULATION, 0.0))
    yield from resistive(part, "insulation", a, b, leakage.median, leakage.log_sd)


def _capacitor_modes(part: Part) -> Iterator[FaultMode]:
    a, b = (pin.number for pin in part.pins)
    yield FaultMode(Mode.SHORT, (a, b), "body", 0.49)
    yield FaultMode(Mode.LEAK, (a, b), "body", 0.20)


def _between_all(label: str, default: Spread, parameter: str) -> Callable[[Part], Iterator[Element]]:
    def elements(part: Part) -> Iterator[Element]:
        value = part.parameter(parameter, default)
        for number, (a, b) in enumerate(_legs(part)):
            name = label if number == 0 else f"{label} {number + 1}"
            yield from resistive(part, name, a, b, value.median, value.log_sd)

    return elements


def _legs(part: Part) -> list[tuple]:  # type: ignore[type-arg]  # pairs of Pin; the shape depends on the pin count
    """The pairs a wound or resistive part joins: pins 1-2, 3-4 and so on; of three pins all to the first."""
    pins = part.pins
    if len(pins) == 3:
        return [(pins[0], pins[1]), (pins[0], pins[2])]
    return [(pins[i], pins[i + 1]) for i in range(0, len(pins) - 1, 2)]


def _resistor(part: Part) -> Iterator[Element]:
    unknown = Spread(0.01, 0.7, "1 to 50 mΩ") if part.kind == "sense" else Spread(10e3, 2.3, "100 Ω to 1 MΩ")
    value = part.value or unknown
    for number, (a, b) in enumerate(_legs(part)):
        name = "body" if number == 0 else f"body {number + 1}"
        yield from resistive(part, name, a, b, value.median, value.log_sd)


def _modes_of_legs(open_share: float, drift_share: float, short_share: float, label: str):  # type: ignore[no-untyped-def]  # returns a closure over three floats
    def modes(part: Part) -> Iterator[FaultMode]:
        for number, (a, b) in enumerate(_legs(part)):
            name = label if number == 0 else f"{label} {number + 1}"
            yield FaultMode(Mode.OPEN, (a.number, b.number), name, open_share)
            if drift_share:
                yield FaultMode(Mode.DRIFT, (a.number, b.number), name, drift_share)
            if short_share:
                yield FaultMode(Mode.SHORT, (a.number, b.number), name, short_share)

    return modes


def _nothing(part: Part) -> Iterator[Element]:
    yield from ()


def _connector_modes(part: Part) -> Iterator[FaultMode]:
    """Neighbouring pins on different nets joined by dirt, solder or a bent contact."""
    seen = set()
    for a, b in zip(part.pins, part.pins[1:], strict=False):
        if a.net is None or b.net is None or a.net == b.net:
            continue
        if frozenset((a.net, b.net)) in seen:
            continue
        seen.add(frozenset((a.net, b.net)))
        yield FaultMode(Mode.SHORT, (a.number, b.number), "neighbouring contacts", 0.16, True)
        yield FaultMode(Mode.LEAK, (a.number, b.number), "neighbouring contacts", 0.23, True)


def _crystal(part: Part) -> Iterator[Element]:
    for a, b in combinations(part.pins, 2):
        yield from resistive(part, f"{a.number}-{b.number}", a, b, 1e9, 0.0)


def _crystal_modes(part: Part) -> Iterator[FaultMode]:
    a, b = part.pins[0], part.pins[-1]
    yield FaultMode(Mode.LEAK, (a.number, b.number), "legs", 0.11, True)


_WOUND = "common practice: open joints and cracked cores before turns that short; no source"
KINDS = (
    Kind("capacitor", "capacitor", 1.0, "unit of the scale", _capacitor, _capacitor_modes),
    Kind("polymer", "polymer or tantalum capacitor", 0.8, "estimate", _capacitor, _capacitor_modes),
    Kind("resistor", "resistor", 0.12, "estimate", _resistor, _modes_of_legs(0.59, 0.25, 0.02, "body")),
    Kind("sense", "sense resistor", 0.3, "estimate", _resistor, _modes_of_legs(0.45, 0.5, 0.0, "body")),
    Kind(
        "coil",
        "coil",
        0.5,
        _WOUND,
        _between_all("winding", Spread(0.012, 0.9, "1 to 30 mΩ, common practice"), "winding"),
        _modes_of_legs(0.6, 0.05, 0.0, "winding"),
    ),
    Kind(
        "ferrite",
        "ferrite bead",
        0.3,
        "estimate",
        _between_all("body", Spread(0.04, 0.7, "estimate"), "body"),
        _modes_of_legs(0.8, 0.05, 0.0, "body"),
    ),
    Kind(
        "fuse",
        "fuse",
        0.8,
        "a fuse that opened is mostly a witness; estimate",
        _between_all("element", Spread(0.03, 0.8, "estimate"), "element"),
        _modes_of_legs(0.95, 0.05, 0.0, "element"),
    ),
    Kind(
        "link",
        "link",
        0.05,
        "estimate",
        _between_all("body", Spread(0.008, 0.9, "makers promise 50 mΩ at most, common practice"), "body"),
        _modes_of_legs(0.9, 0.0, 0.0, "body"),
    ),
    Kind("connector", "connector", 1.2, "estimate", _nothing, _connector_modes),
    Kind("crystal", "crystal", 0.15, "estimate", _crystal, _crystal_modes),
    Kind("mechanical", "mechanical part", 0.0, "no pins that matter", _nothing, lambda part: iter(())),
)
