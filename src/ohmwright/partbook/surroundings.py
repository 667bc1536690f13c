"""What any part with two ends may be, from nothing but the two nets it joins. Estimates, tuned on a few boards."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from ohmwright.circuit import Board, Part
from ohmwright.partbook.duties import duty_of, without_number

FEEDING = frozenset({"VCC", "VIN", "VBUS", "BAT", "SYS", "OUT", "PMID"})
"""Duties of pins that make their net a rail where the chip has a supply of its own."""
_NO_CHIPS = frozenset({"fet-n", "fet-p", "diode", "schottky", "tvs", "tvs-two-way", "esd", "led", "crystal"})
"""Kinds whose roles are ends of a device and no duties."""
HELD_BY = 4
"""That many parts between a net and ground make it a rail though no pin says so. [1]"""
Mix = tuple[tuple[str, float], ...]

_TABLE: Mapping[tuple[str, str], tuple[str, Mix]] = {
    ("ground", "rail"): ("rail capacitor", (
        ("capacitor", 0.80), ("polymer", 0.08), ("resistor", 0.05), ("tvs", 0.03), ("diode", 0.02), ("led", 0.01),
        ("schottky", 0.005))),
    ("ground", "signal"): ("to ground", (
        ("resistor", 0.44), ("capacitor", 0.40), ("diode", 0.05), ("led", 0.04), ("tvs", 0.03), ("polymer", 0.02))),
    ("rail", "rail"): ("between rails", (
        ("ferrite", 0.22), ("resistor", 0.20), ("coil", 0.10), ("diode", 0.12), ("schottky", 0.10), ("link", 0.08),
        ("fuse", 0.10), ("capacitor", 0.08))),
    ("rail", "signal"): ("pull-up or series", (
        ("resistor", 0.72), ("capacitor", 0.08), ("led", 0.06), ("diode", 0.05), ("schottky", 0.03), ("fuse", 0.02),
        ("ferrite", 0.02), ("coil", 0.02))),
    ("signal", "signal"): ("series part", (
        ("resistor", 0.68), ("capacitor", 0.16), ("diode", 0.04), ("led", 0.03), ("crystal", 0.02), ("coil", 0.03),
        ("ferrite", 0.02), ("fuse", 0.01))),
    ("ground", "ground"): ("joins two grounds", (
        ("link", 0.5), ("ferrite", 0.2), ("resistor", 0.2), ("capacitor", 0.1))),
}  # fmt: skip

_BUSY = {"capacitor": 2.0, "resistor": 0.5, "led": 0.3, "tvs": 1.5}
_BY_PADS: Mapping[tuple[str, int], Mapping[str, float]] = {
    ("ground", 2): {"led": 4.0, "capacitor": 0.6},
    ("ground", 3): {"capacitor": 1.1},
    ("ground", 4): {"diode": 2.0, "led": 0.3},
    **{("ground", pads): _BUSY for pads in range(5, 40)},
    ("rail", 2): {"led": 4.0},
    ("rail", 3): {"led": 0.5, "coil": 2.0, "diode": 1.5},
    ("rail", 4): {"led": 0.2, "diode": 3.0, "coil": 1.5},
    **{("rail", pads): {"led": 0.2, "diode": 1.5, "ferrite": 2.0} for pads in range(5, 40)},
    ("signal", 2): {"led": 2.0, "capacitor": 0.6},
    **{("signal", pads): {"led": 0.2, "ferrite": 1.5} for pads in range(4, 40)},
}
"""Factors by the pads of the quieter signal net. Estimates, after four boards."""


@dataclass(frozen=True)
class Surroundings:
    """The nets of a board sorted by what they seem to be, and the duties of its chips' pins."""

    board: Board
    rails: frozenset[str]
    pads: Mapping[str, int]
    duties: Mapping[str, Mapping[str, frozenset[str]]]
    """Chip to duty to nets."""

    def sort(self, net: str) -> str:
        """``ground``, ``rail`` or ``signal``."""
        if net == self.board.ground or net in self.grounds:
            return "ground"
        return "rail" if net in self.rails else "signal"

    @property
    def grounds(self) -> frozenset[str]:
        """Nets that chips call ground."""
        return frozenset({self.board.ground})

    def usual(self, part: Part) -> tuple[str, Mix]:
        """What the part would be called, and what it may be, going by its two nets alone."""
        sorts = sorted(self.sort(net) for net in part.nets)
        if len(sorts) != 2:
            return "", (("link", 0.5), ("resistor", 0.3), ("capacitor", 0.2))
        name, mix = _TABLE[sorts[0], sorts[1]]
        signals = [self.pads[net] for net in part.nets if self.sort(net) == "signal"]
        return name, _leaning(mix, _BY_PADS.get((sorts[0], min(signals)), {}) if signals else {})


def surroundings_of(board: Board, duties: Mapping[str, Mapping[str, frozenset[str]]]) -> Surroundings:
    """Sort the nets of a board.

    Parameters
    ----------
    board : Board
        Nets flagged as rails are believed.
    duties : mapping
        Chip to duty to nets, as `duties_on` gives it.
    """
    pads: Counter[str] = Counter(pin.net for part in board for pin in part.pins if pin.net)
    to_ground = Counter(
        net
        for part in board
        if len(part.pins) == 2 and board.ground in part.nets and part.kind != "connector"
        for net in set(part.nets) - {board.ground}
    )
    rails = {net.name for net in board.nets if net.rail}
    rails |= {net for net, count in to_ground.items() if count >= HELD_BY}
    for nets_of in duties.values():
        for duty, nets in nets_of.items():
            if without_number(duty) in FEEDING and ("GND" in nets_of or len(nets_of) > 1):
                rails |= {net for net in nets if duty.startswith(("VCC", "VIN", "VBUS")) or to_ground[net] >= 1}
    return Surroundings(board, frozenset(rails) - {board.ground}, pads, duties)


def duties_on(
    board: Board, pin_names: Mapping[str, Mapping[str, str]] | None = None
) -> dict[str, dict[str, frozenset[str]]]:
    """For each chip the nets of each duty its pins have, by the pins' names.

    Parameters
    ----------
    board : Board
    pin_names : mapping or None
        Chip to pin number to name, from a datasheet or a library; else the names on the board serve.
    """
    found: dict[str, dict[str, frozenset[str]]] = {}
    for part in board:
        if len(part.pins) < 3 or part.kind in ("connector", "mechanical"):
            continue
        names = (pin_names or {}).get(part.name, {})
        nets: dict[str, set[str]] = {}
        for pin in part.pins:
            name = names.get(pin.number.split("+")[0], pin.name) or (pin.role if part.kind not in _NO_CHIPS else "")
            duty = "GND" if pin.net == board.ground else duty_of(name)
            if duty and pin.net:
                nets.setdefault(duty, set()).add(pin.net)
        if nets and (set(nets) != {"GND"}):
            found[part.name] = {duty: frozenset(held) for duty, held in nets.items()}
    return found


def _leaning(mix: Mix, factors: Mapping[str, float]) -> Mix:
    return tuple((kind, weight * factors.get(kind, 1.0)) for kind, weight in mix)
