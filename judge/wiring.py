"""From a true board, its standing and its faults to the network that the simulator solves."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from judge.netlist import Network
from judge.standing import ALL, Standing
from judge.world import Conductor, Fault, Random, TruePart, World, random_of
from ohmwright.circuit import Pin

WIRE = 0.006
"""A wire soldered on by hand. [Ω]"""
TORN = 1e9
"""A pad that makes no contact. [Ω]"""
SQUARE = 4.9e-4
"""Sheet resistance of 35 µm copper: 1.72 µΩ cm through 35 µm. [Ω]"""
BLOCKED = 5e9
"""What a junction leaks backward. [Ω] Without it a meter's current into a blocked junction would be gigavolts."""
KNEE_EMISSION = 6.0
LEAST_MM = 0.4


@dataclass
class Wired:
    """A network with the owner of each of its elements.

    Attributes
    ----------
    resistors, junctions : list of str
        Part that owns each resistance and junction of the network; "" for copper and wires.
    pads : dict
        For each pad of a net laid out as copper its node; the net's own name stands beside the first pad.
    """

    network: Network
    resistors: list[str] = field(default_factory=list)
    junctions: list[str] = field(default_factory=list)
    pads: dict[str, str] = field(default_factory=dict)

    def resist(self, owner: str, a: str, b: str, ohms: float) -> None:
        """Add a resistance of a part."""
        if a != b:
            self.network.resist(a, b, ohms)
            self.resistors.append(owner)

    def join(self, owner: str, a: str, b: str, drop: float, emission: float, series: float) -> None:
        """Add a junction of a part."""
        if a != b:
            self.network.join(a, b, drop, emission, series)
            self.junctions.append(owner)
            self.resist(owner, a, b, BLOCKED)


class Wiring:
    """Builds networks of one true board."""

    def __init__(self, world: World, seed: str) -> None:
        self.world = world
        self.seed = seed

    def board(self, standing: Standing, faults: tuple[Fault, ...], copper: frozenset[str] = frozenset()) -> Wired:
        """Everything on the board that conducts by itself; the nets in `copper` are laid out pad by pad."""
        wired = Wired(Network(self.world.ground))
        active = standing.active(self.world, faults)
        torn = {p for p in standing.damaged | standing.lifted if p.rpartition(".")[0] not in standing.off}
        inner = torn | {f"{f.part}.{f.a}" for f in active if f.kind == "joint"}
        for net in sorted(copper):
            self._lay(wired, net)
        for part in self.world.parts:
            mine = tuple(f for f in active if f.part == part.name)
            if part.name in standing.off:
                self._paths(wired, part, tuple(f for f in mine if f.kind == "dirt"), inner)
            else:
                self._part(wired, part, self.inside(part, standing), mine, inner)
        for name in sorted(torn):
            wired.resist("", self._outer(wired, name), name, TORN)
        for a, b in sorted(standing.bridges):
            wired.resist("", self.point(wired, a), self.point(wired, b), WIRE)
        return wired

    def loose(self, part: TruePart, standing: Standing, faults: tuple[Fault, ...]) -> Wired:
        """A part by itself; its nodes are its pin numbers, ground is its last pin."""
        wired = Wired(Network(part.pins[-1].number))
        mine = tuple(f for f in faults if f.part == part.name and f.kind not in ("joint", "dirt"))
        mine = () if part.name in standing.replaced else mine
        for conductor in _changed(self.inside(part, standing), mine):
            _conduct(wired, part.name, conductor, conductor.a, conductor.b)
        for fault in mine:
            _path(wired, fault, fault.a, fault.b)
        return wired

    def inside(self, part: TruePart, standing: Standing) -> tuple[Conductor, ...]:
        """True paths of the specimen fitted now: a new part is like the old one within its own scatter."""
        if part.name not in standing.replaced:
            return part.conductors
        luck = random_of(self.seed, "new part", part.name)
        return tuple(_again(c, luck) for c in part.conductors)

    def node(self, wired: Wired, part: str, pin: Pin, inner: set[str]) -> str | None:
        """Where a pin's inside is joined; None for pins on no net."""
        if pin.net is None:
            return None
        name = f"{part}.{pin.number}"
        return name if name in inner else wired.pads.get(name, pin.net)

    def point(self, wired: Wired, point: str) -> str:
        """Node of a net's name or of ``PART.PIN``, the probe standing on the pad."""
        return wired.pads.get(point, self.world.net_at(point))

    def _outer(self, wired: Wired, name: str) -> str:
        return wired.pads.get(name, self.world.net_at(name))

    def _part(
        self, wired: Wired, part: TruePart, inside: tuple[Conductor, ...], mine: tuple[Fault, ...], inner: set[str]
    ) -> None:
        nodes = {pin.number: self.node(wired, part.name, pin, inner) for pin in part.pins}
        for conductor in _changed(inside, mine):
            a, b = nodes[conductor.a], nodes[conductor.b]
            if a is not None and b is not None:
                _conduct(wired, part.name, conductor, a, b)
        self._paths(wired, part, mine, inner)
        for fault in mine:
            if fault.kind == "joint":
                name = f"{part.name}.{fault.a}"
                wired.resist(part.name, self._outer(wired, name), name, fault.ohms)

    def _paths(self, wired: Wired, part: TruePart, mine: tuple[Fault, ...], inner: set[str]) -> None:
        for fault in mine:
            # Dirt lies between pads, not between what is soldered to them.
            held = set() if fault.kind == "dirt" else inner
            a = self.node(wired, part.name, part.pin(fault.a), held)
            b = self.node(wired, part.name, part.pin(fault.b), held)
            if a is not None and b is not None:
                _path(wired, fault, a, b)

    def _lay(self, wired: Wired, net: str) -> None:
        """Lay a net out as a tree of copper from pad to pad; its name stands for the first pad."""
        width = self.world.net[net].width_mm
        for name, to, length in copper_tree(self.world, net):
            node = f"{net}|{name}"
            wired.pads[name] = node
            wired.resist("", node, f"{net}|{to}" if to in wired.pads and to != name else net, SQUARE * length / width)


