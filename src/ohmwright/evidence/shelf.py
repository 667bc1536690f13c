"""What one reading would show under every circuit it has been asked about, kept from call to call."""

from __future__ import annotations

from dataclasses import dataclass, field
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import BoardState
from ohmwright.evidence.column import Column, Predicted
from ohmwright.evidence.forward import MOST_DEFECTS, Forward
from ohmwright.evidence.probe import Array, Probe
from ohmwright.evidence.roster import Index, Register, Roster
from ohmwright.solver.newton import THERMAL_VOLTAGE

LEAST_LEAN = 1e-5
"""Sensitivities smaller than this, times their spread, tell nothing. [1]"""
LEAST_VOLTS, LEAST_SHARE = 1e-6, 1e-4
"""Volts across a pair of nets, and their share of what the reading shows, that a path there could not be felt by."""
EMISSION_SD = 0.12
"""How far the emission coefficient of a junction strays from that of its kind, 1 to 2 over all kinds; estimate. [1]"""
LEAST_CURRENT = 1e-5
"""Share of the source's current that an element may carry and yet be open unfelt. [1]"""
Taken = tuple[tuple[str, str], ...]
Single = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What readings show in some circuits, for a shelf to keep.

    Parameters
    ----------
    y, current, doubt : ndarray, shape (n_circuits,)
        Readings on the scale of comparison; what the source drives [A]; what is unsure besides all unknowns.
    lean : ndarray, shape (n_circuits, tail + MOST_DEFECTS)
        Slopes times the spreads, by the unknowns of the board and by the severities of each circuit's own defects.
    volts : ndarray, shape (n_circuits, n_nodes + 1)
        [V]
    """

    y: Array
    current: Array
    doubt: Array
    lean: Single
    volts: Single


@dataclass(eq=False)
class Shelf:
    """Predictions of one probe in one board state.

    Row k belongs to the k-th circuit asked for. Sensitivities are kept times the spread of their unknown,
    and only for the unknowns on which any row leans (`support`). The unknowns are those of the whole board
    without its severities, then, from `tail` on, the severity of each electrical number.
    """

    probe: Probe
    state: BoardState
    forward: Forward
    taken: Taken
    place: Index
    tail: int
    row_of: dict[int, int] = field(default_factory=dict)
    support: Index = field(default_factory=lambda: np.array([], dtype=np.intp))
    lean: Single = field(default_factory=lambda: np.zeros((0, 0), dtype=np.float32))
    y: Array = field(default_factory=lambda: np.zeros(0))
    volts: Single = field(default_factory=lambda: np.zeros((0, 0), dtype=np.float32))
    current: Array = field(default_factory=lambda: np.zeros(0))
    doubt: Array = field(default_factory=lambda: np.zeros(0))
    latest: dict[int, Single] = field(default_factory=dict)
    """Node voltages of a circuit where it was last solved with its unknowns shifted; only ever a first guess. [V]"""
    code_at: list[int] = field(default_factory=list)
    """Code of each row."""
    coded: WeakKeyDictionary[Roster, tuple[NDArray[np.bool_], Index]] = field(default_factory=WeakKeyDictionary)
    """For each roster which defects were there, and the codes of its hypotheses."""
    _columns: dict[int, Column] = field(default_factory=dict)
    _rows: Index = field(default_factory=lambda: np.full(0, -1, dtype=np.intp))

    @property
    def room(self) -> int:
        """What its predictions take. [byte]"""
        return self.lean.nbytes + self.volts.nbytes + len(self.latest) * self.volts[:1].nbytes

    def first_guess(self) -> Array:
        """Node voltages of the sound circuit, zero before it is solved, shape (n_nodes + 1,). [V]"""
        row = self.row_of.get(0)
        return np.zeros(self.forward.network.n_nodes + 1) if row is None else self.volts[row].astype(float)

    def nearby(self, code: int) -> Single:
        """Node voltages to set out from when a circuit is solved with its unknowns shifted. [V]"""
        found = self.latest.get(code)
        return self.volts[self.row_of[code]] if found is None else found

    def column(self, register: Register, code: int) -> Column:
        """The circuit of a code."""
        found = self._columns.get(code)
        if found is None:
            found = self._columns[code] = Column(self.state, register.defects(code), self.taken)
        return found

    def missing(self, codes: Index) -> list[int]:
        """Codes that have no row yet."""
        return [code for code in np.unique(codes).tolist() if code not in self.row_of]

    def rows(self, codes: Index) -> Index:
        """Rows of codes that are all there."""
        top = int(codes.max(initial=0)) + 1
        if len(self._rows) < top or (self._rows[codes] < 0).any():
            self._rows = np.full(max(top, max(self.row_of, default=0) + 1), -1, dtype=np.intp)
            for code, row in self.row_of.items():
                self._rows[code] = row
        return self._rows[codes]

    def put(self, register: Register, codes: list[int], found: Found) -> None:
        """Take in what was found for circuits that were missing."""
        circuits = [register.circuits[code][:MOST_DEFECTS] for code in codes]
        row = np.array([k for k, own in enumerate(circuits) for _ in own], dtype=np.intp)
        slot = np.array([d for own in circuits for d in range(len(own))], dtype=np.intp)
        number = self.tail + np.array([n for own in circuits for n in own], dtype=np.intp)
        by_severity = found.lean[row, self.tail + slot]
        board = np.flatnonzero((np.abs(found.lean[:, : self.tail]) > LEAST_LEAN).any(axis=0))
        severities = np.unique(number[np.abs(by_severity) > LEAST_LEAN])
        support = np.union1d(self.support, np.concatenate((board, severities)))
        n = len(self.y)
        lean = np.zeros((n + len(codes), len(support)), dtype=np.float32)
        lean[:n, np.searchsorted(support, self.support)] = self.lean
        within = int(np.searchsorted(support, self.tail))
        lean[n:, :within] = found.lean[:, support[:within]]
        at = np.searchsorted(support, number)
        there = np.flatnonzero(support[np.minimum(at, len(support) - 1)] == number) if len(support) else at[:0]
        np.add.at(lean, (n + row[there], at[there]), by_severity[there])
        for k, code in enumerate(codes):
            self.row_of[code] = n + k
        self.code_at += codes
        self.support, self.lean = support, lean
        self.y = np.concatenate((self.y, found.y))
        self.current = np.concatenate((self.current, found.current))
        self.doubt = np.concatenate((self.doubt, found.doubt))
        self.volts = np.concatenate((self.volts, found.volts)) if n else found.volts

    def felt(self, register: Register, codes: Index, numbers: Index) -> NDArray[np.bool_]:
        """Whether this reading could feel a defect in a circuit that is on the shelf, shape (n,).

        A network of passive elements has no voltage gain, so a path across a pair of nets changes no
        difference of voltages by more than what stood across that pair; and an element that carries no
        current may as well be open. A path that conducts one way only is not felt by volts the other way.

        Parameters
        ----------
        codes : ndarray of int, shape (n,)
            The circuits, without the defects.
        numbers : ndarray of int, shape (n,)
            The defects.
        """
        spots, first = self.forward.spots.of(register.examples)
        count = first[numbers + 1] - first[numbers]
        owner = np.repeat(np.arange(len(numbers)), count)
        spots = spots[np.arange(len(owner)) + np.repeat(first[numbers] - np.cumsum(count) + count, count)]
        rows, a, b = self.rows(codes)[owner], spots[:, 0].astype(np.intp), spots[:, 1].astype(np.intp)
        node_of = self.forward.network.node_of
        forward = (self.volts[rows, a] - self.volts[rows, b]).astype(float)
        across = np.where((spots[:, 5] > 0.0) & (forward < 0.0), 0.0, np.abs(forward))
        shown = np.abs(self.volts[rows, node_of[self.probe.red]] - self.volts[rows, node_of[self.probe.black]])
        path = np.isinf(spots[:, 2])
        carried = np.where(path, 0.0, spots[:, 2]) * across
        carried += spots[:, 3] * np.expm1(np.minimum(across / spots[:, 4], 60.0))
        least = np.maximum(LEAST_VOLTS, LEAST_SHARE * shown)
        felt = np.where(path, across > least, carried > LEAST_CURRENT * self.current[rows])
        return np.asarray(np.bincount(owner[felt], minlength=len(numbers)) > 0)


def found_by(forward: Forward, register: Register, shelf: Shelf, codes: list[int], predicted: Predicted) -> Found:
    """What was predicted of a network's own unknowns, laid out as a shelf keeps it."""
    own = forward.severity_at
    lean = np.zeros((len(codes), shelf.tail + MOST_DEFECTS), dtype=np.float32)
    lean[:, shelf.place] = (predicted.lean[:own] * forward.spread[:own, None]).T
    for k, code in enumerate(codes):
        for slot, number in enumerate(register.circuits[code][:MOST_DEFECTS]):
            lean[k, shelf.tail + slot] = predicted.lean[own + slot, k] * register.log_sds[number]
    volts = predicted.volts.T.astype(np.float32)
    _, saturation = forward.strengths_of([shelf.column(register, code) for code in codes])
    return Found(predicted.y, predicted.current, _doubts(forward, predicted, saturation), lean, volts)


def _doubts(forward: Forward, predicted: Predicted, saturation: Array) -> Array:
    """Standard deviations of predictions, as nobody knows how junctions bend at small currents, shape (n_columns,).

    Drops are known at a milliampere; at a microampere they are that less the emission coefficient times kT/q
    for each factor of e, and the coefficient itself is known to `EMISSION_SD` only. Saturation currents are those of
    each column, (n_junctions, n_columns): behind a bad joint a junction carries less than its place would let it. [A]
    """
    slope = predicted.lean[len(forward.r_uncertain) : forward.n_elements]
    s, rows = forward.strengths, forward.j_uncertain
    n_vt = s.n_vt[rows, None]
    across = predicted.volts[s.j_a[rows]] - predicted.volts[s.j_b[rows]]
    current = saturation[rows] * np.expm1(np.clip(across / n_vt, 1e-12, 200.0))
    folds = np.log(1e-3 / np.clip(current, 1e-9, 1e-3))
    return np.asarray(EMISSION_SD * THERMAL_VOLTAGE * np.sqrt(((slope * folds) ** 2).sum(axis=0)))
