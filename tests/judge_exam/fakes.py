"""A bench of resistors only, solved in closed form, so that the judge can be tested without a simulator."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np
from judge.cases import Exam
from judge.world import Case, Conductor, Fault, TrueNet, TruePart, World

from ohmwright.circuit import Board, BoardState, Feed, Net, Part, Pin, Place
from ohmwright.facts import HANDHELD, HeatFinding, LookFinding, Quantity

HERE = Place(0.0, 0.0)


def part(name: str, kind: str, nets: tuple[str, ...], ohms: float, roles: tuple[str, ...] = ()) -> TruePart:
    pins = tuple(Pin(str(k + 1), net, (roles or ("",) * len(nets))[k]) for k, net in enumerate(nets))
    return TruePart(name, kind, pins, HERE, (Conductor("body", "R", "1", "2", ohms),))


WORLD = World(
    "four rails",
    "fake",
    "GND",
    (
        TrueNet("GND", 0.0, 0.5),
        TrueNet("VIN", 12.0, 16.0, True),
        TrueNet("VBUS", 12.0, 16.0, True),
        TrueNet("SW", None, 16.0),
        TrueNet("V33", 3.3, 3.9, True),
        TrueNet("V18", 1.8, 2.2, True),
    ),
    (
        part("F1", "fuse", ("VIN", "VBUS"), 0.05),
        part("C1", "capacitor", ("VBUS", "GND"), 1e8),
        part("C2", "capacitor", ("VBUS", "GND"), 1e8),
        part("U1", "buck", ("VBUS", "GND", "SW"), 5e4, ("VIN", "GND", "SW")),
        part("L1", "coil", ("SW", "V33"), 0.02),
        part("C3", "capacitor", ("V33", "GND"), 1e8),
        part("C4", "capacitor", ("V33", "GND"), 1e8),
        part("C5", "capacitor", ("V33", "GND"), 1e8),
        part("U2", "ic", ("V33", "GND"), 2e3, ("VDD", "GND")),
        part("U3", "linear", ("V18", "GND", "V33"), 1e4, ("OUT", "GND", "IN")),
        part("C6", "capacitor", ("V18", "GND"), 1e8),
    ),
    ("VIN",),
)


def exam(name: str, *faults: Fault, hidden: tuple[str, ...] = (), tags: tuple[tuple[str, str], ...] = ()) -> Exam:
    case = Case(name, name, WORLD, faults, frozenset(hidden), HANDHELD, "finger", tags)
    nets = tuple(Net(n.name, n.nominal, n.rating, n.rail) for n in WORLD.nets)
    parts = tuple(Part(p.name, p.kind, p.pins, p.value, p.package) for p in WORLD.parts if p.name not in hidden)
    return Exam(name, name, Board(name, "GND", nets, parts, WORLD.entries, len(hidden) / len(WORLD.parts)), case)


def short(name: str, ohms: float = 0.2) -> Fault:
    return Fault("short", name, "1", "2", ohms)


@dataclass
class FakeBench:
    """The methods of `judge.bench.Bench` on resistors."""

    case: Case
    state: BoardState = BoardState()
    violations: list[str] = field(default_factory=list)
    meter = HANDHELD
    heat_method = "finger"
    closed: bool = False

    @property
    def remaining(self) -> tuple[Fault, ...]:
        return tuple(f for f in self.case.faults if f.part not in self.state.off | self.state.replaced)

    def _resistors(self, faults: tuple[Fault, ...], state: BoardState) -> list[tuple[str, str, float]]:
        found = []
        for p in self.case.world.parts:
            if p.name in state.off:
                continue
            mine = [] if p.name in state.replaced else [f for f in faults if f.part == p.name]
            found += self._inside(p, mine)
        return found

    @staticmethod
    def _inside(p: TruePart, mine: list[Fault]) -> list[tuple[str, str, float]]:
        opened = any(f.kind in ("open", "joint") for f in mine)
        found = [(p.pin(c.a).net or "", p.pin(c.b).net or "", 1e9 if opened else c.size) for c in p.conductors]
        paths = [f for f in mine if f.kind in ("short", "leak")]
        return found + [(p.pin(f.a).net or "", p.pin(f.b).net or "", f.ohms) for f in paths]

    def _between(self, red: str, black: str, resistors: list[tuple[str, str, float]]) -> float:
        names = [n.name for n in self.case.world.nets]
        at = {name: k for k, name in enumerate(names)}
        g = np.eye(len(names)) * 1e-10
        for a, b, ohms in resistors:
            i, j = at[a], at[b]
            g[i, i] += 1 / ohms
            g[j, j] += 1 / ohms
            g[i, j] -= 1 / ohms
            g[j, i] -= 1 / ohms
        i, j = at[red], at[black]
        source = np.zeros(len(names))
        source[i], source[j] = 1.0, -1.0
        v = np.linalg.solve(g, source)
        return float(v[i] - v[j])

    def _net(self, point: str) -> str:
        name, dot, number = point.rpartition(".")
        return (self.case.world.part[name].pin(number).net or "") if dot else point

    def true_reading(
        self,
        quantity: Quantity,
        red: str,
        black: str,
        faults: tuple[Fault, ...] | None = None,
        state: BoardState | None = None,
    ) -> float | None:
        told = self.case.faults if faults is None else faults
        stands = self.state if state is None else state
        if quantity is Quantity.PART_OHMS:
            p = self.case.world.part[red.rpartition(".")[0]]
            g = sum(1 / ohms for _, _, ohms in self._inside(p, [f for f in told if f.part == p.name]))
            return 1 / g if g > 1 / 4e7 else None
        a, b = self._net(red), self._net(black)
        resistors = self._resistors(told, stands)
        if quantity is Quantity.OHMS:
            ohms = self._between(a, b, resistors)
            return ohms if ohms < 4e7 else None
        if quantity is Quantity.DIODE:
            volts = 1e-3 * self._between(a, b, resistors)
            return volts if volts < 2.0 else None
        feed = stands.feed
        assert feed is not None
        ohms = self._between(self._net(feed.plus), self._net(feed.minus), resistors)
        amps = min(feed.limit, feed.volts / ohms)
        return {Quantity.SUPPLY_AMPS: amps, Quantity.SUPPLY_VOLTS: amps * ohms}.get(quantity, 0.0)

    def read(self, quantity: Quantity, red: str, black: str) -> float | None:
        value = self.true_reading(quantity, red, black)
        return value if value is None or quantity is not Quantity.OHMS else value + 0.1

    def read_loose(self, part: str, pin_a: str, pin_b: str, quantity: Quantity) -> float | None:
        return self.true_reading(Quantity.PART_OHMS, f"{part}.{pin_a}", f"{part}.{pin_b}")

    def read_sd(self, quantity: Quantity, value: float | None) -> float:
        return 0.0 if value is None else 0.005 * abs(value) + (0.05 if quantity is Quantity.OHMS else 1e-3)

    def look(self, parts: Iterable[str]) -> tuple[LookFinding, tuple[str, ...]]:
        return LookFinding.NOTHING, tuple(parts)

    def feed(self, feed: Feed) -> None:
        net = self.case.world.net[feed.plus]
        if feed.volts > net.rating:
            self.violations.append(f"{feed.volts:g} V into {net.name}")
        self.state = self.state.with_feed(feed)

    def feed_off(self) -> None:
        self.state = self.state.unfed

    def discharge(self) -> None:
        pass

    def heat(self, parts: Iterable[str] = ()) -> tuple[HeatFinding, tuple[str, ...]]:
        return HeatFinding.NOTHING, ()

    def take_off(self, part: str) -> None:
        self.state = self.state.with_off(part)

    def refit(self, part: str) -> None:
        self.state = replace(self.state, off=self.state.off - {part})

    def replace(self, part: str) -> None:
        self.state = replace(self.state, off=self.state.off - {part}, replaced=self.state.replaced | {part})

    def clean(self, target: str) -> None:
        self.state = replace(self.state, cleaned=self.state.cleaned | {target})

    def reflow(self, part: str) -> None:
        self.state = replace(self.state, cleaned=self.state.cleaned | {part})

    def entry(self, net: str) -> tuple[float | None, bool, bool]:
        return 12.0, True, True

    def try_board(self) -> bool:
        return not self.remaining and not self.state.off

    def close(self) -> None:
        self.closed = True
