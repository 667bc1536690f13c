"""A board on the drawing table: nets and parts are added block by block, then true insides are drawn."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from judge.laws import Hint, conductors
from judge.world import Awake, Drive, Random, TrueNet, TruePart, World, random_of
from ohmwright.circuit import Pin, Place, Spread

PREFIX: Mapping[str, str] = {
    "capacitor": "C", "polymer": "C", "resistor": "R", "sense": "R", "link": "R", "coil": "L", "ferrite": "L",
    "fuse": "F", "diode": "D", "schottky": "D", "led": "D", "tvs": "D", "tvs-two-way": "D", "esd": "D", "fet-n": "Q",
    "fet-p": "Q", "ic": "U", "buck": "U", "linear": "U", "load-switch": "U", "charger": "U", "crystal": "Y",
    "connector": "J",
}  # fmt: skip
SIZES: Mapping[str, tuple[float, float]] = {
    "capacitor": (1.0, 0.5), "polymer": (3.5, 2.8), "resistor": (1.0, 0.5), "sense": (3.2, 1.6), "link": (1.6, 0.8),
    "coil": (5.2, 5.0), "ferrite": (1.6, 0.8), "fuse": (3.2, 1.6), "diode": (1.7, 1.25), "schottky": (2.7, 1.6),
    "led": (1.6, 0.8), "tvs": (4.3, 2.6), "tvs-two-way": (2.0, 1.2), "esd": (2.5, 1.0), "fet-n": (3.3, 3.3),
    "fet-p": (3.3, 3.3), "ic": (4.0, 4.0), "buck": (4.0, 4.0), "linear": (2.9, 1.6), "load-switch": (1.6, 1.6),
    "charger": (5.0, 5.0), "crystal": (3.2, 1.5), "connector": (9.0, 5.0),
}  # fmt: skip
CAP_STANDS = (4.0, 6.3, 10.0, 16.0, 25.0, 35.0, 50.0, 100.0)
CELL_MM = 19.0
GRID_MM, GAP_MM = 0.5, 0.2
Wire = tuple[str, str, str | None]
"""Number, role and net of a pin."""


@dataclass(frozen=True, slots=True)
class _Sketch:
    """A part without insides."""

    name: str
    kind: str
    pins: tuple[Pin, ...]
    place: Place
    ohms: float
    both_ways: bool
    value: Spread | None
    package: str
    drives: tuple[Drive, ...]
    awake: tuple[Awake, ...]
    stands: float | None


class Draft:
    """Collects a board.

    Parameters
    ----------
    seed : str
        Everything drawn hangs on it.
    """

    def __init__(self, name: str, family: str, seed: str) -> None:
        self.name, self.family, self.seed = name, family, seed
        self.luck: Random = random_of("draft", seed)
        self.ground = "GND"
        self.volts: dict[str, float] = {self.ground: 0.0}
        self.rails: dict[str, float] = {}
        self.cores: set[str] = set()
        self.entries: list[tuple[str, float]] = []
        self._sketches: list[_Sketch] = []
        self._count: Counter[str] = Counter()
        self._first = {p: int(self.luck.integers(1, 40)) for p in sorted(set(PREFIX.values()))}
        self._block = -1
        self._taken: set[tuple[str, int, int]] = set()
        self._tried: dict[tuple[str, int, float, float], int] = {}
        self._side = "top"

    # Nets

    def rail(self, name: str, volts: float, width_mm: float = 2.0, *, core: bool = False) -> str:
        """A net that feeds parts; the name made unique."""
        name = self._fresh(name)
        self.volts[name] = volts
        self.rails[name] = width_mm
        if core:
            self.cores.add(name)
        return name

    def signal(self, stem: str, volts: float) -> str:
        """A net that carries a signal of at most that many volts."""
        name = self._fresh(stem)
        self.volts[name] = volts
        return name

    def _fresh(self, stem: str) -> str:
        if stem not in self.volts:
            return stem
        k = 2
        while f"{stem}_{k}" in self.volts:
            k += 1
        return f"{stem}_{k}"

    @property
    def size(self) -> int:
        """Nets so far."""
        return len(self.volts)

    # Parts

    def block(self) -> None:
        """Begin a new block at a place of its own."""
        self._block += 1
        self._side = "bottom" if self.luck.random() < 0.2 else "top"

    def add(
        self,
        kind: str,
        wires: Sequence[Wire],
        *,
        ohms: float = 1e4,
        both_ways: bool = False,
        value: Spread | None = None,
        package: str = "",
        drives: tuple[Drive, ...] = (),
        awake: tuple[Awake, ...] = (),
        stands: float | None = None,
    ) -> str:
        """Add a part and return its name."""
        prefix = PREFIX[kind]
        self._count[prefix] += 1
        name = f"{prefix}{self._first[prefix] + self._count[prefix]}"
        pins = tuple(Pin(number, net, role, _printed(kind, number, role)) for number, role, net in wires)
        place = self._placed(kind, len(pins))
        package = package or f"{place.width_mm:g}x{place.height_mm:g} mm"
        self._sketches.append(_Sketch(name, kind, pins, place, ohms, both_ways, value, package, drives, awake, stands))
        return name

    def two(self, kind: str, a: str, b: str, *, ohms: float = 1e4, value: Spread | None = None) -> str:
        """A part of two like pins."""
        return self.add(kind, (("1", "", a), ("2", "", b)), ohms=ohms, value=value)

    def resistor(self, a: str, b: str, ohms: float) -> str:
        """A resistor of that marked value."""
        ohms = e96(ohms)
        return self.two("resistor", a, b, ohms=ohms, value=Spread(ohms, 0.01, "marking"))

    def capacitor(self, net: str, farads: float = 1e-7, *, kind: str = "capacitor", to: str | None = None) -> str:
        """A capacitor to ground, or to another net, that stands half as much again as the net works at."""
        volts = max(self.volts[net], self.volts[to] if to else 0.0)
        stands = next(s for s in CAP_STANDS if s >= 1.4 * max(volts, 0.8))
        wires = (("1", "", net), ("2", "", to or self.ground))
        return self.add(kind, wires, value=Spread(farads, 0.1, "list"), stands=None if to else stands)

    def capacitors(self, net: str, count: int, *, bulk: int = 0) -> None:
        """Some ceramic capacitors and some large ones from a rail to ground."""
        for k in range(count):
            self.capacitor(net, 1e-7 if k % 2 else 1e-5)
        for _ in range(bulk):
            self.capacitor(net, 1e-4, kind="polymer")

    def diode(self, kind: str, anode: str, cathode: str) -> str:
        """A part with an anode and a cathode."""
        return self.add(kind, (("1", "cathode", cathode), ("2", "anode", anode)))

    def _placed(self, kind: str, n_pins: int) -> Place:
        width, height = SIZES[kind]
        if kind == "ic":
            width = height = max(3.0, 1.5 * math.sqrt(n_pins) + 0.8)
        row, column = divmod(self._block, 7)
        quarter = int(self.luck.integers(4))
        if quarter % 2:
            width, height = height, width
        side = self._side if kind not in ("connector", "coil") else "top"
        x, y = self._free(CELL_MM * (column + 0.5), CELL_MM * (row + 0.5), width, height, side)
        width, height = SIZES[kind] if kind != "ic" else (width, height)
        return Place(round(x, 2), round(y, 2), side, round(width, 2), round(height, 2), 90.0 * quarter)

    def _free(self, x: float, y: float, width: float, height: float, side: str) -> tuple[float, float]:
        """The first free place on a spiral about a point, so that no two parts lie on each other."""
        # Where one part of a size found no room, the next of that size need not look again.
        size = (side, self._block, round(width, 1), round(height, 1))
        for step in range(self._tried.get(size, 0), 4000):
            turn, reach = 0.9 * step, 0.22 * math.sqrt(8.0 * step)
            at = x + reach * math.cos(turn), y + reach * math.sin(turn)
            columns, rows = (
                range(int((c - s / 2 - GAP_MM) / GRID_MM), int((c + s / 2 + GAP_MM) / GRID_MM) + 1)
                for c, s in zip(at, (width, height), strict=True)
            )
            cells = [(side, i, k) for i in columns for k in rows]
            if self._taken.isdisjoint(cells):
                self._taken.update(cells)
                self._tried[size] = step + 1
                return at
        return x, y

    # The whole

    def world(self) -> World:
        """The healthy board with its true insides."""
        shares = Counter(pin.net for s in self._sketches if s.kind == "ic" for pin in s.pins if pin.net in self.cores)
        parts = []
        for sketch in self._sketches:
            share = max((shares[pin.net] for pin in sketch.pins if pin.net in self.cores), default=1)
            hint = Hint(self.volts, frozenset(self.cores), sketch.ohms, sketch.both_ways, max(share, 1))
            inside = conductors(random_of(self.seed, "inside", sketch.name), sketch.kind, sketch.pins, hint)
            parts.append(
                TruePart(
                    sketch.name, sketch.kind, sketch.pins, sketch.place, inside, sketch.value, sketch.package,
                    sketch.drives, sketch.awake, sketch.stands,
                )
            )  # fmt: skip
        used = {net for part in parts for net in part.nets}
        stands = {
            net: min(p.stands for p in parts if p.stands is not None and net in p.nets)
            for net in {n for p in parts if p.stands is not None for n in p.nets}
        }
        nets = tuple(self._net(name, stands.get(name, math.inf)) for name in self.volts if name in used)
        entries = tuple(name for name, _ in self.entries)
        return World(
            self.name, self.family, self.ground, nets, tuple(parts), entries, tuple(v for _, v in self.entries)
        )

    def _net(self, name: str, weakest: float) -> TrueNet:
        volts = self.volts[name]
        luck = random_of(self.seed, "rating", name)
        if name == self.ground:
            return TrueNet(name, 0.0, 0.3, False, 20.0)
        room = luck.uniform(1.25, 1.6) if volts < 2.0 else luck.uniform(1.2, 1.7)
        rating = min(max(volts * float(room), 1.1), weakest)
        rail = name in self.rails
        return TrueNet(name, volts if rail else None, rating, rail, self.rails.get(name, 0.2), name in self.cores)


def _printed(kind: str, number: str, role: str) -> str:
    return role if kind not in ("capacitor", "polymer", "resistor") and role else ""


def e96(ohms: float) -> float:
    """The nearest value of the E96 series (IEC 60063). [Ω]"""
    if ohms <= 0.0:
        return ohms
    decade = 10.0 ** math.floor(math.log10(ohms))
    steps = [round(10.0 ** (k / 96.0), 2) for k in range(97)]
    return float(f"{min(steps, key=lambda s: abs(s - ohms / decade)) * decade:.4g}")
