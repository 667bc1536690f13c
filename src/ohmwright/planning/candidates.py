"""Everything that could be done next on a board as it stands."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from ohmwright.circuit import Board, Feed
from ohmwright.devices import one_at_dc
from ohmwright.diagnosis import Posterior
from ohmwright.facts import FED, Quantity, Reading
from ohmwright.faults import Defect, DefectKind
from ohmwright.planning import costs
from ohmwright.planning.advice import Step, TestKind
from ohmwright.planning.scene import SERIES, Scene, at, forward_of, mass_by_net, pad_of, point, same_circuit
from ohmwright.safety import NO_TOUCH

LOW_VOLTS = 0.8
LOW_AMPS = 1.0
RAIL_AMPS = 0.5
MOST_WATTS = 5.0
"""Most power into one place while nobody knows which part takes it. [W] estimate: 0603 to 1210 at 40 to 150 K/W"""
MOST_NETS, HALF_READ = 12, 6
"""Nets never read, and nets read in one way only, that are weighed for a probe. [1]"""
MOST_BEHIND = 8
"""Nets behind metal weighed besides while nothing has been read. [1]"""
MOST_PAIRS, MOST_JUNCTIONS = 12, 6
LEAST_MASS = 0.0005
"""Belief at a net or a pair below which it is not worth probing. [1]"""


@dataclass(frozen=True, slots=True)
class Candidate:
    """One thing that could be done.

    Parameters
    ----------
    reading : Reading or None
        The reading that tells, with its value left open; None for looks, heat, removals and cures.
    target : tuple of str
        Parts (or a net) it is about.
    sides : (frozenset of str, frozenset of str)
        Nets on both sides of what is taken off to split a rail, the likelier side first.
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
    sides: tuple[frozenset[str], frozenset[str]] = (frozenset(), frozenset())


def probes(scene: Scene) -> Iterator[Candidate]:
    """Diode mode and ohms at nets, ohms across series parts and between suspected pin pairs."""
    board, state = scene.board, scene.state
    forward = _read_in_diode_mode(scene)
    done = {
        (r.quantity, frozenset((board.net_at(r.red), board.net_at(r.black))))
        for r in scene.facts.readings
        if r.quantity not in FED and r.quantity is not Quantity.DIODE and same_circuit(r.state, state)
    } | {(Quantity.DIODE, frozenset(pair)) for pair in forward if pair[0] == board.ground}
    mass = mass_by_net(scene.posterior)
    worth = [n for n in mass if n != board.ground and board.pins_on[n] and mass[n] >= LEAST_MASS]
    nets = _worth_probing(worth, mass, done, board.ground)
    for net in nets if done else (*nets, *_behind_metal(scene, mass, set(worth) - set(nets))):
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
    for red, black in _junctions(scene, forward):
        yield _probe(scene, TestKind.PAIR, Quantity.DIODE, red, black, costs.PAIR)
    for red, black in _pairs(scene, mass):
        if (Quantity.OHMS, frozenset((red, black))) not in done:
            yield _probe(scene, TestKind.PAIR, Quantity.OHMS, red, black, costs.PAIR)


def _worth_probing(
    nets: list[str], mass: dict[str, float], done: set[tuple[Quantity, frozenset[str]]], ground: str
) -> list[str]:
    """The nets with most belief among those never read, and among those read in one way only.

    A rail that was read keeps much belief; it must not keep the many nets with a little each from being read at all.
    """
    read = {net: sum((q, frozenset((net, ground))) in done for q in (Quantity.DIODE, Quantity.OHMS)) for net in nets}
    order = sorted(nets, key=lambda n: -mass[n])
    fresh, half = ([net for net in order if read[net] == times] for times in (0, 1))
    kept = {*fresh[:MOST_NETS], *half[:HALF_READ]}
    return [net for net in order if net in kept]


