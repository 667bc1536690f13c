"""Everything that could be done next on a board as it stands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ohmwright.circuit import Board, BoardState, Feed
from ohmwright.diagnosis import Posterior
from ohmwright.facts import FED, HANDHELD, EntryFact, Facts, Meter, Quantity, Reading
from ohmwright.faults import DefectKind
from ohmwright.planning import costs
from ohmwright.planning.advice import Step, TestKind

LOW_VOLTS = 0.8
LOW_AMPS = 1.0
RAIL_AMPS = 0.5
SERIES = ("coil", "ferrite", "fuse", "sense", "link", "resistor", "unknown-two-pads")
MOST_NETS = 14
MOST_PAIRS = 12
LEAST_MASS = 0.003
"""Belief at a net or a pair below which it is not worth probing. [1]"""
MOST_REMOVALS = 10


@dataclass(frozen=True, slots=True)
class Candidate:
    """One thing that could be done.

    Parameters
    ----------
    reading : Reading or None
        The reading that tells, with its value left open; None for looks, heat, removals and cures.
    target : tuple of str
        Parts (or a net) it is about.
    """

    kind: TestKind
    title: str
    steps: tuple[Step, ...]
    minutes: float
    risk: float
    reading: Reading | None = None
    target: tuple[str, ...] = ()
    feed: Feed | None = None
    cure: str = ""


@dataclass(frozen=True, slots=True)
class Scene:
    """What the candidates are made from."""

    posterior: Posterior
    board: Board
    facts: Facts
    meter: Meter

    @property
    def state(self) -> BoardState:
        """How the board stands now, unfed."""
        return self.facts.state.unfed

    def quiet(self) -> tuple[Step, ...]:
        """Steps that make the board safe for ohms, diode mode or work."""
        steps: tuple[Step, ...] = ()
        if self.facts.state.feed is not None:
            steps += (Step("feed off"),)
        if self.facts.state.feed is not None or not self.facts.discharged:
            steps += (Step("discharge"),)
        return steps


def scene_of(posterior: Posterior) -> Scene:
    """The scene of a case, with the meter used last."""
    readings = posterior.facts.readings
    meter = next((r.meter for r in reversed(readings) if r.meter.name and r.value is not None), HANDHELD)
    return Scene(posterior, posterior.board, posterior.facts, meter)


def mass_by_net(posterior: Posterior) -> dict[str, float]:
    """How much belief lies at each net: the nets of every defect, weighed."""
    mass = dict.fromkeys(posterior.board.net_by_name, 0.0)
    for p, hypothesis in zip(posterior.probabilities.tolist(), posterior.hypotheses, strict=True):
        for defect in hypothesis.defects:
            for net in defect.nets:
                mass[net] += p
    return mass


def probes(scene: Scene) -> Iterator[Candidate]:
    """Diode mode and ohms at nets, ohms across series parts and between suspected pin pairs."""
    board, state = scene.board, scene.state
    done = {
        (r.quantity, frozenset((board.net_at(r.red), board.net_at(r.black))))
        for r in scene.facts.readings
        if r.quantity not in FED and _same_circuit(r.state, state)
    }
    mass = mass_by_net(scene.posterior)
    worth = [n for n in mass if n != board.ground and board.pins_on[n] and mass[n] >= LEAST_MASS]
    nets = sorted(worth, key=lambda n: -mass[n])[:MOST_NETS]
    for net in nets:
        for quantity, red, black, minutes in (
            (Quantity.DIODE, board.ground, net, costs.PROBE),
            (Quantity.OHMS, net, board.ground, costs.OHMS),
        ):
            if (quantity, frozenset((red, black))) not in done:
                yield _probe(
                    scene,
                    TestKind(quantity.value if quantity is Quantity.OHMS else "diode mode"),
                    quantity,
                    red,
                    black,
                    minutes,
                )
    for red, black in _pairs(scene, mass):
        if (Quantity.OHMS, frozenset((red, black))) not in done:
            yield _probe(scene, TestKind.PAIR, Quantity.OHMS, red, black, costs.PAIR)


def _probe(scene: Scene, kind: TestKind, quantity: Quantity, red: str, black: str, minutes: float) -> Candidate:
    quiet = scene.quiet()
    reading = Reading(quantity, red, black, 0.0, scene.state, scene.meter)
    steps = (*quiet, Step("read", quantity.value, point(scene, red), point(scene, black)))
    words = "diode mode, red on ground, black" if quantity is Quantity.DIODE else "ohms, from"
    where = at(scene, black if quantity is Quantity.DIODE else red)
    other = "" if quantity is Quantity.DIODE else f" to {at(scene, black)}"
    title = f"Read {words} {'on ' if quantity is Quantity.DIODE else ''}{where}{other}"
    return Candidate(kind, title, steps, minutes + 0.2 * len(quiet), 0.0, reading)


def _same_circuit(one: BoardState, other: BoardState) -> bool:
    return (one.off, one.lifted, one.bridges, one.replaced, one.cleaned) == (
        other.off,
        other.lifted,
        other.bridges,
        other.replaced,
        other.cleaned,
    )


def _pairs(scene: Scene, mass: dict[str, float]) -> list[tuple[str, str]]:
    """Pairs of nets, neither ground, that a suspected path, open or drift lies between."""
    ground = scene.board.ground
    weight: dict[tuple[str, str], float] = {}
    for p, hypothesis in zip(scene.posterior.probabilities.tolist(), scene.posterior.hypotheses, strict=True):
        for defect in hypothesis.defects:
            if ground not in defect.nets and p > 1e-5:
                a, b = sorted(defect.nets)
                weight[a, b] = weight.get((a, b), 0.0) + p
    worth = [pair for pair in weight if weight[pair] >= LEAST_MASS]
    return sorted(worth, key=lambda pair: -weight[pair])[:MOST_PAIRS]


def feeds(scene: Scene) -> Iterator[tuple[Feed, Candidate]]:
    """Feeds of suspected rails and of the entry, each with the supply's own reading as the first thing told."""
    board = scene.board
    mass = mass_by_net(scene.posterior)
    rails = [n for n in sorted(mass, key=lambda n: -mass[n]) if n != board.ground and _feedable(board, n)][:5]
    entries = [e for e in board.entries if e not in rails][:2]
    labels = {board.net_at(e.net): e.label_volts for e in scene.facts.entries if e.label_volts}
    for net in (*rails, *entries):
        options = [(LOW_VOLTS, LOW_AMPS)]
        full = labels.get(net) or (board.net(net).nominal if net not in board.entries else None)
        if full and full > 1.0:
            options.append((full, RAIL_AMPS))
        for volts, limit in options:
            feed = Feed(net, board.ground, volts, limit)
            if not _fed_before(scene, feed):
                yield feed, feed_candidate(scene, feed)


