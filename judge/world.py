"""The board as it truly is: every part, every true value, and what is wrong. Policies never see it."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from ohmwright.circuit import Pin, Place, Spread
from ohmwright.facts import Meter

Random = np.random.Generator


def random_of(*words: object) -> Random:
    """A random generator that depends on the words alone, so that every policy meets the same luck."""
    digest = hashlib.sha256("|".join(str(word) for word in words).encode()).digest()
    return np.random.default_rng(int.from_bytes(digest[:8], "little"))


@dataclass(frozen=True, slots=True)
class Conductor:
    """One true two-terminal element between two pins of a part.

    Parameters
    ----------
    kind : str
        ``R`` for a resistance, ``D`` for a junction from `a` (anode) to `b` (cathode).
    size : float
        Resistance, or the junction's drop at 1 mA. [Ω or V]
    emission : float
        Emission coefficient. [1]
    series : float
        Resistance in series with a junction. [Ω]
    """

    label: str
    kind: str
    a: str
    b: str
    size: float
    emission: float = 1.0
    series: float = 0.0


@dataclass(frozen=True, slots=True)
class Drive:
    """What a part does to power while it is fed.

    Parameters
    ----------
    source, sink : str
        Pin numbers. For a switching regulator the sink is the switch pin, taken at its average.
    ohms : float
        Of the closed path, or of the regulated output. [Ω]
    needs : float
        Volts at the source from which it works. [V]
    volts : float or None
        Regulated output; None for a plain switch. [V]
    limit : float
        Most it delivers. [A]
    efficiency : float or None
        Share of the power handed on by a switching regulator; None where input and output current are one. [1]
    enable, feedback, gate : str or None
        Pins: that must be high, that holds the reference volts, and (of a FET) that must not be joined to
        the source.
    reference : float
        Volts at the feedback pin. [V]
    """

    source: str
    sink: str
    ohms: float
    needs: float
    volts: float | None = None
    limit: float = 3.0
    efficiency: float | None = None
    enable: str | None = None
    feedback: str | None = None
    gate: str | None = None
    reference: float = 0.6


@dataclass(frozen=True, slots=True)
class Awake:
    """What a chip draws besides its cold load once its pin has volts enough. [V], [A]"""

    pin: str
    wakes: float
    amps: float


@dataclass(frozen=True, slots=True)
class TruePart:
    """A part with its true insides.

    Parameters
    ----------
    value : Spread or None
        What the marking or the parts list would say.
    stands : float or None
        The most volts a two-pin part to ground stands. [V]
    """

    name: str
    kind: str
    pins: tuple[Pin, ...]
    place: Place
    conductors: tuple[Conductor, ...] = ()
    value: Spread | None = None
    package: str = ""
    drives: tuple[Drive, ...] = ()
    awake: tuple[Awake, ...] = ()
    stands: float | None = None

    def pin(self, number: str) -> Pin:
        """The pin of that number."""
        return next(pin for pin in self.pins if pin.number == number)

    def on_net(self, net: str) -> bool:
        """Whether one of its pins is on that net."""
        return any(pin.net == net for pin in self.pins)

    @property
    def nets(self) -> tuple[str, ...]:
        """The nets it touches, each once."""
        return tuple(dict.fromkeys(pin.net for pin in self.pins if pin.net is not None))


@dataclass(frozen=True, slots=True)
class TrueNet:
    """A net with the volts it truly works at and the most it stands [V], and the width of its copper. [mm]"""

    name: str
    nominal: float | None
    rating: float
    rail: bool = False
    width_mm: float = 0.2
    core: bool = False


@dataclass(frozen=True)
class World:
    """One real board, healthy."""

    name: str
    family: str
    ground: str
    nets: tuple[TrueNet, ...]
    parts: tuple[TruePart, ...]
    entries: tuple[str, ...]
    entry_volts: tuple[float, ...] = ()

    @cached_property
    def part(self) -> Mapping[str, TruePart]:
        """Parts by name."""
        return {part.name: part for part in self.parts}

    @cached_property
    def net(self) -> Mapping[str, TrueNet]:
        """Nets by name."""
        return {net.name: net for net in self.nets}

    @cached_property
    def cells(self) -> tuple[str, ...]:
        """Nets at which a lithium cell feeds the board until somebody unplugs it: where a charger's pack hangs."""
        pins = [pin for part in self.parts if part.kind == "charger" for pin in part.pins if pin.role == "BAT"]
        return tuple(dict.fromkeys(pin.net for pin in pins if pin.net is not None))

    def net_at(self, point: str) -> str:
        """The net of a net's name or of ``PART.PIN``."""
        if point in self.net:
            return point
        name, _, number = point.rpartition(".")
        if name in self.part:
            for pin in self.part[name].pins:
                if pin.number == number and pin.net is not None:
                    return pin.net
        raise KeyError(point)

    @cached_property
    def pads(self) -> Mapping[str, tuple[tuple[TruePart, Pin], ...]]:
        """The (part, pin) pairs of each net."""
        found: dict[str, list[tuple[TruePart, Pin]]] = defaultdict(list)
        for part in self.parts:
            for pin in part.pins:
                if pin.net is not None:
                    found[pin.net].append((part, pin))
        return {net.name: tuple(found[net.name]) for net in self.nets}


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is truly wrong.

    Parameters
    ----------
    kind : str
        ``short``, ``leak``, ``knee``, ``dirt`` between pins `a` and `b`; ``open``, ``drift`` or ``reversed`` of
        the conductor `label`; ``joint`` at pin `a`. Dirt lies on the board: it stays when the part comes off,
        and goes when somebody cleans.
    ohms : float
        Of the path, of the drifted conductor or of the joint; for a knee its volts at 1 mA. [Ω or V]
    label : str
        Of the conductor; "" means every conductor of the part.
    seen : str
        What a good look would find: ``crack``, ``burn``, ``corrosion``, or "".
    wrong_part : bool
        Whether somebody fitted the wrong part, as against a failure.
    """

    kind: str
    part: str
    a: str
    b: str
    ohms: float
    label: str = ""
    seen: str = ""
    wrong_part: bool = False

    def nets(self, world: World) -> tuple[str, ...]:
        """The nets it touches, ground left out unless there is nothing else."""
        part = world.part[self.part]
        pins = (self.a,) if self.kind == "joint" else (self.a, self.b)
        nets = tuple(dict.fromkeys(net for n in pins if (net := part.pin(n).net) is not None))
        return tuple(net for net in nets if net != world.ground) or nets


@dataclass(frozen=True)
class Case:
    """One examination question.

    Parameters
    ----------
    hidden : frozenset of str
        Parts that are not on the map.
    meter : Meter
        What the meter claims of itself; its true errors are drawn apart.
    heat_method : str
        ``finger`` or ``camera``: what the bench has.
    tags : tuple of (str, str)
        Fault kind, severity, hiding and so on, for the breakdowns.
    """

    name: str
    seed: str
    world: World
    faults: tuple[Fault, ...]
    hidden: frozenset[str]
    meter: Meter
    heat_method: str
    tags: tuple[tuple[str, str], ...] = field(default=())

    @property
    def culprits(self) -> frozenset[str]:
        """The parts at which something is wrong."""
        return frozenset(fault.part for fault in self.faults)

    def tag(self, name: str) -> str:
        """One tag, "" where it is not set."""
        return dict(self.tags).get(name, "")
