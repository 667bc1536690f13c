"""Networks, readings and defects of a board laid out as flat arrays, for code that is compiled."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from ohmwright.evidence.forward import Forward
from ohmwright.evidence.probe import AMPS_FLOOR, OHMS_FLOOR, Probe
from ohmwright.evidence.roster import SLOTS, Index, Register
from ohmwright.evidence.shelf import Shelf
from ohmwright.evidence.spots import LIT
from ohmwright.facts import Quantity
from ohmwright.faults import Defect, DefectKind
from ohmwright.kernels.codes import (
    DEAD,
    DIODE,
    DRIFT,
    NOTHING,
    OHMS,
    OPEN,
    PATH,
    PIN,
    SUPPLY_AMPS,
    SUPPLY_VOLTS,
    VOLTS,
)
from ohmwright.operation.wiring import WIRE

Arrays: TypeAlias = tuple[NDArray[Any], ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """Strengths of what stands [S], [A], places of wires; ends, drive, kind and figures of the reading."""

    conductance: NDArray[np.float64]
    saturation: NDArray[np.float64]
    wires: Index
    ends: tuple[int, ...]
    drive: tuple[float, ...]
    kind: int
    figures: tuple[float, ...]


class Laid:
    """The networks of a board, the whole and loose parts, one after another; it only ever grows."""

    def __init__(self, register: Register) -> None:
        self.register = register
        self._networks: list[Forward] = []
        self._places: list[Index] = []
        self._number: dict[int, int] = {}
        self._board: tuple[Any, ...] = ()
        self._what: list[list[tuple[int, ...]]] = []
        self._hits: list[tuple[int, int]] = []
        self._table: tuple[Any, ...] = ()
        self._circuits = np.zeros((0, SLOTS), dtype=np.intp)
        self._last: tuple[Sequence[Shelf], Arrays] | None = None
        self._asked: WeakKeyDictionary[Shelf, _Asked] = WeakKeyDictionary()

    def number(self, shelf: Shelf) -> int:
        """The number of the network of a shelf."""
        found = self._number.get(id(shelf.forward))
        if found is None:
            found = self._number[id(shelf.forward)] = len(self._networks)
            self._networks.append(shelf.forward)
            self._places.append(shelf.place)
            self._what.append([])
            self._board = self._table = ()
        return found

    def circuits(self, codes: Index) -> Index:
        """Electrical numbers of the defects of circuits, -1 for none, shape (\\*codes.shape, SLOTS)."""
        known = len(self._circuits)
        if known < len(self.register.circuits):
            fresh = [(*own[:SLOTS], *(-1,) * (SLOTS - len(own))) for own in self.register.circuits[known:]]
            self._circuits = np.concatenate((self._circuits, np.array(fresh, dtype=np.intp).reshape(-1, SLOTS)))
        return np.asarray(self._circuits[codes])

    def lines(self, shelves: Sequence[Shelf]) -> Arrays:
        """What readings ask and of which network; the last answer is kept."""
        if self._last is None or self._last[0] is not shelves:
            self._last = shelves, self._lines(shelves)
        return self._last[1]

    def _lines(self, shelves: Sequence[Shelf]) -> Arrays:
        net = np.array([self.number(shelf) for shelf in shelves], dtype=np.intp)
        g = np.zeros((len(shelves), max((len(f.r_index) for f in self._networks), default=0)))
        sat = np.zeros((len(shelves), max((len(f.j_index) for f in self._networks), default=0)))
        asked = [self._ask(shelf) for shelf in shelves]
        for k, own in enumerate(asked):
            g[k, : len(own.conductance)], sat[k, : len(own.saturation)] = own.conductance, own.saturation
        wires = np.concatenate([np.zeros(0, dtype=np.intp), *(own.wires for own in asked)])
        first = np.cumsum([0, *(len(own.wires) for own in asked)]).astype(np.intp)
        return (
            net, g, sat, first, wires, np.array([1.0 / WIRE]),
            np.array([own.ends for own in asked], dtype=np.intp).reshape(-1, 4),
            np.array([own.drive for own in asked], dtype=float).reshape(-1, 3),
            np.array([own.kind for own in asked], dtype=np.intp),
            np.array([own.figures for own in asked], dtype=float).reshape(-1, 8),
        )  # fmt: skip

    def _ask(self, shelf: Shelf) -> _Asked:
        """What one reading asks of its network, worked out once."""
        found = self._asked.get(shelf)
        if found is None:
            conductance, saturation = shelf.forward.standing(shelf.state, shelf.taken)
            node = shelf.forward.network.node_of
            ends = [(node[a], node[b]) for a, b in shelf.forward.wiring.wires(shelf.state) if node[a] != node[b]]
            a, b = np.array(ends, dtype=np.intp).reshape(-1, 2).T
            wires = np.asarray(shelf.forward.strengths.plan.places(a, b), dtype=np.intp)
            found = self._asked[shelf] = _Asked(conductance, saturation, wires, *_probe(shelf))
        return found

    @property
    def board(self) -> tuple[Any, ...]:
        """Networks one after another, where the fields of each begin, and how large they are."""
        if not self._board:
            parts = [_fields(f, place) for f, place in zip(self._networks, self._places, strict=True)]
            flat = tuple(np.concatenate(field) for field in zip(*parts, strict=True))
            lengths = np.array([[len(field) for field in own] for own in parts], dtype=np.intp)
            cuts = np.concatenate((np.zeros((1, lengths.shape[1]), dtype=np.intp), np.cumsum(lengths, axis=0)))
            plans = [f.strengths.plan for f in self._networks]
            nodes = np.array([plan.n_nodes for plan in plans], dtype=np.intp)
            sizes = (
                int(nodes.max()), max(plan.n_edges for plan in plans),
                max(len(f.r_index) for f in self._networks), max(len(f.j_index) for f in self._networks), nodes,
            )  # fmt: skip
            self._board = flat, cuts, sizes, self._steep()
        return self._board

    def _steep(self) -> NDArray[np.float64]:
        """How the logarithms of strengths go with the unknowns of the whole board, shape (n_board,).

        An unknown of a loose part is that of its place on the board, and goes alike.
        """
        out = np.zeros(max(int(place.max(initial=-1)) for place in self._places) + 1)
        for forward, place in zip(self._networks, self._places, strict=True):
            nr, ne, meter = len(forward.r_uncertain), forward.n_elements, forward.meter_at
            out[place[:meter]] = forward.spread[:meter]
            out[place[nr:ne]] /= forward.strengths.n_vt[forward.j_uncertain]
        return out

    @property
    def table(self) -> tuple[Any, ...]:
        """What each defect does in each network, with medians and spreads, by electrical number."""
        many = len(self.register.examples)
        if not self._table or len(self._table[1]) < many:
            for own, forward in zip(self._what, self._networks, strict=True):
                own += [self._does(forward, defect) for defect in self.register.examples[len(own) :]]
            medians = [d.severity.median if d.severity else 1.0 for d in self.register.examples]
            self._table = (
                np.array(self._what, dtype=np.intp).reshape(len(self._what), many, 5),
                np.array(medians), np.array(self.register.log_sds),
                np.array(self._hits, dtype=np.intp).reshape(-1, 2), LIT,
            )  # fmt: skip
        return self._table

    def _does(self, forward: Forward, defect: Defect) -> tuple[int, ...]:
        """What a defect does, between which nodes, and to which element; or to which hits, first and last."""
        spots, node = forward.spots, forward.network.node_of
        if defect.kind is DefectKind.PATH and defect.severity is not None:
            if not set(defect.nets) <= node.keys():
                return (NOTHING, -1, -1, 0, 0)
            a, b = (node[net] for net in defect.nets)
            if not forward.network.elimination.has(a, b):
                return (NOTHING, -1, -1, 0, 0)
            place = int(forward.strengths.plan.places(np.array([a]), np.array([b]))[0])
            return (PATH, a, b, place, 0)
        if defect.pin and defect.severity is not None:
            first = len(self._hits)
            for element in forward.wiring.hit_by(defect.part, defect.label, defect.nets[0]):
                row = spots.r_row.get(element), spots.j_row.get(element)
                self._hits += [(kind, own) for kind, own in enumerate(row) if own is not None]
            return (PIN, -1, -1, first, len(self._hits))
        element = forward.wiring.index_of.get((defect.part, defect.label), -1)
        if element in spots.r_row and defect.severity is not None:
            return (OPEN if defect.kind is DefectKind.OPEN else DRIFT, -1, -1, spots.r_row[element], 0)
        if element in spots.j_row and defect.kind is DefectKind.OPEN:
            return (DEAD, -1, -1, spots.j_row[element], 0)
        return (NOTHING, -1, -1, 0, 0)

    def first_guesses(self, shelves: Sequence[Shelf], codes: Index) -> NDArray[np.float64]:
        """Node voltages to set out from, shape (n_circuits, n_shelves, n_nodes + 1) of the largest network. [V]

        Parameters
        ----------
        codes : ndarray of int, shape (n_circuits, n_shelves)
        """
        out = np.zeros((*codes.shape, self.board[2][0] + 1))
        for k, shelf in enumerate(shelves):
            n = shelf.forward.network.n_nodes + 1
            out[:, k, :n] = shelf.volts[shelf.rows(codes[:, k])]
            for c, code in enumerate(codes[:, k].tolist()):
                found = shelf.latest.get(code)
                if found is not None:
                    out[c, k, :n] = found
        return out


def _fields(forward: Forward, place: Index) -> Arrays:
    """A network as the fields of `kernels.predicting.of_network`."""
    s, plan = forward.strengths, forward.strengths.plan
    rails = forward.rail_rows
    starts = np.concatenate(([0], np.cumsum([len(rows) for rows in rails]))).astype(np.intp)
    empty = np.zeros(0, dtype=np.intp)
    return (
        *plan.order, plan.r_place, s.r_a, s.r_b, plan.j_place, s.j_a, s.j_b, s.n_vt, s.v_crit,
        forward.r_uncertain, forward.j_uncertain, np.concatenate((empty, *rails)), starts, place,
        forward.spread[: forward.severity_at],
    )  # fmt: skip


def _probe(shelf: Shelf) -> tuple[tuple[int, ...], tuple[float, ...], int, tuple[float, ...]]:
    """Ends, drive, kind and figures of a reading."""
    probe, node = shelf.probe, shelf.forward.network.node_of
    port, m, feed = probe.ports[0], probe.meter, probe.feed
    kind = _kind(probe)
    fixed = 0.0 if m.nulled or m.four_wire else m.lead_resistance
    by_lead = 0.0 if kind not in (OHMS, DIODE) or (kind == OHMS and m.four_wire) else 1.0
    scale = OHMS_FLOOR if kind == OHMS else AMPS_FLOOR if kind == SUPPLY_AMPS else probe.scale
    limit, leads = (feed.limit, feed.leads) if feed is not None else (math.inf, 0.0)
    return (
        (node[port.plus], node[port.minus], node[probe.red], node[probe.black]),
        (port.current, port.volts, port.knee),
        kind,
        (m.lead_resistance, fixed, m.ohms_current, m.ohms_compliance / m.ohms_current, by_lead, scale, limit, leads),
    )


def _kind(probe: Probe) -> int:
    if probe.is_ohms:
        return OHMS
    if probe.is_diode:
        return DIODE
    if probe.feed is None or probe.quantity is Quantity.VOLTS:
        return VOLTS
    return SUPPLY_AMPS if probe.quantity is Quantity.SUPPLY_AMPS else SUPPLY_VOLTS