def feed_candidate(scene: Scene, feed: Feed) -> Candidate:
    """Feed and read the supply's own display: volts where it runs into its limit, else amperes."""
    state = scene.state.with_feed(feed)
    quantity = Quantity.SUPPLY_VOLTS if feed.volts <= LOW_VOLTS else Quantity.SUPPLY_AMPS
    reading = Reading(quantity, feed.plus, feed.minus, 0.0, state, scene.meter)
    ready = scene.facts.state.feed == feed
    steps: tuple[Step, ...] = () if ready else (*_switch_over(scene), Step("feed", feed=feed))
    other = Quantity.SUPPLY_AMPS if quantity is Quantity.SUPPLY_VOLTS else Quantity.SUPPLY_VOLTS
    steps += (Step("read", quantity.value, feed.plus, feed.minus), Step("read", other.value, feed.plus, feed.minus))
    title = f"Feed {at(scene, feed.plus)} with {feed.volts:g} V, limit {feed.limit:g} A, and read the supply"
    return Candidate(TestKind.FEED, title, steps, costs.FEED + 0.3, 0.1, reading, (), feed)


def _switch_over(scene: Scene) -> tuple[Step, ...]:
    return (Step("feed off"),) if scene.facts.state.feed is not None else ()


def millivolts(scene: Scene, feed: Feed) -> Iterator[Candidate]:
    """Volts across every series part near a fed rail."""
    board = scene.board
    state = scene.state.with_feed(feed)
    ready = scene.facts.state.feed == feed
    lead_in: tuple[Step, ...] = () if ready else (*_switch_over(scene), Step("feed", feed=feed))
    done = {
        frozenset((board.net_at(r.red), board.net_at(r.black)))
        for r in scene.facts.readings
        if r.quantity is Quantity.VOLTS and r.state.feed == feed and _same_circuit(r.state, scene.state)
    }
    near = _near(board, scene.state, feed.plus)
    for part in board.parts:
        if part.kind not in SERIES or len(part.nets) != 2 or part.name in scene.state.off:
            continue
        a, b = part.nets
        if board.ground in (a, b) or not {a, b} & near or frozenset((a, b)) in done:
            continue
        red, black = (a, b) if a == feed.plus or (a in near and b not in near) else (b, a)
        reading = Reading(Quantity.VOLTS, red, black, 0.0, state, scene.meter)
        steps = (*lead_in, Step("read", Quantity.VOLTS.value, point(scene, red), point(scene, black)))
        title = f"{_fed(scene, feed)}: millivolts across {part.name}"
        minutes = costs.FED_READING + (0.0 if ready else costs.FEED)
        yield Candidate(TestKind.MILLIVOLTS, title, steps, minutes, 0.0 if ready else 0.1, reading, (part.name,), feed)


