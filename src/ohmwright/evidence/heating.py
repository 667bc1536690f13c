"""Where heat is expected under each hypothesis, and how likely what was felt is.

Power comes from the solved circuit, fault and coils included. The same method on the same rail repeats its error, so
repeats add nothing. Of several feeds of one rail the strongest speaks. Chips that get the volts they work at draw
current and get warm too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
from scipy import sparse

from ohmwright.circuit import Board, BoardState, Feed, Part
from ohmwright.evidence.electrical import Electrical
from ohmwright.evidence.forward import Forward
from ohmwright.evidence.joint import Array
from ohmwright.evidence.roster import Index, Roster
from ohmwright.evidence.shelf import Shelf
from ohmwright.evidence.warmth import Warmth
from ohmwright.facts import Heat, Quantity, Reading
from ohmwright.faults import DefectKind

LARGER = 0.5
"""Rise of a part of given watts falls with its area to this power: what spreads into the board is bounded by the edge
of the part. [1] a disc on a half-space, R = 1 / (4 k a): H. S. Carslaw and J. C. Jaeger, from memory"""
LEAST_AREA = 1.0
"""Area of the small part that the watts of `FEELS` are told for. [mm²]"""
WORKS_FROM = 0.7
"""Share of its nominal volts from which a net's chips work. [1] common practice, no source"""
WORKS_UNTOLD = 1.2
"""The same where nobody has told the volts. [V] estimate"""
DRAW = 5e-3
"""What a chip that is fed and does nothing draws from a net at its supply pins, median. [A] estimate: datasheets tell
from 0.1 to 100 mA"""
DRAWS_AT = frozenset({"VDD", "VCC", "VIN", "IN"})
"""Roles of the pins at which a chip takes what it works with; what it gives at others is not its own."""


def heat_log_likelihood(electrical: Electrical, heats: Sequence[Heat], roster: Roster) -> Array:
    """Natural logarithm of how likely the findings are, shape (n_hypotheses,)."""
    total = np.zeros(len(roster.hypotheses))
    before: dict[tuple[str, str], list[tuple[Heat, Warmth]]] = {}
    for heat in _strongest(electrical.board, heats):
        felt = warmth(electrical, heat, roster)
        told = np.log(felt.findings([heat])[:, 0])
        earlier = before.setdefault(_way(electrical.board, heat), [])
        for other, then in earlier:
            if (other.finding, other.parts) == (heat.finding, heat.parts):
                told = np.where(then.hottest == felt.hottest, 0.0, told)
        earlier.append((heat, felt))
        total += told
    return total


def _way(board: Board, heat: Heat) -> tuple[str, str]:
    """How it was felt and what was fed: errors of these repeat."""
    assert heat.state.feed is not None
    return heat.method, board.net_at(heat.state.feed.plus)


def _strongest(board: Board, heats: Sequence[Heat]) -> list[Heat]:
    """One finding for each way of feeling and each state of the board: that at the most volts, the first of equals."""
    best: dict[tuple[object, ...], Heat] = {}
    for heat in heats:
        feed = heat.state.feed
        if feed is None:
            continue
        key = (*_way(board, heat), heat.state.unfed)
        known = best.get(key)
        if known is None or known.state.feed is None or _strength(feed) > _strength(known.state.feed):
            best[key] = heat
    return list(best.values())


def _strength(feed: Feed) -> tuple[float, float]:
    return feed.volts, feed.limit


def warmth(electrical: Electrical, heat: Heat, roster: Roster) -> Warmth:
    """Watts in every part under each hypothesis, for the state and feed of a heat finding."""
    board, forward = electrical.board, electrical.forward
    shelf, used, circuit, volts = fed_volts(electrical, heat.state, roster)
    sound = _part_powers(electrical, shelf, used, volts)
    draw = _draws(board, forward, heat.state, volts)
    rises, faults = _rises(board), _fault_powers(board, forward, roster, heat, volts, circuit)
    assert heat.state.feed is not None
    return Warmth(board, heat.method, sound, draw, rises, circuit, *faults, heat.state.feed)


def _draws(board: Board, forward: Forward, state: BoardState, volts: Array) -> Array:
    """What chips turn into heat once they get the volts they work at, median, shape (n_codes, n_carriers). [W]"""
    out = np.zeros((len(volts), len(board.parts) + len(board.nets)))
    node = forward.network.node_of
    for k, part in enumerate(board.parts):
        if part.name not in state.off:
            for net in _supplied(part, board.ground):
                nominal = board.net(net).nominal
                least = WORKS_UNTOLD if nominal is None else WORKS_FROM * nominal
                there = volts[:, node[net]] - volts[:, node[board.ground]]
                out[:, k] += np.where(there >= least, there * DRAW, 0.0)
    return out


def _supplied(part: Part, ground: str) -> set[str]:
    """Nets from which a part takes what it works with."""
    return {pin.net for pin in part.pins if pin.role in DRAWS_AT and pin.net is not None} - {ground}


@lru_cache(maxsize=8)
def _rises(board: Board) -> Array:
    """How warm each carrier gets from a watt, with respect to a small part, shape (n_carriers,). [1]"""
    out = np.ones(len(board.parts) + len(board.nets))
    for k, part in enumerate(board.parts):
        if part.place is not None:
            area = max(part.place.width_mm * part.place.height_mm, LEAST_AREA)
            out[k] = (LEAST_AREA / area) ** LARGER
    return out


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
) -> tuple[Index, Array, Array, Array]:
    """Where each defect of each hypothesis turns power into heat; its volts, amperes and spread of ohms."""
    number = {part.name: k for k, part in enumerate(board.parts)}
    net = {n.name: len(board.parts) + k for k, n in enumerate(board.nets)}
    node = forward.network.node_of
    still = roster.still_there(heat.state)
    n = len(roster.defects)
    where = np.full(n + 1, -1, dtype=np.intp)
    a, b = np.zeros(n + 1, dtype=np.intp), np.zeros(n + 1, dtype=np.intp)
    g, spread = np.zeros(n + 1), np.zeros(n + 1)
    for d, defect in enumerate(roster.defects):
        if still[d] and defect.kind is DefectKind.PATH and defect.severity is not None:
            where[d] = number[defect.part] if defect.part else net[defect.where[0]]
            a[d], b[d], g[d] = node[defect.nets[0]], node[defect.nets[1]], 1.0 / defect.severity.median
            spread[d] = defect.severity.log_sd
    slots = roster.slots
    row = circuit[:, None]
    over = np.abs(volts[row, a[slots]] - volts[row, b[slots]])
    return where[slots], over, np.asarray(g[slots] * over), spread[slots]
