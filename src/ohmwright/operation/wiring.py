"""All of a board's elements as one network, and which of them conduct in a given board state.

Every state of a board shares one network, so that states, faults and severities are all just columns
of the same batched solution: a part that is off has its elements at zero.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import Board, BoardState, Element, ElementKind, Part, Pin, Spread
from ohmwright.devices import KINDS, PassPath, could_be, neighbouring, taken_as
from ohmwright.errors import UnknownNameError
from ohmwright.operation.volts import volts_at_least, volts_known
from ohmwright.solver import Network

CORE_VOLTS = 1.35
"""At or below this nominal a rail is taken to feed a core, whose load is 1 to 100 Ω. [V] common practice"""
CORE_LOAD = Spread(25.0, 1.3, "1 to 30 Ω, large packages more; common practice")
LOADS = (
    (CORE_VOLTS, Spread(150.0, 1.4, "15 to 500 Ω for the whole rail, common practice")),
    (2.1, Spread(900.0, 1.5, "100 Ω to 5 kΩ for the whole rail, common practice")),
    (3.7, Spread(5e3, 1.7, "200 Ω to 100 kΩ for the whole rail, common practice")),
    (6.0, Spread(9e3, 1.7, "200 Ω to 100 kΩ for the whole rail, common practice")),
    (1e9, Spread(30e3, 1.7, "5 kΩ to 200 kΩ for the whole rail, common practice")),
)
"""Loads by the rail's volts, highest volts each row holds for first. No source but practice."""
FEW_CHIPS, CROWDED = 3.0, 0.7
"""Chips on a rail up to which those hold, and the power of their number by which a rail of more is lower. [1], [1]
Chips lie in parallel; estimates."""
UNTOLD_LOAD = Spread(4e3, 2.3, "load of a chip on a rail of unknown volts, or behind a coil: core or not; estimate")
OWN_LOAD = 0.8
"""How far one chip's share of a rail's load strays from an even share, as a natural logarithm; estimate. [1]"""
BACKGROUND = Spread(
    5e6, 1.8, "100 kΩ to 200 MΩ from a net of a clean, cold board to ground besides its parts; estimate"
)
HIDDEN_LOADS, HIDDEN_SPREAD = 4.0, 1.8
"""How much lower, and how much less certain, that is where parts are missing from the map: ln; estimates. [1]"""
HIDDEN_PIN = Spread(0.66, 0.15, "a pin of a chip nobody has drawn, 0.35 to 0.75 V, or none; common practice")
"""Drop at 1 mA, from ground, of what hangs on a net whose pads the parts of the map do not explain. [V]"""
HIDDEN_EMISSION = 1.3
"""Emission coefficient of such a pin, as of the pins of drawn chips. [1]"""
TOLD_SPREAD = 2.0
"""Spread where the net's volts, or that power enters there, tell what hangs on it; estimate. [1]"""
SWITCHING = frozenset({"SW", "SW1", "SW2"})
"""Roles of pins behind which there is a coil."""
WIRE = 2e-3
"""A bridge wire with its joints. [Ω]"""
LEAST = 1e-5
"""What a part of "0 Ω" is given, so that taking it off opens the path. [Ω]"""


@dataclass(frozen=True, slots=True)
class Switch:
    """A pass path as the network sees it."""

    part: str
    source: str
    sink: str
    needs: float
    element: int


@dataclass(frozen=True, slots=True)
class RailLoad:
    """What the loads on one net have in common: the net's own way of being light or heavy.

    Parameters
    ----------
    elements : tuple of int
        Indices of the loads.
    spread : float
        Standard deviation of the natural logarithm of what they share. [1]
    """

    net: str
    elements: tuple[int, ...]
    spread: float


