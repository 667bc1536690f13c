"""The true board while it is fed: switches close, regulators regulate or give up, chips wake.

Each attempt is one operating point of the simulator; between attempts every driving part looks at the volts it
got and changes its mind. A part that cannot make up its mind gives up, as real ones do after a few tries;
what is shown is then the state in which it has given up. The supply's current limit is part of the circuit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from judge.flows import carrying, junction_watts
from judge.netlist import Network
from judge.spice import Simulator
from judge.standing import ALL, Standing
from judge.wiring import Wired, Wiring
from judge.world import Drive, Fault, TruePart
from ohmwright.circuit import Feed

ATTEMPTS = 90
LATE = 25
"""Attempt from which a part that changes its mind once more gives up for good."""
PATIENCE = 3
"""Times a driving part changes its mind before it gives up. [1]"""
DROPOUT = 0.12
"""Least volts across a linear regulator that regulates. [V]"""
ENABLE = 1.0
"""Volts at an enable pin from which it is high. [V]"""
OVERVOLTAGE = 1.22
"""Share of the target at which a regulator latches off. [1]"""
HICCUP = 0.12
"""Share of its limit that a regulator delivers on average while it tries again and again. [1]"""


@dataclass(frozen=True)
class Fed:
    """The board as it is fed.

    Parameters
    ----------
    volts : mapping
        Of every node. [V]
    terminal, amps : float
        At the supply. [V], [A]
    watts : mapping
        By part. [W]
    pads : mapping
        Node of each pad that lies on copper laid out.
    running : frozenset of str
        Parts whose drive works.
    given_up : frozenset of str
        Parts that tried and gave up.
    """

    volts: Mapping[str, float]
    terminal: float
    amps: float
    limiting: bool
    watts: Mapping[str, float]
    pads: Mapping[str, str]
    network: Network
    running: frozenset[str]
    given_up: frozenset[str]


@dataclass
class _Mind:
    """What one drive does now."""

    part: TruePart
    drive: Drive
    source: str
    sink: str
    on: bool = False
    limiting: bool = False
    idle: bool = False
    target: float = 0.0
    takes: float = 0.0
    flips: int = 0
    quit: bool = False
    gives: float = 0.0
    strained: int = 0
    adjusted: int = 0


@dataclass
class _Supply:
    feed: Feed
    leads: float
    plus: str
    minus: str
    limiting: bool = False


@dataclass
class _Sleeper:
    part: str
    node: str
    wakes: float
    amps: float
    on: bool = False
    flips: int = 0


@dataclass
class _Scene:
    wired: Wired
    supply: _Supply
    minds: list[_Mind] = field(default_factory=list)
    sleepers: list[_Sleeper] = field(default_factory=list)
    late: bool = False


class Feeder:
    """Solves fed boards of one world."""

    def __init__(self, wiring: Wiring, simulator: Simulator, leads: float) -> None:
        self.wiring = wiring
        self.world = wiring.world
        self.simulator = simulator
        self.leads = leads

    def fed(self, standing: Standing, faults: tuple[Fault, ...]) -> Fed:
        """The board in that standing, whose feed is on."""
        scene = self._scene(standing, faults)
        volts: dict[str, float] = {}
        network = scene.wired.network
        for attempt in range(ATTEMPTS):
            scene.late = attempt >= LATE
            network = _attempt(scene, self.world.ground)
            volts = self.simulator.volts(network)
            if not self._think(scene, volts):
                break
        return self._told(scene, volts, network)

    def _scene(self, standing: Standing, faults: tuple[Fault, ...]) -> _Scene:
        feed = standing.feed
        if feed is None:
            raise ValueError("the supply is off")
        active = standing.active(self.world, faults)
        copper = carrying(self.world, standing, active)
        wired = self.wiring.board(standing, faults, copper)
        inner = {f"{f.part}.{f.a}" for f in active if f.kind == "joint"} | set(standing.damaged | standing.lifted)
        supply = _Supply(feed, self.leads, self.wiring.point(wired, feed.plus), self.wiring.point(wired, feed.minus))
        scene = _Scene(wired, supply)
        for part in self.world.parts:
            if part.name not in standing.off:
                self._cast(scene, part, tuple(f for f in active if f.part == part.name), inner)
        return scene

    def _cast(self, scene: _Scene, part: TruePart, mine: tuple[Fault, ...], inner: set[str]) -> None:
        def node(number: str) -> str | None:
            return self.wiring.node(scene.wired, part.name, part.pin(number), inner)

        for drive in part.drives:
            source, sink = node(drive.source), node(drive.sink)
            if source is not None and sink is not None and source != sink and not _dead(drive, mine):
                scene.minds.append(_Mind(part, drive, source, sink, target=drive.volts or 0.0))
        dead = any(f.kind in ("short", "open") for f in mine)
        for awake in part.awake:
            at = node(awake.pin)
            if at is not None and not dead:
                scene.sleepers.append(_Sleeper(part.name, at, awake.wakes, awake.amps))

    # One attempt after another

    def _think(self, scene: _Scene, volts: Mapping[str, float]) -> bool:
        """Let everything look at its volts; whether anything changed."""
        changed = _supply_thinks(scene.supply, volts)
        for mind in scene.minds:
            changed |= self._drive_thinks(mind, volts, scene)
        for sleeper in scene.sleepers:
            up = volts[sleeper.node] >= sleeper.wakes * (0.9 if sleeper.on else 1.0)
            if up != sleeper.on and (sleeper.on or (sleeper.flips < PATIENCE and not scene.late)):
                sleeper.on, sleeper.flips, changed = up, sleeper.flips + 1, True
        return changed

    def _pin(self, mind: _Mind, number: str | None, scene: _Scene, volts: Mapping[str, float]) -> float | None:
        if number is None:
            return None
        pin = mind.part.pin(number)
        if pin.net is None:
            return None
        return volts.get(self.wiring.point(scene.wired, f"{mind.part.name}.{number}"))

    def _drive_thinks(self, mind: _Mind, volts: Mapping[str, float], scene: _Scene) -> bool:
        drive = mind.drive
        if mind.quit:
            return False
        enable = self._pin(mind, drive.enable, scene, volts)
        there = volts[mind.source]
        wanted = there >= drive.needs * (0.82 if mind.on else 1.0) and (enable is None or enable >= ENABLE)
        if wanted != mind.on and scene.late:
            changed, mind.quit, mind.on = mind.on, True, False
            return changed
        if wanted != mind.on and mind.on and mind.strained < PATIENCE:
            # A dip of one attempt is not yet a reason to let go.
            mind.strained += 1
            return True
        if wanted != mind.on:
            mind.strained = 0
            mind.on, mind.limiting, mind.idle, mind.takes = wanted, False, False, 0.0
            mind.gives = _aim(mind, there)
            mind.flips += 1
            if mind.flips > 2 * PATIENCE:
                mind.quit, mind.on = True, False
            return True
        if not mind.on or drive.volts is None:
            return False
        if scene.late:
            mind.flips, mind.strained = 2 * PATIENCE, PATIENCE
        return self._regulates(mind, volts, there) or (not scene.late and self._adjusts(mind, scene, volts))

    def _regulates(self, mind: _Mind, volts: Mapping[str, float], there: float) -> bool:
        drive, out, aim = mind.drive, volts[mind.sink], _aim(mind, there)
        if mind.idle:
            if out < 0.98 * aim and mind.flips < 2 * PATIENCE:
                mind.idle, mind.gives, mind.flips = False, aim, mind.flips + 1
                return True
            return False
        amps = (mind.gives - out) / _behind(mind)
        if amps < -1e-4 * drive.limit:
            mind.idle, mind.takes, mind.limiting = True, 0.0, False
            return True
        if not mind.limiting and amps > drive.limit and mind.strained < PATIENCE:
            mind.strained += 1
            mind.takes = 0.5 * mind.takes
            return True
        if not mind.limiting and amps > drive.limit:
            mind.limiting, mind.takes = True, 0.0
            return True
        mind.strained = 0
        if drive.efficiency is None:
            takes = max(amps, 0.0)
        else:
            takes = max(out, 0.05) * max(amps, 0.0) / (drive.efficiency * max(there, 0.6 * drive.needs)) + 2e-3
        moved = abs(takes - mind.takes) > 0.01 * abs(takes) + 2e-4 or abs(aim - mind.gives) > 2e-3
        mind.takes, mind.gives = takes, aim
        return moved

    def _adjusts(self, mind: _Mind, scene: _Scene, volts: Mapping[str, float]) -> bool:
        """Follow the feedback pin; latch off where the output runs away."""
        drive = mind.drive
        felt = self._pin(mind, drive.feedback, scene, volts)
        if felt is None or drive.volts is None or mind.limiting or mind.idle or mind.adjusted > 8:
            return False
        if abs(felt - drive.reference) <= 0.004 * drive.reference:
            return False
        mind.adjusted += 1
        mind.target = mind.target * min(drive.reference / max(felt, 1e-3), 1.3)
        if mind.target > OVERVOLTAGE * drive.volts:
            mind.quit, mind.on, mind.target = True, False, 0.0
        return True

    # The answer

    def _told(self, scene: _Scene, volts: dict[str, float], network: Network) -> Fed:
        supply = scene.supply
        across = volts[supply.plus] - volts[supply.minus]
        amps = supply.feed.limit if supply.limiting else (supply.feed.volts - across) / self.leads
        watts: dict[str, float] = {}
        wired = scene.wired
        for owner, (a, b, ohms) in zip(wired.resistors, network.resistances, strict=False):
            watts[owner] = watts.get(owner, 0.0) + (volts[a] - volts[b]) ** 2 / max(ohms, 1e-6)
        for owner, power in zip(wired.junctions, junction_watts(network, volts), strict=True):
            watts[owner] = watts.get(owner, 0.0) + power
        for mind in scene.minds:
            watts[mind.part.name] = watts.get(mind.part.name, 0.0) + _drive_watts(mind, volts)
        for sleeper in scene.sleepers:
            if sleeper.on:
                watts[sleeper.part] = watts.get(sleeper.part, 0.0) + volts[sleeper.node] * sleeper.amps
        watts.pop("", None)
        running = frozenset(m.part.name for m in scene.minds if m.on and not m.idle)
        given_up = frozenset(m.part.name for m in scene.minds if m.quit or m.limiting)
        terminal = across + amps * self.leads
        return Fed(volts, terminal, amps, supply.limiting, watts, wired.pads, network, running, given_up)


def _aim(mind: _Mind, there: float) -> float:
    """Volts the drive would hold with that much at its source. [V]"""
    return max(min(mind.target, there - DROPOUT), 0.0) if mind.drive.efficiency is None else mind.target


def _behind(mind: _Mind) -> float:
    """Resistance of the held output; of one that tries again and again, such that the average stays small. [Ω]"""
    if mind.limiting:
        return max(mind.target, 0.1) / (HICCUP * mind.drive.limit)
    return mind.drive.ohms


def _dead(drive: Drive, mine: tuple[Fault, ...]) -> bool:
    """Whether a fault of the part keeps a drive from working."""
    for fault in mine:
        if fault.kind == "open" and fault.label in (ALL, "drive"):
            return True
        pair = {fault.a, fault.b}
        if fault.kind in ("short", "leak") and fault.ohms < 2e3 and drive.gate in pair and drive.source in pair:
            return True
        if fault.kind == "short" and drive.volts is not None and fault.ohms < 3.0:
            return True
    return False


def _supply_thinks(supply: _Supply, volts: Mapping[str, float]) -> bool:
    across = volts[supply.plus] - volts[supply.minus]
    if supply.limiting:
        over = across + supply.feed.limit * supply.leads > supply.feed.volts * 1.0001
    else:
        over = (supply.feed.volts - across) / supply.leads > supply.feed.limit * 1.0001
    if over:
        supply.limiting = not supply.limiting
        return True
    return False


def _attempt(scene: _Scene, ground: str) -> Network:
    """The network of the moment: what conducts by itself, then supply, drives and wakers."""
    bare = scene.wired.network
    network = Network(ground, list(bare.resistances), bare.junctions, [])
    supply = scene.supply
    if supply.limiting:
        network.push(supply.minus, supply.plus, supply.feed.limit)
    else:
        network.resist(supply.plus, supply.minus, supply.leads)
        network.push(supply.minus, supply.plus, supply.feed.volts / supply.leads)
    for mind in scene.minds:
        _act(network, mind, ground)
    for sleeper in scene.sleepers:
        if sleeper.on:
            network.push(sleeper.node, ground, sleeper.amps)
    return network


def _act(network: Network, mind: _Mind, ground: str) -> None:
    if not mind.on or mind.idle:
        return
    drive = mind.drive
    if drive.volts is None:
        network.resist(mind.source, mind.sink, drive.ohms)
    else:
        network.resist(mind.sink, ground, _behind(mind))
        network.push(ground, mind.sink, mind.gives / _behind(mind))
        network.push(mind.source, ground, mind.takes)


def _drive_watts(mind: _Mind, volts: Mapping[str, float]) -> float:
    if not mind.on or mind.idle:
        return 0.0
    source, sink, drive = volts[mind.source], volts[mind.sink], mind.drive
    if drive.volts is None:
        return (source - sink) ** 2 / drive.ohms
    amps = (mind.gives - sink) / _behind(mind)
    return max(source * mind.takes - sink * amps, 0.0)
