"""Small true boards drawn by hand, whose readings have closed forms."""

from __future__ import annotations

from collections.abc import Iterable

from judge.world import Case, Conductor, Drive, Fault, TrueNet, TruePart, World

from ohmwright.circuit import Pin, Place
from ohmwright.facts import Meter

METER = Meter()


def part(
    name: str, kind: str, nets: str, *inside: Conductor, roles: str = "", drives: tuple[Drive, ...] = ()
) -> TruePart:
    """A part with pins 1, 2, ... on the nets named in one string."""
    names = nets.split()
    told = roles.split() or [""] * len(names)
    pins = tuple(Pin(str(k + 1), net, role) for k, (net, role) in enumerate(zip(names, told, strict=True)))
    return TruePart(name, kind, pins, Place(2.0 * sum(map(ord, name)) % 40, 1.0), inside, drives=drives)


def resistor(name: str, a: str, b: str, ohms: float) -> TruePart:
    return part(name, "resistor", f"{a} {b}", Conductor("body", "R", "1", "2", ohms))


def diode(name: str, anode: str, cathode: str, drop: float, emission: float = 1.0) -> TruePart:
    body = Conductor("junction", "D", "1", "2", drop, emission)
    return part(name, "diode", f"{anode} {cathode}", body, roles="anode cathode")


def world(parts: Iterable[TruePart], *, rails: str = "A", volts: float = 5.0, rating: float = 6.0) -> World:
    parts = tuple(parts)
    names = sorted({net for p in parts for net in p.nets} - {"GND"})
    nets = [TrueNet("GND", 0.0, 0.3)]
    nets += [TrueNet(n, volts if n in rails.split() else None, rating, n in rails.split(), 2.0) for n in names]
    return World("hand", "hand", "GND", tuple(nets), parts, ("A",), (volts,))


def case(board: World, *faults: Fault, hidden: Iterable[str] = (), seed: str = "hand") -> Case:
    return Case(seed, seed, board, faults, frozenset(hidden), METER, "camera")
