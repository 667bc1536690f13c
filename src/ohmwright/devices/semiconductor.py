"""Junction parts on their own: diodes, clamps and single FETs.

Drops at 1 mA are common practice (no source): power FET body diodes 0.40-0.60 V, silicon junctions
0.45-0.70 V, Schottky 0.15-0.30 V. Failure shares after MIL-HDBK-338B as quoted by a public program.
"""

from __future__ import annotations

from collections.abc import Iterator

from ohmwright.circuit import Element, Part, Spread
from ohmwright.devices.kind import FaultMode, Kind, Mode, PassPath, junction, pair, resistive, shorted

BLOCKED = 1e8
"""Resistance of a junction that blocks. [Ω] estimate"""


def _diode_of(drop: float, spread: float, emission: float):  # type: ignore[no-untyped-def]  # returns a closure over three floats
    def elements(part: Part) -> Iterator[Element]:
        forward = part.parameter("forward", Spread(drop, spread))
        for a, k in pair(part, "anode", "cathode"):
            yield from junction(part, f"junction {a.number}-{k.number}", a, k, forward.median, forward.log_sd, emission)
            yield from resistive(part, f"blocked {a.number}-{k.number}", a, k, BLOCKED, 0.0)

    return elements


def _diode_modes(part: Part) -> Iterator[FaultMode]:
    yield from shorted(part, "anode", "cathode", "junction", 0.6)
    for a, k in pair(part, "anode", "cathode"):
        yield FaultMode(Mode.OPEN, (a.number, k.number), f"junction {a.number}-{k.number}", 0.3)


def _two_way(part: Part) -> Iterator[Element]:
    a, b = part.pins[0], part.pins[-1]
    yield from resistive(part, "body", a, b, BLOCKED, 0.0)


def _two_way_modes(part: Part) -> Iterator[FaultMode]:
    a, b = part.pins[0].number, part.pins[-1].number
    yield FaultMode(Mode.SHORT, (a, b), "body", 0.65)
    yield FaultMode(Mode.LEAK, (a, b), "body", 0.2)


def _esd(part: Part) -> Iterator[Element]:
    for ground, line in pair(part, "GND", "line"):
        yield from junction(part, f"clamp {line.number}", ground, line, 0.62, 0.07)


def _esd_modes(part: Part) -> Iterator[FaultMode]:
    lines = list(pair(part, "GND", "line"))
    for ground, line in lines:
        yield FaultMode(Mode.SHORT, (line.number, ground.number), f"clamp {line.number}", 0.65 / len(lines))
        yield FaultMode(Mode.LEAK, (line.number, ground.number), f"clamp {line.number}", 0.25 / len(lines))


def _fet(first: str, second: str):  # type: ignore[no-untyped-def]  # returns a closure over two roles
    def elements(part: Part) -> Iterator[Element]:
        body = part.parameter("body_diode", Spread(0.48, 0.05))
        for anode, cathode in pair(part, first, second):
            yield from junction(part, "body diode", anode, cathode, body.median, body.log_sd, 1.15)
            yield from resistive(part, "channel, off", anode, cathode, 1e7, 1.0)
        for g, s in pair(part, "gate", "source"):
            yield from resistive(part, "gate insulation", g, s, 1e9, 0.0)

    return elements


def _fet_modes(part: Part) -> Iterator[FaultMode]:
    yield from shorted(part, "drain", "source", "drain to source", 0.51)
    yield from shorted(part, "gate", "source", "gate to source", 0.15)
    yield from shorted(part, "gate", "drain", "gate to drain", 0.10)


def _fet_n_passes(part: Part) -> Iterator[PassPath]:
    yield from _fet_passes(part)


def _fet_passes(part: Part) -> Iterator[PassPath]:
    """A FET placed in series with power conducts once its source side is fed, if it is meant to.

    ``passes_from`` in the part's source text is not needed: a FET with neither end on ground is taken
    for a pass device when the part says so by its `passes` parameter (volts it needs).
    """
    needs = dict(part.parameters).get("passes")
    if needs is not None:
        for d, s in pair(part, "drain", "source"):
            on = part.parameter("on_resistance", Spread(0.012, 0.5)).median
            yield PassPath(d.number, s.number, on, needs.median)


_TVS = "two sources put 'short' first, one at about 65 %; estimate of rate"
KINDS = (
    Kind(
        "diode",
        "diode",
        0.6,
        "estimate",
        _diode_of(0.56, 0.06, 1.5),
        _diode_modes,
        roles=("anode", "cathode"),
    ),
    Kind(
        "schottky",
        "Schottky diode",
        0.8,
        "estimate",
        _diode_of(0.21, 0.03, 1.05),
        _diode_modes,
        roles=("anode", "cathode"),
    ),
    Kind("led", "LED", 0.1, "estimate", _diode_of(1.75, 0.15, 2.0), _diode_modes, roles=("anode", "cathode")),
    Kind("tvs", "TVS, one-way", 1.5, _TVS, _diode_of(0.62, 0.07, 1.3), _diode_modes, roles=("anode", "cathode")),
    Kind("tvs-two-way", "TVS, two-way", 1.5, _TVS, _two_way, _two_way_modes),
    Kind("esd", "ESD array", 0.6, "estimate", _esd, _esd_modes, roles=("GND", "line")),
    Kind(
        "fet-n",
        "N-channel FET",
        2.5,
        "estimate",
        _fet("source", "drain"),
        _fet_modes,
        _fet_n_passes,
        roles=("gate", "source", "drain"),
    ),
    Kind(
        "fet-p",
        "P-channel FET",
        2.5,
        "estimate",
        _fet("drain", "source"),
        _fet_modes,
        _fet_passes,
        roles=("gate", "source", "drain"),
    ),
)