@dataclass(frozen=True)
class Wiring:
    """A board's elements and what belongs to whom.

    Parameters
    ----------
    elements : tuple of Element
        Those of sound parts, then those of switches when closed, then what an unknown two-pad part
        would be if it were not what it is first taken for.
    healthy : int
        Number of elements of the first group. [1]
    switches : tuple of Switch
    others : dict
        (part, kind) to the indices of the elements it would have.
    """

    board: Board
    elements: tuple[Element, ...]
    healthy: int
    switches: tuple[Switch, ...]
    others: dict[tuple[str, str], tuple[int, ...]]
    pairs: tuple[tuple[str, str], ...]
    rails: tuple[RailLoad, ...] = ()

    @cached_property
    def network(self) -> Network:
        """The network of all elements, with room for a fault between any of `pairs`."""
        return Network(
            tuple(net.name for net in self.board.nets), self.board.ground, self.elements, extra_pairs=self.pairs
        )

    @cached_property
    def elements_of(self) -> dict[str, tuple[int, ...]]:
        """Indices of the first group by part."""
        found: dict[str, list[int]] = {}
        for index, element in enumerate(self.elements[: self.healthy]):
            found.setdefault(element.part, []).append(index)
        return {part: tuple(indices) for part, indices in found.items()}

    @cached_property
    def index_of(self) -> dict[tuple[str, str], int]:
        """Index of a sound part's element by part and label."""
        return {(e.part, e.label): i for i, e in enumerate(self.elements[: self.healthy])}

    @cached_property
    def at_pin(self) -> dict[tuple[str, str], tuple[int, ...]]:
        """Indices of a sound part's elements that end at one of its nets."""
        found: dict[tuple[str, str], list[int]] = {}
        for index, element in enumerate(self.elements[: self.healthy]):
            if element.part:
                for net in (element.a, element.b):
                    found.setdefault((element.part, net), []).append(index)
        return {where: tuple(indices) for where, indices in found.items()}

    def hit_by(self, defect_part: str, label: str, pin_net: str = "") -> tuple[int, ...]:
        """Indices of the elements that an open or a drift sits in: those of a label, or all at a pin's net."""
        if pin_net:
            return self.at_pin.get((defect_part, pin_net), ())
        found = self.index_of.get((defect_part, label))
        return () if found is None else (found,)

    def present(self, state: BoardState, taken: tuple[tuple[str, str], ...] = ()) -> NDArray[np.bool_]:
        """Which elements conduct in a state.

        Parameters
        ----------
        state : BoardState
        taken : tuple of (str, str)
            Unknown parts with the kinds they are taken to be; with no part's name, what of the wiring is taken for
            absent (see `hidden_pin`).

        Returns
        -------
        ndarray of bool, shape (n_elements,)
        """
        mask = np.zeros(len(self.elements), dtype=bool)
        mask[: self.healthy] = True
        for switch in self.switches:
            mask[switch.element] = switch.part in state.switched_on
        for part, kind in taken:
            gone = self.elements_of.get(part, ()) if part else (self.index_of["", kind],)
            mask[list(gone)] = False
            mask[list(self.others.get((part, kind), ()))] = True
        for part in state.off:
            mask[[i for i, e in enumerate(self.elements) if e.part == part]] = False
        for pin in state.lifted:
            name, _, number = pin.rpartition(".")
            net = self.board.part(name).pin(number).net
            mask[[i for i, e in enumerate(self.elements) if e.part == name and net in (e.a, e.b)]] = False
        return mask

    def wires(self, state: BoardState) -> tuple[tuple[str, str], ...]:
        """Pairs of nets joined by hand in a state."""
        return tuple((self.board.net_at(a), self.board.net_at(b)) for a, b in sorted(state.bridges))


@lru_cache(maxsize=4)
def wiring_of(board: Board, wires: tuple[tuple[str, str], ...] = (), loose: bool = False) -> Wiring:
    """The wiring of a board.

    Parameters
    ----------
    board : Board
    wires : tuple of (str, str)
        Pairs of nets that are joined by hand in some state.
    loose : bool
        Whether it is one part in the air, with nothing about it that leaks.
    """
    sound = [element for part in board.parts for element in _sound(part)]
    rails = _share_loads(board, sound)
    sound += [] if loose else _backgrounds(board, sound)
    elements = list(sound)
    switches = []
    for part in board.parts:
        for path in _passes(part):
            source, sink = part.pin(path.source).net, part.pin(path.sink).net
            if source is None or sink is None or source == sink:
                continue
            closed = Element(
                part.name,
                f"closed {path.source}-{path.sink}",
                ElementKind.RESISTIVE,
                source,
                sink,
                path.on_resistance,
                0.5,
            )
            switches.append(Switch(part.name, source, sink, path.needs, len(elements)))
            elements.append(closed)
    others: dict[tuple[str, str], tuple[int, ...]] = {}
    for part in board.parts:
        if part.kind != "unknown-two-pads":
            continue
        for kind, _ in could_be(part)[1:]:
            alternatives = list(_kind(kind).elements(taken_as(part, kind)))
            others[part.name, kind] = tuple(range(len(elements), len(elements) + len(alternatives)))
            elements.extend(alternatives)
    return Wiring(board, tuple(elements), len(sound), tuple(switches), others, (*_pairs(board), *wires), rails)


def _kind(name: str):  # type: ignore[no-untyped-def]  # Kind; kept short for three callers
    try:
        return KINDS[name]
    except KeyError:
        raise UnknownNameError.among("kind of part", name, KINDS) from None


def _sound(part: Part) -> list[Element]:
    first = taken_as(part, could_be(part)[0][0]) if part.kind == "unknown-two-pads" else part
    out = []
    for element in _kind(first.kind).elements(first):
        if element.kind is ElementKind.RESISTIVE and element.median < LEAST:
            element = replace(element, median=LEAST)
        out.append(element)
    return out