def _behind_metal(scene: Scene, mass: dict[str, float], left: set[str]) -> list[str]:
    """Of the groups of nets that metal joins, heaviest first, the one left at which that metal itself is most suspect.

    A probe there sees what lies on all of them, and whether the metal between conducts; by its own mass alone it
    comes behind every rail of a big board.
    """
    joined = one_at_dc(scene.board, scene.state.off)

    def is_between(defect: Defect) -> bool:
        return defect.kind is DefectKind.OPEN and len(defect.nets) == 2 and defect.nets[1] in joined[defect.nets[0]]

    between = mass_by_net(scene.posterior, is_between)
    groups = sorted({joined[net] for net in left}, key=lambda group: (-sum(mass[net] for net in group), min(group)))
    best = [min(group & left, key=lambda net: (-between[net], mass[net], net)) for group in groups]
    return [net for net in best if between[net] > 0.0][:MOST_BEHIND]


def _probe(scene: Scene, kind: TestKind, quantity: Quantity, red: str, black: str, minutes: float) -> Candidate:
    quiet = scene.quiet()
    reading = Reading(quantity, red, black, 0.0, scene.state, scene.meter)
    steps = (*quiet, Step("read", quantity.value, point(scene, red), point(scene, black)))
    if quantity is Quantity.DIODE:
        first = "ground" if red == scene.board.ground else at(scene, red)
        title = f"Read diode mode, red on {first}, black on {at(scene, black)}"
    else:
        title = f"Read ohms, from {at(scene, red)} to {at(scene, black)}"
    return Candidate(kind, title, steps, minutes + 0.2 * len(quiet), 0.0, reading)


def _read_in_diode_mode(scene: Scene) -> set[tuple[str, str]]:
    """Nets that were read in diode mode as the board stands now, red first."""
    board = scene.board
    return {
        (board.net_at(r.red), board.net_at(r.black))
        for r in scene.facts.readings
        if r.quantity is Quantity.DIODE and same_circuit(r.state, scene.state)
    }


def _junctions(scene: Scene, done: set[tuple[str, str]]) -> list[tuple[str, str]]:
    """From where to where junctions conduct that may be open, ground to a net left out: that is read anyway."""
    weight: dict[tuple[str, str], float] = {}
    for p, defect in zip(scene.posterior.by_defect.tolist(), scene.posterior.roster.defects, strict=True):
        forward = forward_of(scene.posterior, defect) if p > LEAST_MASS else None
        if forward is not None and forward[0] != scene.board.ground:
            weight[forward] = weight.get(forward, 0.0) + p
    return sorted(set(weight) - done, key=lambda pair: -weight[pair])[:MOST_JUNCTIONS]


def _pairs(scene: Scene, mass: dict[str, float]) -> list[tuple[str, str]]:
    """Pairs of nets, neither ground, that a suspected path, open or drift lies between."""
    ground = scene.board.ground
    weight: dict[tuple[str, str], float] = {}
    for p, defect in zip(scene.posterior.by_defect.tolist(), scene.posterior.roster.defects, strict=True):
        if p > 1e-5 and ground not in defect.nets:
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
    for net in (*rails, *entries):
        for feed in feeds_of(scene, net):
            if not fed_before(scene, feed):
                yield feed, feed_candidate(scene, feed)