def copper_tree(world: World, net: str) -> Iterator[tuple[str, str, float]]:
    """Pads of a net in the order they are reached: the pad, the pad it hangs on, and the millimetres between."""
    pads = [(f"{part.name}.{pin.number}", part.place) for part, pin in world.pads[net]]
    if not pads:
        return
    best = dict.fromkeys(range(1, len(pads)), (math.inf, 0))
    last = 0
    yield pads[0][0], pads[0][0], LEAST_MM
    while best:
        for k in best:
            here, there = pads[last][1], pads[k][1]
            length = abs(here.x_mm - there.x_mm) + abs(here.y_mm - there.y_mm)
            length += LEAST_MM + (1.6 if here.side != there.side else 0.0)
            best[k] = min(best[k], (length, last))
        last = min(best, key=lambda k: best[k])
        length, parent = best.pop(last)
        yield pads[last][0], pads[parent][0], length


def _again(conductor: Conductor, luck: Random) -> Conductor:
    if conductor.kind == "D":
        size = conductor.size + float(luck.normal(0.0, 0.006))
    else:
        share = 0.004 if conductor.label == "body" else 0.06
        size = conductor.size * math.exp(float(luck.normal(0.0, share)))
    return Conductor(conductor.label, conductor.kind, conductor.a, conductor.b, size, conductor.emission,
                     conductor.series)  # fmt: skip


def _changed(inside: tuple[Conductor, ...], mine: tuple[Fault, ...]) -> Iterator[Conductor]:
    """The conductors as the faults leave them."""
    for conductor in inside:
        for fault in mine:
            if fault.label not in (ALL, conductor.label):
                continue
            if fault.kind in ("open", "drift"):
                conductor = Conductor(conductor.label, "R", conductor.a, conductor.b, fault.ohms)
            elif fault.kind == "reversed" and conductor.kind == "D":
                conductor = Conductor(conductor.label, "D", conductor.b, conductor.a, conductor.size,
                                      conductor.emission, conductor.series)  # fmt: skip
        yield conductor


def _conduct(wired: Wired, owner: str, conductor: Conductor, a: str, b: str) -> None:
    if conductor.kind == "D":
        wired.join(owner, a, b, conductor.size, conductor.emission, conductor.series)
    else:
        wired.resist(owner, a, b, conductor.size)


def _path(wired: Wired, fault: Fault, a: str, b: str) -> None:
    """What conducts and should not."""
    if fault.kind in ("short", "leak", "dirt"):
        wired.resist(fault.part, a, b, fault.ohms)
    elif fault.kind == "knee":
        wired.join(fault.part, a, b, fault.ohms, KNEE_EMISSION, 8.0)