def _backgrounds(board: Board, sound: list[Element]) -> list[Element]:
    """What leaks from each net to ground besides the parts of the map: residues, insulation, parts nobody has drawn."""
    out = []
    clamped = {e.b for e in sound if e.kind is ElementKind.JUNCTION and e.a == board.ground}
    known = volts_known(board)
    for net in board.nets:
        if net.name == board.ground or not board.pins_on[net.name]:
            continue
        hidden = 1.0 if net.unexplained_pads else min(1.0, 3.0 * board.unmapped_share)
        volts = math.inf if net.name in board.entries else known.get(net.name)
        hidden *= 1.0 if net.rail or volts is not None else 0.5
        lower, wider = HIDDEN_LOADS, HIDDEN_SPREAD
        if net.unexplained_pads and coil_missing(board, net.name):
            lower, wider = math.log(BACKGROUND.median / UNTOLD_LOAD.median), UNTOLD_LOAD.log_sd - BACKGROUND.log_sd
            hidden = 1.0
        elif volts is not None:
            usual = next((load for limit, load in LOADS if volts <= limit), LOADS[-1][1])
            lower = math.log(BACKGROUND.median / min(2.0 * usual.median, BACKGROUND.median * math.exp(-HIDDEN_LOADS)))
            wider = TOLD_SPREAD - BACKGROUND.log_sd
        median = BACKGROUND.median * math.exp(-lower * hidden)
        spread = BACKGROUND.log_sd + wider * hidden
        out.append(Element("", f"background {net.name}", ElementKind.RESISTIVE, net.name, board.ground, median, spread))
        if net.unexplained_pads and net.name not in clamped:
            pin, (drop, spread) = hidden_pin(net.name), (HIDDEN_PIN.median, HIDDEN_PIN.log_sd)
            out.append(Element("", pin, ElementKind.JUNCTION, board.ground, net.name, drop, spread, HIDDEN_EMISSION))
    return out


def hidden_pin(net: str) -> str:
    """The label of the junction that pads of a net nobody has explained are taken for."""
    return f"hidden pin {net}"


def coil_missing(board: Board, net: str) -> bool:
    """Whether a switching stage ends there and no coil is drawn: then a rail's load hangs on it all the same."""
    on = board.pins_on[net]
    switching = any(pin.role in SWITCHING and part.kind != "load-switch" for part, pin in on)
    return switching and not any(part.kind == "coil" for part, _ in on)


def _share_loads(board: Board, elements: list[Element]) -> tuple[RailLoad, ...]:
    """Give loads that no part tells the value usual on their net, shared out among them, in place."""
    told = {part.name: {name for name, _ in part.parameters} for part in board.parts}
    on_net: dict[str, list[int]] = {}
    for k, element in enumerate(elements):
        if element.label.startswith("load ") and not {"load", element.label.replace(" ", "_")} & told[element.part]:
            on_net.setdefault(element.a, []).append(k)
    rails = []
    for net, loads in on_net.items():
        usual = _usual_load(board, net, {elements[k].part for k in loads})
        if usual is None:
            continue
        together = usual.median * min(1.0, FEW_CHIPS / len(loads)) ** CROWDED
        for k in loads:
            elements[k] = replace(elements[k], median=together * len(loads), spread=OWN_LOAD)
        rails.append(RailLoad(net, tuple(loads), usual.log_sd))
    return tuple(rails)


def alone(part: Part, ground: str, whole: Wiring) -> Wiring:
    """The wiring of one part off its board, with the strengths it has on it.

    Parameters
    ----------
    part : Part
    ground : str
        The net, of those the part is on, that voltages are counted from.
    whole : Wiring
        Of its board.
    """
    nets = tuple(whole.board.net(net) for net in part.nets)
    wiring = wiring_of(Board(f"{part.name} alone", ground, nets, (part,)), loose=True)
    elements = tuple(
        whole.elements[whole.index_of[e.part, e.label]] if (e.part, e.label) in whole.index_of else e
        for e in wiring.elements
    )
    shared = {rail.net: rail.spread for rail in whole.rails}
    rails = tuple(replace(rail, spread=shared[rail.net]) for rail in wiring.rails if rail.net in shared)
    return replace(wiring, elements=elements, rails=rails)


def _usual_load(board: Board, net: str, parts: set[str]) -> Spread | None:
    """What all chips on a rail of that kind together usually show to ground, where the parts do not say.

    A plain chip may be fed from a core rail; regulators run on more volts.
    """
    volts = volts_at_least(board, net)
    behind_coil = any(part.kind == "coil" for part, _ in board.pins_on[net])
    if volts is None:
        plain = any(board.part(part).kind == "ic" for part in parts)
        return UNTOLD_LOAD if behind_coil or plain else None
    if volts <= CORE_VOLTS and behind_coil:
        return CORE_LOAD
    return next(load for limit, load in LOADS if volts <= limit)


def _passes(part: Part) -> list[PassPath]:
    return list(_kind(part.kind).passes(part))


def _pairs(board: Board) -> list[tuple[str, str]]:
    """Net pairs that some fault may join: every pair of modes, and every net to ground."""
    pairs = {(board.ground, net.name) for net in board.nets if net.name != board.ground}
    for part in board.parts:
        for mode in _kind(part.kind).modes(part):
            a, b = (_net(part.pin(number)) for number in mode.pins)
            if a and b and a != b:
                pairs.add((a, b) if a < b else (b, a))
        for one, other in neighbouring(part):
            a, b = sorted((_net(one), _net(other)))
            pairs.add((a, b))
    return sorted(pairs)


def _net(pin: Pin) -> str:
    return pin.net or ""