def feeds_of(scene: Scene, net: str) -> list[Feed]:
    """A low feed, at which most junctions stay off, and one at the volts a net works at where those are told.

    What leaks some hundred ohms gets no warmer than its neighbours from the low one.
    """
    board = scene.board
    labels = {board.net_at(e.net): e.label_volts for e in scene.facts.entries if e.label_volts}
    feeds = [Feed(net, board.ground, LOW_VOLTS, LOW_AMPS)]
    full = labels.get(net) or (board.net(net).nominal if net not in board.entries else None)
    if full and full > 1.0:
        watts = math.inf if net in board.entries else MOST_WATTS
        feeds.append(Feed(net, board.ground, full, min(RAIL_AMPS, watts / full)))
    return feeds


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
        if r.quantity is Quantity.VOLTS and r.state.feed == feed and same_circuit(r.state, scene.state)
    }
    near = one_at_dc(board, scene.state.off)[feed.plus]
    for part in board.parts:
        if part.kind not in SERIES or len(part.nets) != 2 or part.name in scene.state.off:
            continue
        a, b = part.nets
        if board.ground in (a, b) or not {a, b} & near or frozenset((a, b)) in done:
            continue
        red, black = (a, b) if a == feed.plus or (a in near and b not in near) else (b, a)
        reading = Reading(Quantity.VOLTS, red, black, 0.0, state, scene.meter)
        # on its own pads: between others, and at the clips above all, lies copper that carries the same current
        steps = (*lead_in, Step("read", Quantity.VOLTS.value, pad_of(part, red), pad_of(part, black)))
        title = f"{_fed(scene, feed)}: millivolts across {part.name}"
        minutes = costs.FED_READING + (0.0 if ready else costs.FEED)
        yield Candidate(TestKind.MILLIVOLTS, title, steps, minutes, 0.0 if ready else 0.1, reading, (part.name,), feed)


def _fed(scene: Scene, feed: Feed) -> str:
    return f"With {at(scene, feed.plus)} fed at {feed.volts:g} V, limit {feed.limit:g} A"


def _feedable(board: Board, net: str) -> bool:
    pins = board.pins_on[net]
    caps = sum(part.kind in ("capacitor", "polymer", "unknown-two-pads") for part, _ in pins)
    return board.net(net).rail or net in board.entries or caps >= 1


def fed_before(scene: Scene, feed: Feed) -> bool:
    """Whether the supply was read at this feed, with the board as it stands."""
    return any(
        r.quantity in (Quantity.SUPPLY_VOLTS, Quantity.SUPPLY_AMPS)
        and r.state.feed == feed
        and same_circuit(r.state, scene.state)
        for r in scene.facts.readings
    )


def _power_read(scene: Scene, feed: Feed) -> tuple[Step, ...]:
    """Volts and amperes of the supply, without which nobody knows what could be felt."""
    if fed_before(scene, feed):
        return ()
    quantities = (Quantity.SUPPLY_VOLTS, Quantity.SUPPLY_AMPS)
    return tuple(Step("read", quantity.value, feed.plus, feed.minus) for quantity in quantities)


def heat(scene: Scene, feed: Feed) -> Candidate | None:
    """Feel for heat under a feed, once for each rail and its volts; a hand goes nowhere near dangerous ones."""
    if feed.volts > NO_TOUCH or any(
        h.state.feed is not None
        and h.state.feed.plus == feed.plus
        and h.state.feed.volts >= feed.volts
        and same_circuit(h.state, scene.state)
        for h in scene.facts.heats
    ):
        return None
    ready = scene.facts.state.feed == feed
    lead_in: tuple[Step, ...] = () if ready else (*_switch_over(scene), Step("feed", feed=feed))
    title = f"{_fed(scene, feed)}: feel what gets warm"
    minutes = costs.HEAT + (0.0 if ready else costs.FEED)
    steps = (*lead_in, *_power_read(scene, feed), Step("heat"))
    return Candidate(TestKind.HEAT, title, steps, minutes, 0.15, None, (), feed)


def path_nets(posterior: Posterior) -> dict[str, float]:
    """Belief in a path from each net to ground."""
    out: dict[str, float] = {}
    ground = posterior.board.ground
    for p, defect in zip(posterior.by_defect.tolist(), posterior.roster.defects, strict=True):
        if p > 1e-6 and defect.kind is DefectKind.PATH and ground in defect.nets:
            net = defect.nets[0] if defect.nets[1] == ground else defect.nets[1]
            out[net] = out.get(net, 0.0) + p
    return out