def _fed(scene: Scene, feed: Feed) -> str:
    return f"With {at(scene, feed.plus)} fed at {feed.volts:g} V, limit {feed.limit:g} A"


def _near(board: Board, state: BoardState, net: str) -> set[str]:
    """Nets joined to a net by parts of little resistance."""
    found, queue = {net}, [net]
    while queue:
        here = queue.pop()
        for part, _ in board.pins_on[here]:
            if part.kind in SERIES[:5] and part.name not in state.off:
                for there in part.nets:
                    if there not in found and there != board.ground:
                        found.add(there)
                        queue.append(there)
    return found


def _feedable(board: Board, net: str) -> bool:
    pins = board.pins_on[net]
    caps = sum(part.kind in ("capacitor", "polymer", "unknown-two-pads") for part, _ in pins)
    return board.net(net).rail or net in board.entries or caps >= 1


def _fed_before(scene: Scene, feed: Feed) -> bool:
    return any(
        r.quantity in (Quantity.SUPPLY_VOLTS, Quantity.SUPPLY_AMPS)
        and r.state.feed == feed
        and _same_circuit(r.state, scene.state)
        for r in scene.facts.readings
    )


def heat(scene: Scene, feed: Feed) -> Candidate | None:
    """Feel for heat under a feed, once per feed."""
    if any(
        h.state.feed is not None and h.state.feed.plus == feed.plus and _same_circuit(h.state, scene.state)
        for h in scene.facts.heats
    ):
        return None
    ready = scene.facts.state.feed == feed
    lead_in: tuple[Step, ...] = () if ready else (*_switch_over(scene), Step("feed", feed=feed))
    title = f"{_fed(scene, feed)}: feel what gets warm"
    minutes = costs.HEAT + (0.0 if ready else costs.FEED)
    return Candidate(TestKind.HEAT, title, (*lead_in, Step("heat")), minutes, 0.15, None, (), feed)


def look(scene: Scene, parts: Sequence[str]) -> Candidate | None:
    """Look at the leading suspects not looked at yet."""
    seen = {part for look in scene.facts.looks for part in look.parts}
    fresh = tuple(part for part in parts if part and part not in seen)[:8]
    if not fresh:
        return None
    title = f"Look closely at {', '.join(fresh)}: cracks, burns, corrosion"
    return Candidate(TestKind.LOOK, title, (*scene.quiet(), Step("look", parts=fresh)), costs.LOOK, 0.0, None, fresh)


def removals(
    scene: Scene, share: dict[str, float], path_of: dict[str, tuple[str, str, str, str]]
) -> Iterator[Candidate]:
    """Take off the leading suspects, each read on the board and by itself.

    Parameters
    ----------
    share : dict
        Belief in each part.
    path_of : dict
        For each part the pins (as ``PART.PIN``) and nets of its likeliest defect.
    """
    for name in sorted(share, key=lambda part: -share[part] / costs.removal_minutes(scene.board.part(part)))[
        :MOST_REMOVALS
    ]:
        part = scene.board.part(name)
        if name in scene.state.off or name not in path_of:
            continue
        red_pin, black_pin, red, black = path_of[name]
        before, after = _paired_reading(scene, red, black)
        steps = (
            *scene.quiet(),
            *before,
            Step("take off", parts=(name,)),
            *after,
            Step("read", Quantity.PART_OHMS.value, red_pin, black_pin),
        )
        title = f"Take {name} off; read its place and the part by itself"
        minutes = costs.removal_minutes(part) + costs.LOOSE + 0.3
        yield Candidate(TestKind.TAKE_OFF, title, steps, minutes, costs.removal_risk(part), None, (name,))


def _paired_reading(scene: Scene, red: str, black: str) -> tuple[tuple[Step, ...], tuple[Step, ...]]:
    """Steps of the same reading before (where none is on record) and after."""
    board = scene.board
    pair = frozenset((red, black))
    for reading in reversed(scene.facts.readings):
        if (
            reading.quantity in (Quantity.DIODE, Quantity.OHMS)
            and frozenset((board.net_at(reading.red), board.net_at(reading.black))) == pair
            and _same_circuit(reading.state, scene.state)
            and reading.quantity is Quantity.OHMS
        ):
            return (), (Step("read", reading.quantity.value, reading.red, reading.black),)
    step = Step("read", Quantity.OHMS.value, point(scene, red), point(scene, black))
    return (step,), (step,)


