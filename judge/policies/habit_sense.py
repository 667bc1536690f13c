"""What an experienced hand carries in the head: bands of rails, likely parts, what a bad part reads. Frozen.

Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from ohmwright.circuit import Board, Part

JOINING = ("coil", "ferrite", "fuse", "sense", "link")
"""Kinds across which a sound board reads next to nothing."""
POWER = ("buck", "charger", "linear", "load-switch")
BANDS = ((9.0, 250.0), (2.9, 60.0), (1.6, 25.0), (1.15, 9.0), (0.0, 0.8))
"""Rail volts from which on, and the ohms to ground below which such a rail is suspicious. [V], [Ω]"""
UNKNOWN_BAND = 15.0
CERTAIN = 0.3
"""Share of its band below which a rail is bad for certain, whatever chips load it. [1]"""
LARGE = 12
DEAD = 1.0
"""Ohms, leads included, that no sound chip reads. [Ω]"""
PRIOR: Mapping[str, float] = {
    "capacitor": 1.0, "polymer": 0.8, "tvs": 1.2, "tvs-two-way": 1.0, "esd": 0.5, "fet-n": 1.5, "fet-p": 1.5,
    "buck": 2.5, "charger": 2.5, "linear": 1.5, "load-switch": 1.5, "ic": 1.2, "diode": 0.7, "schottky": 1.0,
    "led": 0.2, "coil": 0.15, "ferrite": 0.4, "fuse": 0.8, "sense": 0.2, "link": 0.1, "resistor": 0.15,
    "crystal": 0.2, "connector": 0.3, "unknown-two-pads": 0.7,
}  # fmt: skip
LOOSE_BELOW: Mapping[str, float] = {
    "capacitor": 2e4, "polymer": 2e3, "tvs": 5e3, "tvs-two-way": 5e3, "esd": 5e3, "diode": 1e3, "schottky": 300.0,
    "fet-n": 3e3, "fet-p": 3e3, "led": 1e3, "crystal": 1e5, "unknown-two-pads": 300.0,
}  # fmt: skip
"""Ohms of a part by itself below which it is bad, where a sound one blocks. [Ω]"""


def suspicious_below(board: Board, nets: Iterable[str]) -> float:
    """The ohms to ground below which a rail is suspicious, by its volts. [Ω]"""
    volts = max((board.net(n).nominal or 0.0 for n in nets), default=0.0)
    if volts <= 0.0:
        # A chip with many pins may be fed by a rail that reads a few ohms when all is well.
        large = any(part.kind == "ic" and len(part.pins) >= LARGE for part in parts_on(board, nets))
        return BANDS[-1][1] if large else UNKNOWN_BAND
    return next(ohms for least, ohms in BANDS if volts >= least)


def joined_groups(board: Board) -> list[tuple[str, ...]]:
    """Nets that are one rail for an ohmmeter, because coils, beads, fuses and links join them."""
    leader = {net.name: net.name for net in board.nets}

    def of(net: str) -> str:
        while leader[net] != net:
            net = leader[net]
        return net

    for part in board.parts:
        if part.kind in JOINING and len(part.nets) == 2 and board.ground not in part.nets:
            leader[of(part.nets[0])] = of(part.nets[1])
    groups: dict[str, list[str]] = {}
    for net in board.nets:
        if net.name != board.ground:
            groups.setdefault(of(net.name), []).append(net.name)
    return [tuple(nets) for nets in groups.values()]


def parts_on(board: Board, nets: Iterable[str]) -> list[Part]:
    """Parts with a pin on one of some nets, each once."""
    return list({part.name: part for net in nets for part, _ in board.pins_on[net]}.values())


def pad_on(board: Board, net: str, off: Iterable[str] = (), not_at: str = "") -> str:
    """Where to put a probe on a net: a pad of a part that stays on."""
    if net == board.ground:
        return net
    away = {*off, not_at}
    pads = [f"{part.name}.{pin.number}" for part, pin in board.pins_on[net] if part.name not in away]
    return pads[0] if pads else net


def series_parts(board: Board) -> Iterator[Part]:
    """Parts that should conduct from net to net."""
    for part in board.parts:
        if part.kind in JOINING and len(part.nets) == 2:
            yield part


def switch_pins(board: Board) -> Iterator[tuple[Part, tuple[str, str]]]:
    """Switches, regulators and FETs with the pins of their main path, where these are on two nets."""
    ways = (("IN", "OUT"), ("drain", "source"), ("VIN", "SW"))
    for part in board.parts:
        for one, other in ways:
            a = next((p for p in part.pins if p.role == one and p.net is not None), None)
            b = next((p for p in part.pins if p.role == other and p.net is not None), None)
            if a is not None and b is not None and a.net != b.net and board.ground not in (a.net, b.net):
                yield part, (a.number, b.number)


def pins_across(board: Board, part: Part, net: str) -> tuple[str, str] | None:
    """The pin of a part on a net, and the one to read against: ground, else any other net."""
    red = next((p.number for p in part.pins if p.net == net), None)
    black = next((p.number for p in part.pins if p.net == board.ground), None)
    if black is None:
        black = next((p.number for p in part.pins if p.net not in (net, None)), None)
    return (red, black) if red is not None and black is not None and red != black else None


def bad_by_itself(part: Part, ohms: float | None, before: float, band: float = 10.0) -> bool:
    """Whether what a part reads by itself is bad; a chip that loads its rail anyway must explain the reading."""
    value = 1e9 if ohms is None else ohms
    if part.kind in JOINING:
        return value > 5.0
    if part.kind == "resistor":
        known = part.value.median if part.value is not None else None
        return known is not None and not 0.85 * known - 1.0 < value < 1.15 * known + 1.0
    if part.kind in LOOSE_BELOW:
        return value < LOOSE_BELOW[part.kind]
    return value < min(1.5 * before + 0.3, max(CERTAIN * band, DEAD))


def suppliers(board: Board, nets: Iterable[str]) -> list[Part]:
    """Converters and switches whose output goes to a rail."""
    mine = set(nets)
    outputs = ("OUT", "SW", "SW1", "SW2", "SYS")
    found = []
    for part in parts_on(board, mine):
        feeds = any(pin.net in mine and pin.role in outputs for pin in part.pins)
        if (part.kind in POWER and feeds) or (part.kind in ("fet-p", "fet-n") and len(part.nets) == 3):
            found.append(part)
    return found
