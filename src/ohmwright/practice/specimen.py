"""One board on the practice bench: what lies between its pads now, defects and repairs included."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from ohmwright.circuit import Board, Part
from ohmwright.errors import DataError
from ohmwright.practice.chance import dice_for
from ohmwright.practice.fault_json import Defect, Fault
from ohmwright.practice.insides import Conductor, conductors_of
from ohmwright.practice.solve import Network

WIRE = 0.004
"""A wire soldered on by hand. [Ω] estimate"""
KNEE_EMISSION = 5.0
"""How softly a degraded clamp begins to conduct; estimate. [1]"""


@dataclass
class Specimen:
    """A board with its true parts; hands change it, meters only look.

    Parameters
    ----------
    seed : int
        Draws all true values. [1]
    """

    board: Board
    fault: Fault
    seed: int
    off: set[str] = field(default_factory=set)
    wires: set[tuple[str, str]] = field(default_factory=set)
    _cured: set[int] = field(default_factory=set)
    _fitted: dict[str, int] = field(default_factory=dict)
    _inside: dict[tuple[str, int], tuple[Conductor, ...]] = field(default_factory=dict)

    def take_off(self, name: str) -> None:
        """Take a part off; a blob of solder beside it goes with it."""
        self.board.part(name)
        if name in self.off:
            raise DataError(f"{name} is off already.", hint="fit it again first")
        self.off.add(name)
        self._cure(lambda d: d.part == name and d.mode in ("joint", "solder bridge"))

    def refit(self, name: str) -> None:
        """Put the same part back, with what is wrong inside it; its joints are new."""
        if name not in self.off:
            raise DataError(f"{name} is not off.", hint="take it off first")
        self.off.discard(name)
        self.reflow(name)

    def replace(self, name: str) -> None:
        """Fit a sound part."""
        self.board.part(name)
        self.off.discard(name)
        self._fitted[name] = self._fitted.get(name, 0) + 1
        self._cure(lambda d: d.part == name and d.mode != "dirt")

    def clean(self, target: str) -> None:
        """Clean around a part, or along a net."""
        if target not in self.board.part_by_name:
            target = self.board.net_at(target)
        self._cure(lambda d: d.cleanable and (target == d.part or target in self.nets_of(d)))

    def reflow(self, name: str) -> None:
        """Melt the joints of a part again."""
        self.board.part(name)
        self._cure(lambda d: d.part == name and d.mode in ("joint", "solder bridge"))

    def _cure(self, cured: Callable[[Defect], bool]) -> None:
        self._cured |= {i for i, defect in enumerate(self.fault.defects) if cured(defect)}

    def nets_of(self, defect: Defect) -> tuple[str | None, ...]:
        """The nets of a defect's pins."""
        part = self.board.part(defect.part)
        return tuple(part.pin(number).net for number in defect.pins)

    @property
    def defects(self) -> tuple[Defect, ...]:
        """Those not cured, also of parts that are off."""
        return tuple(d for i, d in enumerate(self.fault.defects) if i not in self._cured)

    def defects_at(self, name: str, *, loose: bool = False) -> tuple[Defect, ...]:
        """Those not cured of one part; of a loose part only what is inside it."""
        found = (d for d in self.defects if d.part == name)
        return tuple(d for d in found if not (loose and (d.cleanable or d.mode == "joint")))

    def inside(self, part: Part) -> tuple[Conductor, ...]:
        """The true paths of the specimen of a part that is fitted now, defects left out."""
        key = (part.name, self._fitted.get(part.name, 0))
        if key not in self._inside:
            self._inside[key] = conductors_of(self.board, part, dice_for(self.seed, "inside", self.board.name, *key))
        return self._inside[key]

    def network(self) -> Network:
        """Everything on the board that conducts by itself."""
        network = Network(self.board.ground)
        for part in self.board.parts:
            if part.name not in self.off:
                self.add(network, part)
            else:
                self._add_paths(network, part, tuple(d for d in self.defects_at(part.name) if d.mode == "dirt"))
        for a, b in self.wires:
            network.resistances.append((self.board.net_at(a), self.board.net_at(b), WIRE))
        return network

    def add(self, network: Network, part: Part) -> None:
        """Add to a network what a fitted part conducts by itself, with its defects."""
        self._add(network, part, self.defects_at(part.name), loose=False)

    def loose_network(self, part: Part) -> Network:
        """A part by itself; its nodes are its pin numbers, the last of them ground."""
        network = Network(part.pins[-1].number)
        self._add(network, part, self.defects_at(part.name, loose=True), loose=True)
        return network

    def node(self, part: Part, number: str, *, loose: bool = False) -> str:
        """Where a pin's inside is joined: its net, unless the pin is loose, on no net, or badly joined."""
        pin = part.pin(number)
        if loose:
            return pin.number
        bad = any(d.mode == "joint" and d.part == part.name and d.pins[0] == number for d in self.defects)
        return f"{part.name}.{number}" if bad or pin.net is None else pin.net

    def _add(self, network: Network, part: Part, defects: tuple[Defect, ...], *, loose: bool) -> None:
        changed = {frozenset(d.pins): d.size for d in defects if d.mode in ("open", "drift")}
        for conductor in self.inside(part):
            a, b = self.node(part, conductor.a, loose=loose), self.node(part, conductor.b, loose=loose)
            size = changed.get(frozenset((conductor.a, conductor.b)))
            if a == b:
                continue
            if size is not None:
                network.resistances.append((a, b, size))
            elif conductor.emission:
                inner = f"{part.name}:{conductor.a}-{conductor.b}" if conductor.series else b
                network.junctions.append((a, inner, conductor.size, conductor.emission))
                if conductor.series:
                    network.resistances.append((inner, b, conductor.series))
            else:
                network.resistances.append((a, b, conductor.size))
        self._add_paths(network, part, defects, loose=loose)

    def _add_paths(self, network: Network, part: Part, defects: tuple[Defect, ...], *, loose: bool = False) -> None:
        """What conducts and should not, and joints that conduct badly."""
        for defect in defects:
            a, b = (self.node(part, number, loose=loose) for number in defect.pins)
            net = part.pin(defect.pins[0]).net
            if defect.mode == "joint":
                if net is not None:
                    network.resistances.append((net, f"{part.name}.{defect.pins[0]}", defect.size))
            elif defect.mode == "knee" and a != b:
                network.junctions.append((a, b, defect.size, KNEE_EMISSION))
            elif defect.mode not in ("open", "drift") and a != b:
                network.resistances.append((a, b, defect.size))