def cures(scene: Scene, joints: Sequence[tuple[str, str, str]], dirty: Sequence[str]) -> Iterator[Candidate]:
    """Reflow a suspected joint or clean a suspected net, read again, and try.

    Parameters
    ----------
    joints : sequence of (part, net, net)
    dirty : sequence of str
        Nets.
    """
    for name, red, black in joints:
        if name in scene.state.cleaned or name in scene.state.off:
            continue
        before, after = _paired_reading(scene, red, black)
        steps = (*scene.quiet(), *before, Step("reflow", parts=(name,)), *after, *_refitted(scene), Step("try"))
        yield Candidate(
            TestKind.REPLACE,
            f"Reflow {name}, read again and try",
            steps,
            costs.CURE + costs.TRY,
            1.0,
            None,
            (name,),
            None,
            "reflow",
        )
    for net in dirty:
        if net in scene.state.cleaned:
            continue
        before, after = _paired_reading(scene, net, scene.board.ground)
        steps = (*scene.quiet(), *before, Step("clean", parts=(net,)), *after, *_refitted(scene), Step("try"))
        yield Candidate(
            TestKind.REPLACE,
            f"Clean around {at(scene, net)}, let it dry, read again and try",
            steps,
            costs.CURE + costs.TRY + 3.0,
            0.3,
            None,
            (net,),
            None,
            "clean",
        )


def fresh_parts(scene: Scene, share: dict[str, float]) -> Iterator[Candidate]:
    """Fit a new part where a strongly suspected one came off, read again and try."""
    for name in sorted(scene.state.off, key=lambda part: -share.get(part, 0.0)):
        if share.get(name, 0.0) < 0.5:
            continue
        nets = [net for net in scene.board.part(name).nets if net != scene.board.ground]
        if not nets:
            continue
        other = nets[1] if len(nets) > 1 and len(scene.board.part(name).nets) == 2 else scene.board.ground
        _, after = _paired_reading(scene, nets[0], other)
        steps = (*scene.quiet(), Step("replace", parts=(name,)), *_refitted(scene, name), *after, Step("try"))
        minutes = 0.7 * costs.removal_minutes(scene.board.part(name)) + costs.TRY
        title = f"Fit a new {name}, read again and try"
        yield Candidate(TestKind.REPLACE, title, steps, minutes, 0.5, None, (name,), None, "replace")


def _refitted(scene: Scene, besides: str = "") -> tuple[Step, ...]:
    """Whatever is off goes back on before the board is tried."""
    return tuple(Step("refit", parts=(part,)) for part in sorted(scene.state.off) if part != besides)


def entry_gate(scene: Scene) -> Candidate | None:
    """The first thing of all: battery off, label read, polarity measured."""
    net = scene.board.entries[0] if scene.board.entries else scene.board.ground
    known = [entry for entry in scene.facts.entries if entry.battery_off]
    if known:
        return None
    title = f"Before anything: battery off; read the label at {at(scene, net)}; measure which contact is positive"
    return Candidate(TestKind.GATE, title, (Step("describe", red=net),), 1.0, 0.0)


def known_entry(facts: Facts, net: str) -> EntryFact | None:
    """What is known of a power entry."""
    return next((entry for entry in facts.entries if entry.net == net), None)


def point(scene: Scene, net: str) -> str:
    """Where to put a probe on a net: the pad of a two-pad part where there is one, else any pad."""
    board = scene.board
    if net == board.ground:
        return net
    off = scene.state.off
    pins = [(part, pin) for part, pin in board.pins_on[net] if part.name not in off]
    for wanted in (("capacitor", "polymer"), SERIES):
        for part, pin in pins:
            if part.kind in wanted:
                return f"{part.name}.{pin.number}"
    return f"{pins[0][0].name}.{pins[0][1].number}" if pins else net


def at(scene: Scene, net: str) -> str:
    """A net with the pad to touch, in words."""
    pad = point(scene, net)
    return net if pad == net else f"{net} (at {pad})"


def path_nets(posterior: Posterior) -> dict[str, float]:
    """Belief in a path from each net to ground."""
    out: dict[str, float] = {}
    ground = posterior.board.ground
    for p, hypothesis in zip(posterior.probabilities.tolist(), posterior.hypotheses, strict=True):
        for defect in hypothesis.defects:
            if defect.kind is DefectKind.PATH and ground in defect.nets:
                net = defect.nets[0] if defect.nets[1] == ground else defect.nets[1]
                out[net] = out.get(net, 0.0) + p
    return out
