"""Where heat is expected under each hypothesis, and how likely what was felt is.

Power comes from the solved circuit, fault and coils included. What a finger or a camera makes of it is a
rough model (estimates, no source): the hottest part is found if it is hot enough, a neighbour is taken
for it sometimes, and the same method on the same rail repeats its error, so repeats add nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy import sparse

from ohmwright.circuit import Board, BoardState
from ohmwright.evidence.electrical import Electrical
from ohmwright.evidence.forward import Forward
from ohmwright.evidence.joint import Array
from ohmwright.evidence.roster import Index, Roster
from ohmwright.evidence.shelf import Shelf
from ohmwright.facts import Heat, HeatFinding, Quantity, Reading
from ohmwright.faults import DefectKind

FEELS = {"finger": 0.25, "camera": 0.04, "alcohol film": 0.12}
"""Watts in one small part that each method finds half the time; estimates. [W]"""
MISTAKEN = 0.2
"""Share of findings that name a neighbour of the hot part."""
MISLAID = 0.05
"""Share of thermal pictures laid so wrongly on the board, or so mirrored, that the spot may be any part; estimate."""


def heat_log_likelihood(electrical: Electrical, heats: Sequence[Heat], roster: Roster) -> Array:
    """Natural logarithm of how likely the findings are, shape (n_hypotheses,)."""
    total = np.zeros(len(roster.hypotheses))
    seen: set[tuple[str, str]] = set()
    for heat in heats:
        feed = heat.state.feed
        if feed is None or (heat.method, feed.plus) in seen:
            continue
        seen.add((heat.method, feed.plus))
        total += np.log(warmth(electrical, heat, roster).findings([heat])[:, 0])
    return total


@dataclass(frozen=True, eq=False)
class Warmth:
    """Watts everywhere under each hypothesis, for one feed.

    Carriers are the parts of the board, then its nets, for what is not on the map.

    Parameters
    ----------
    sound : ndarray, shape (n_circuits, n_carriers)
        Power in parts, that of the fault itself left out. [W]
    circuit : ndarray of int, shape (n_hypotheses,)
    carrier : ndarray of int, shape (n_hypotheses, SLOTS)
        Where each defect turns power into heat; -1 for none.
    extra : ndarray, shape (n_hypotheses, SLOTS)
        How much. [W]
    """

    board: Board
    method: str
    sound: Array
    circuit: Index
    carrier: Index
    extra: Array

    def expected(self, probabilities: Array) -> Array:
        """Watts in each carrier, averaged over the hypotheses, shape (n_carriers,). [W]"""
        total = np.bincount(self.circuit, probabilities, len(self.sound)) @ self.sound
        np.add.at(total, self.carrier.clip(0), probabilities[:, None] * self.extra)
        return np.asarray(total)

    def findings(self, findings: Sequence[Heat]) -> Array:
        """How likely each finding is under each hypothesis, shape (n_hypotheses, n_findings). [1]"""
        half = FEELS.get(self.method, FEELS["finger"])
        hits = np.array([_hits(self.board, finding) for finding in findings])
        felt, pull = _felt(self.sound, half)
        strongest = felt.max(axis=1, initial=0.0)[self.circuit]
        total = pull.sum(axis=1)[self.circuit]
        named = (pull @ hits.T)[self.circuit]
        for slot in range(self.carrier.shape[1]):
            where = np.flatnonzero(self.extra[:, slot] > 0.0)
            carrier, row = self.carrier[where, slot], self.circuit[where]
            before = self.sound[row, carrier]
            new_felt, new_pull = _felt(before + self.extra[where, slot], half)
            more = new_pull - _felt(before, half)[1]
            strongest[where] = np.maximum(strongest[where], new_felt)
            total[where] += more
            named[where] += more[:, None] * hits[:, carrier].T
        nothing = 0.04 + 0.94 * (1.0 - strongest)
        floor = 0.02 / max(len(self.board.parts), 1)
        least = np.array([floor * max(len(finding.parts), 1) for finding in findings])
        share = named / np.maximum(total, 1e-300)[:, None]
        out = np.maximum((1.0 - nothing)[:, None] * share, least)
        quiet = [k for k, finding in enumerate(findings) if finding.finding is HeatFinding.NOTHING]
        out[:, quiet] = nothing[:, None]
        return np.asarray(out)


def _felt(watts: Array, half: float) -> tuple[Array, Array]:
    """Chance that so much power in one small part is felt, and how it draws the finger."""
    felt = watts**2 / (watts**2 + half**2)
    return felt, np.sqrt(watts) * watts * felt


def warmth(electrical: Electrical, heat: Heat, roster: Roster) -> Warmth:
    """Watts in every part under each hypothesis, for the state and feed of a heat finding."""
    board, forward = electrical.board, electrical.forward
    shelf, used, circuit, volts = fed_volts(electrical, heat.state, roster)
    sound = _part_powers(electrical, shelf, used, volts)
    carrier, extra = _fault_powers(board, forward, roster, heat, volts, circuit)
    return Warmth(board, heat.method, sound, circuit, carrier, extra)


def fed_volts(electrical: Electrical, state: BoardState, roster: Roster) -> tuple[Shelf, Index, Index, Array]:
    """The board as it is fed under each hypothesis: the shelf, its codes, which code is whose, and all voltages.

    Returns
    -------
    shelf : Shelf
    codes : ndarray of int, shape (n_circuits,)
    circuit : ndarray of int, shape (n_hypotheses,)
    volts : ndarray, shape (n_circuits, n_nodes)
        [V]
    """
    board, feed = electrical.board, state.feed
    if feed is None:
        raise ValueError("a board that is not fed")
    plus, minus = board.net_at(feed.plus), board.net_at(feed.minus)
    fed = state.with_feed(replace(feed, plus=plus, minus=minus))
    line = electrical.line(Reading(Quantity.SUPPLY_VOLTS, plus, minus, 0.0, fed))
    shelf = electrical.shelf(line)
    codes = electrical.codes([line], [shelf], roster)[0]
    electrical.fill([(shelf, codes)])
    used, circuit = np.unique(codes, return_inverse=True)
    return shelf, used, circuit.ravel(), shelf.volts[shelf.rows(used)].astype(float)


def _part_powers(electrical: Electrical, shelf: Shelf, codes: Index, volts: Array) -> Array:
    """Shape (n_codes, n_carriers). [W]"""
    forward, board = electrical.forward, electrical.board
    conductance, saturation = forward.strengths_of([shelf.column(electrical.register, int(c)) for c in codes])
    s = forward.strengths
    over_r = (volts[:, s.r_a] - volts[:, s.r_b]).T
    over_j = (volts[:, s.j_a] - volts[:, s.j_b]).T
    watts = np.concatenate(
        (
            conductance * over_r**2,
            saturation * np.expm1(np.minimum(over_j / s.n_vt[:, None], 100.0)) * over_j,
        )
    )
    number = {part.name: k for k, part in enumerate(board.parts)}
    elements = [forward.wiring.elements[e] for e in (*forward.r_index.tolist(), *forward.j_index.tolist())]
    of = [(number[e.part], k) for k, e in enumerate(elements) if e.part]
    rows, columns = np.array(of, dtype=np.intp).T
    shape = (len(board.parts) + len(board.nets), len(elements))
    gather = sparse.csr_matrix((np.ones(len(of)), (rows, columns)), shape=shape)
    return np.asarray((gather @ watts).T)


def _fault_powers(
    board: Board, forward: Forward, roster: Roster, heat: Heat, volts: Array, circuit: Index
) -> tuple[Index, Array]:
    """Where each defect of each hypothesis turns power into heat, and how much."""
    number = {part.name: k for k, part in enumerate(board.parts)}
    net = {n.name: len(board.parts) + k for k, n in enumerate(board.nets)}
    node = forward.network.node_of
    still = roster.still_there(heat.state)
    n = len(roster.defects)
    where = np.full(n + 1, -1, dtype=np.intp)
    a, b, g = np.zeros(n + 1, dtype=np.intp), np.zeros(n + 1, dtype=np.intp), np.zeros(n + 1)
    for d, defect in enumerate(roster.defects):
        if still[d] and defect.kind is DefectKind.PATH and defect.severity is not None:
            where[d] = number[defect.part] if defect.part else net[defect.where[0]]
            a[d], b[d], g[d] = node[defect.nets[0]], node[defect.nets[1]], 1.0 / defect.severity.median
    slots = roster.slots
    row = circuit[:, None]
    extra = g[slots] * (volts[row, a[slots]] - volts[row, b[slots]]) ** 2
    return where[slots], np.asarray(extra)


def _hits(board: Board, finding: Heat) -> Array:
    """Chance that a finding like this one is what each hot carrier leads to, shape (n_carriers,)."""
    out = np.zeros(len(board.parts) + len(board.nets))
    if finding.finding is HeatFinding.NOTHING:
        return out
    number = {part.name: k for k, part in enumerate(board.parts)}
    if finding.shares:
        return _seen_hits(board, finding, out)
    at_net = {net.name: len(board.parts) + k for k, net in enumerate(board.nets)}
    for name in finding.parts:
        out[number[name]] += 1.0 - MISTAKEN
        for hot, share in _taken_for(board).get(name, ()):
            out[number[hot]] += MISTAKEN * share
        for net in set(board.part(name).nets):
            out[at_net[net]] += 0.8 / max(len(board.pins_on[net]), 1)
    return np.minimum(out, 1.0)


def _seen_hits(board: Board, finding: Heat, out: Array) -> Array:
    """The same for a spot in a thermal picture, which names each part by its share of where the spot may be."""
    number = {part.name: k for k, part in enumerate(board.parts)}
    out[: len(board.parts)] = MISLAID / max(len(board.parts), 1)
    for name, share in finding.shares:
        out[number[name]] += (1.0 - MISLAID) * share
    at_net = {net.name: len(board.parts) + k for k, net in enumerate(board.nets)}
    nowhere = max(1.0 - sum(share for _, share in finding.shares), 0.0)
    for net in {net for name in finding.parts for net in board.part(name).nets}:
        out[at_net[net]] = nowhere
    return np.minimum(out, 1.0)


@lru_cache(maxsize=8)
def _taken_for(board: Board) -> dict[str, tuple[tuple[str, float], ...]]:
    """For each part the hot parts it may be mistaken for, each with its share of their mistakes."""
    found: dict[str, list[tuple[str, float]]] = {}
    for part in board.parts:
        near = neighbours_of(board, part.name)
        for other in near:
            found.setdefault(other, []).append((part.name, 1.0 / len(near)))
    return {name: tuple(hot) for name, hot in found.items()}


@lru_cache(maxsize=20_000)
def neighbours_of(board: Board, name: str) -> tuple[str, ...]:
    """The parts nearest a part: by place where places are known, else those on its nets besides ground."""
    part = board.part(name)
    if part.place is not None:
        here = part.place
        placed = [
            ((p.place.x_mm - here.x_mm) ** 2 + (p.place.y_mm - here.y_mm) ** 2, p.name)
            for p in board.parts
            if p.place is not None and p.name != name and p.place.side == here.side
        ]
        return tuple(other for _, other in sorted(placed)[:5])
    near = {p.name for net in part.nets if net != board.ground for p, _ in board.pins_on[net]} - {name}
    return tuple(sorted(near))
