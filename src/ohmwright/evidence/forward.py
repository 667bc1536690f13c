"""What every column predicts for a probe, and how that leans on each uncertain strength.

A column is a board state with the defects that are active in it. Sensitivities come from the adjoint of
the linearised network: with lambda the voltages for one ampere driven through the reading's own points,
a reading changes by i (lambda_a - lambda_b) for each unit of ln R of an element that carries i from a to b.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import BoardState
from ohmwright.evidence.column import Column, Predicted
from ohmwright.evidence.display import shown
from ohmwright.evidence.probe import Array, Probe
from ohmwright.evidence.spots import Spots
from ohmwright.evidence.waste import budgets
from ohmwright.faults import Defect, DefectKind
from ohmwright.operation import Wiring
from ohmwright.operation.wiring import WIRE
from ohmwright.solver import Shunts, Solved, Sources, Strengths, solve_columns

MOST_DEFECTS = 3
LEAD_SD = 0.1
CURRENT_SD = 0.15
FEED_LEAD_SD = 0.4
BLOCK = 384
"""Columns solved together: enough to hide the overhead, few enough to stay in the cache. [1]"""

Groups: TypeAlias = Sequence[tuple[Probe, Sequence["Column"]]]
"""Probes, each with the columns asked of it."""


class Forward:
    """A board's wiring made ready for predictions.

    The unknowns are, in this order: one per element whose strength is uncertain (ln R, or the drop of a
    junction in volts); one per rail whose loads nobody has told (ln of what they share); the meter's lead
    resistance [Ω]; ln of its test current; ln of the supply's lead resistance; and ln of the severity of up
    to three defects.
    """

    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        self.network = wiring.network
        self.strengths = Strengths(self.network)
        elements = wiring.elements
        self.r_index = np.array(self.network.resistive, dtype=np.intp)
        self.j_index = np.array(self.network.junctions, dtype=np.intp)
        r_spread = np.array([elements[i].spread for i in self.network.resistive])
        j_spread = np.array([elements[i].spread for i in self.network.junctions])
        self.r_uncertain = np.flatnonzero(r_spread > 0.0)
        self.j_uncertain = np.flatnonzero(j_spread > 0.0)
        self.elements = (*self.r_index[self.r_uncertain].tolist(), *self.j_index[self.j_uncertain].tolist())
        self.n_elements = len(self.elements)
        row = {int(e): k for k, e in enumerate(self.r_index)}
        self.rails = tuple(rail for rail in wiring.rails if any(e in row for e in rail.elements))
        self.rail_rows = [np.array([row[e] for e in rail.elements if e in row], dtype=np.intp) for rail in self.rails]
        self.meter_at = self.n_elements + len(self.rails)
        self.severity_at = self.meter_at + 3
        self.n_unknowns = self.severity_at + MOST_DEFECTS
        self.spread = np.concatenate(
            (
                r_spread[self.r_uncertain],
                j_spread[self.j_uncertain],
                [rail.spread for rail in self.rails],
                [LEAD_SD, CURRENT_SD, FEED_LEAD_SD],
                np.zeros(MOST_DEFECTS),
            )
        )
        self.budgets = budgets(wiring, self.elements, self.rails)
        self.spots = Spots(wiring, self.strengths)
        self._masks: dict[tuple[BoardState, tuple[tuple[str, str], ...]], NDArray[np.bool_]] = {}

    def predict(
        self, probe: Probe, columns: Sequence[Column], offsets: Array | None = None, start: Array | None = None
    ) -> Predicted:
        """Solve every column under one probe.

        Parameters
        ----------
        probe : Probe
        columns : sequence of Column
        offsets : ndarray, shape (n_unknowns, n_columns), optional
            Where to linearise; zero where not given.
        start : ndarray, shape (n_nodes + 1, n_columns), optional
            First guess of the voltages. [V]
        """
        return self.predict_all([(probe, columns)], offsets, start)

    def predict_all(self, groups: Groups, offsets: Array | None = None, start: Array | None = None) -> Predicted:
        """Solve the columns of several probes together; they follow one another in the answer."""
        asked = [(probe, column) for probe, columns in groups for column in columns]
        blocks = [slice(k, min(k + BLOCK, len(asked))) for k in range(0, len(asked), BLOCK)]
        parts = [
            self._predict_block(
                asked[block],
                None if offsets is None else offsets[:, block],
                None if start is None else start[:, block],
            )
            for block in blocks
        ]
        if len(parts) == 1:
            return parts[0]
        return Predicted(
            np.concatenate([p.y for p in parts]),
            np.concatenate([p.lean for p in parts], axis=1),
            np.concatenate([p.volts for p in parts], axis=1),
            np.concatenate([p.current for p in parts]),
        )

    def solve(
        self,
        asked: Sequence[tuple[Probe, Column]],
        offsets: Array | None = None,
        start: Array | None = None,
    ) -> tuple[Solved, Array, Array, list[list[float]]]:
        """Node voltages of every column, the strengths they were solved with, and those of the fault paths."""
        columns = [column for _, column in asked]
        conductance, saturation = self._standing(columns)
        if offsets is not None:
            nr = len(self.r_uncertain)
            conductance[self.r_uncertain] *= np.exp(-offsets[:nr])
            n_vt = self.strengths.n_vt[self.j_uncertain, None]
            saturation[self.j_uncertain] *= np.exp(-offsets[nr : self.n_elements] / n_vt)
            for k, rows in enumerate(self.rail_rows):
                conductance[rows] *= np.exp(-offsets[self.n_elements + k])
        shunts, paths = self._shunts(columns, conductance, saturation, offsets)
        sources = self._sources(asked)
        if offsets is not None:
            unfed = np.array([probe.is_diode for probe, _ in asked])
            sources.current[unfed] *= np.exp(offsets[self.meter_at + 1, unfed])
        solved = solve_columns(self.strengths, sources, conductance, saturation, shunts, start)
        return solved, conductance, saturation, paths

    def strengths_of(self, columns: Sequence[Column]) -> tuple[Array, Array]:
        """Conductances and saturation currents of all elements in each column, fault paths left out. [S], [A]"""
        conductance, saturation = self._standing(columns)
        self._shunts(columns, conductance, saturation, None)
        return conductance, saturation

    def standing(self, state: BoardState, taken: tuple[tuple[str, str], ...]) -> tuple[Array, Array]:
        """Strengths of what is on the board in a state. [S], [A]"""
        present = self._present(state, taken)
        return self.strengths.conductance * present[self.r_index], self.strengths.saturation * present[self.j_index]

    def _standing(self, columns: Sequence[Column]) -> tuple[Array, Array]:
        """Strengths of what is on the board in each column."""
        n = len(columns)
        conductance = np.repeat(self.strengths.conductance[:, None], n, axis=1)
        saturation = np.repeat(self.strengths.saturation[:, None], n, axis=1)
        for (state, taken), where in _alike(columns, lambda column: (column.state, column.taken)).items():
            absent = ~self._present(state, taken)
            conductance[np.ix_(np.flatnonzero(absent[self.r_index]), where)] = 0.0
            saturation[np.ix_(np.flatnonzero(absent[self.j_index]), where)] = 0.0
        return conductance, saturation

    def _sources(self, asked: Sequence[tuple[Probe, Column]]) -> Sources:
        node = self.network.node_of
        probes, which = _distinct([probe for probe, _ in asked])
        ports = [probe.ports[0] for probe in probes]
        ends = np.array([(node[p.plus], node[p.minus]) for p in ports], dtype=np.intp).reshape(-1, 2)[which]
        drive = np.array([(p.current, p.volts, p.knee) for p in ports], dtype=float).reshape(-1, 3)[which]
        return Sources(*(np.ascontiguousarray(column) for column in (*ends.T, *drive.T)))

    def _present(self, state: BoardState, taken: tuple[tuple[str, str], ...]) -> NDArray[np.bool_]:
        key = (state, taken)
        if key not in self._masks:
            if len(self._masks) > 5000:
                self._masks.clear()
            self._masks[key] = self.wiring.present(state, taken)
        return self._masks[key]

    def _shunts(
        self, columns: Sequence[Column], conductance: Array, saturation: Array, offsets: Array | None
    ) -> tuple[Shunts, list[list[float]]]:
        """Fault paths and wires; opens and drifts change the strengths in place.

        Also, by column and defect, the conductance of those that are paths and the resistance of those that cut off
        a pin.
        """
        node = self.network.node_of
        paths: list[tuple[int, int, int, float]] = []
        of: list[list[float]] = []
        wires: dict[BoardState, list[tuple[int, int]]] = {}
        for k, column in enumerate(columns):
            if column.state.bridges:
                if column.state not in wires:
                    wires[column.state] = [(node[x], node[y]) for x, y in self.wiring.wires(column.state)]
                for p, q in wires[column.state]:
                    paths.append((p, q, k, 1.0 / WIRE))
            own = [0.0] * len(column.defects)
            for d, defect in enumerate(column.defects):
                shift = 0.0 if offsets is None or d >= MOST_DEFECTS else float(offsets[self.severity_at + d, k])
                if defect.kind is DefectKind.PATH and defect.severity is not None:
                    own[d] = math.exp(-shift) / defect.severity.median
                    paths.append((node[defect.nets[0]], node[defect.nets[1]], k, own[d]))
                elif defect.pin and defect.severity is not None:
                    own[d] = defect.severity.median * math.exp(shift)
                    self.spots.cut_off(defect, k, own[d], conductance, saturation)
                else:
                    self._weaken(defect, k, shift, conductance, saturation)
            of.append(own)
        index = np.array([path[:3] for path in paths], dtype=np.intp).reshape(-1, 3)
        return Shunts(index[:, 0], index[:, 1], index[:, 2], np.array([path[3] for path in paths], dtype=float)), of

    def _weaken(self, defect: Defect, k: int, shift: float, conductance: Array, saturation: Array) -> None:
        element = self.wiring.index_of.get((defect.part, defect.label))
        if element is None:
            return
        if element in self.spots.r_row:
            row = self.spots.r_row[element]
            if defect.kind is DefectKind.OPEN and defect.severity is not None:
                conductance[row, k] = min(conductance[row, k], math.exp(-shift) / defect.severity.median)
            elif defect.severity is not None:
                conductance[row, k] *= math.exp(-shift) / defect.severity.median
        elif defect.kind is DefectKind.OPEN and element in self.spots.j_row:
            saturation[self.spots.j_row[element], k] = 0.0

    def _predict_block(
        self, asked: Sequence[tuple[Probe, Column]], offsets: Array | None, start: Array | None
    ) -> Predicted:
        solved, conductance, saturation, paths = self.solve(asked, offsets, start)
        node, at = self.network.node_of, np.arange(len(asked))
        probes = [probe for probe, _ in asked]
        red = np.array([node[probe.red] for probe in probes], dtype=np.intp)
        black = np.array([node[probe.black] for probe in probes], dtype=np.intp)
        v = solved.volts
        adjoint = self._adjoint(asked, solved, red, black)
        volts = v[red, at] - v[black, at]
        own = adjoint[red, at] - adjoint[black, at]
        lean = np.zeros((self.n_unknowns, len(asked)))
        nr = len(self.r_uncertain)
        lean[:nr] = self._lean_r(v, adjoint, conductance)
        lean[nr : self.n_elements] = self._lean_j(v, adjoint, saturation)
        for k, rows in enumerate(self.rail_rows):
            lean[self.n_elements + k] = self._lean_of(rows, v, adjoint, conductance).sum(axis=0)
        self._lean_defects(asked, v, adjoint, conductance, saturation, paths, lean)
        y = np.empty(len(asked))
        for _, where in _alike(probes, lambda probe: (probe.quantity, probe.meter, probe.feed)).items():
            probe = probes[int(where[0])]
            leads = None if offsets is None else offsets[self.meter_at, where]
            value, by_volts, by_lead, by_current = shown(probe, volts[where], solved.current[where], leads)
            slope = probe.slope(value)
            y[where] = probe.scaled(value)
            lean[:, where] *= by_volts * slope
            lean[self.meter_at, where] = by_lead * slope
            through = by_lead * (probe.meter.lead_resistance + (0.0 if leads is None else leads)) * probe.is_diode
            lean[self.meter_at + 1, where] = (by_volts * by_current * own[where] + through) * slope
        return Predicted(y, lean, v, solved.current)

    def _adjoint(self, asked: Sequence[tuple[Probe, Column]], solved: Solved, red, black) -> Array:  # type: ignore[no-untyped-def]  # index vectors
        """Voltages for one ampere driven through each reading's own points, the source's slope counted in."""
        sources = self._sources(asked)
        at = np.arange(len(asked))
        unit, slope = solved.unit, solved.slope
        adjoint = np.array(unit)
        other = np.flatnonzero((red != sources.plus) | (black != sources.minus))
        if other.size:
            adjoint[:, other] = solved.through(red[other], black[other], other)
        across = adjoint[sources.plus, at] - adjoint[sources.minus, at]
        seen = unit[sources.plus, at] - unit[sources.minus, at]
        return np.asarray(adjoint - unit * (slope * across / (1.0 + slope * seen)))

    def _lean_r(self, v: Array, adjoint: Array, conductance: Array) -> Array:
        return self._lean_of(self.r_uncertain, v, adjoint, conductance)

    def _lean_of(self, rows: NDArray[np.intp], v: Array, adjoint: Array, conductance: Array) -> Array:
        a, b = self.strengths.r_a[rows], self.strengths.r_b[rows]
        return np.asarray(conductance[rows] * (v[a] - v[b]) * (adjoint[a] - adjoint[b]))

    def _lean_j(self, v: Array, adjoint: Array, saturation: Array) -> Array:
        rows = self.j_uncertain
        a, b = self.strengths.j_a[rows], self.strengths.j_b[rows]
        n_vt = self.strengths.n_vt[rows, None]
        current = saturation[rows] * np.expm1(np.minimum((v[a] - v[b]) / n_vt, 200.0))
        return np.asarray(current * (adjoint[a] - adjoint[b]) / n_vt)

    def _lean_defects(
        self,
        asked: Sequence[tuple[Probe, Column]],
        v: Array,
        adjoint: Array,
        conductance: Array,
        saturation: Array,
        paths: list[list[float]],
        lean: Array,
    ) -> None:
        node = self.network.node_of
        for k, (_, column) in enumerate(asked):
            for d, defect in enumerate(column.defects[:MOST_DEFECTS]):
                if defect.severity is None:
                    continue
                if defect.pin:
                    strengths = conductance, saturation
                    lean[self.severity_at + d, k] = self.spots.lean_pin(defect, k, paths[k][d], v, adjoint, *strengths)
                    continue
                if defect.kind is DefectKind.PATH:
                    a, b, g = node[defect.nets[0]], node[defect.nets[1]], paths[k][d]
                else:
                    element = self.wiring.index_of.get((defect.part, defect.label))
                    if element is None or element not in self.spots.r_row:
                        continue
                    row = self.spots.r_row[element]
                    a, b, g = int(self.strengths.r_a[row]), int(self.strengths.r_b[row]), float(conductance[row, k])
                lean[self.severity_at + d, k] = g * (v[a, k] - v[b, k]) * (adjoint[a, k] - adjoint[b, k])


def _distinct(things: Sequence[Any]) -> tuple[list[Any], NDArray[np.intp]]:
    """Those that are not the same object as an earlier one, and the number of each among them."""
    number: dict[int, int] = {}
    which = [number.setdefault(key, len(number)) for key in map(id, things)]
    first: list[Any] = [None] * len(number)
    for k, thing in zip(reversed(which), reversed(things), strict=True):
        first[k] = thing
    return first, np.array(which, dtype=np.intp)


def _alike(asked: Sequence[Any], name: Callable[[Any], Hashable]) -> dict[Any, NDArray[np.intp]]:
    """Positions of the asks that share a name, which those of one object do."""
    things, which = _distinct(asked)
    index: dict[Hashable, int] = {}
    of = np.array([index.setdefault(name(thing), len(index)) for thing in things], dtype=np.intp)[which]
    return {key: np.flatnonzero(of == k) for key, k in index.items()}
