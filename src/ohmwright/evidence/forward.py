"""What every column predicts for a probe, and how that leans on each uncertain strength.

A column is a board state with the defects that are active in it. Sensitivities come from the adjoint of
the linearised network: with lambda the voltages for one ampere driven through the reading's own points,
a reading changes by i (lambda_a - lambda_b) for each unit of ln R of an element that carries i from a to b.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import BoardState
from ohmwright.evidence.probe import Array, Probe
from ohmwright.facts import Quantity
from ohmwright.faults import Defect, DefectKind
from ohmwright.operation import Wiring
from ohmwright.operation.wiring import WIRE
from ohmwright.solver import Shunts, Solved, Strengths, solve_columns

MOST_DEFECTS = 3
LEAD_SD = 0.1
CURRENT_SD = 0.03
FEED_LEAD_SD = 0.4


@dataclass(frozen=True)
class Column:
    """One variant of a board: how it stands, what is wrong, and what its unknown parts are taken to be."""

    state: BoardState
    defects: tuple[Defect, ...] = ()
    taken: tuple[tuple[str, str], ...] = ()

    @cached_property
    def signature(self) -> tuple[object, ...]:
        """Equal for columns that are one circuit."""
        wrong = self.defects[0].electrical if len(self.defects) == 1 else sorted(d.electrical for d in self.defects)
        return (self.state, (wrong,) if len(self.defects) == 1 else tuple(wrong), self.taken)


@dataclass(frozen=True, slots=True, eq=False)
class Predicted:
    """Readings on the scale of comparison.

    Parameters
    ----------
    y : ndarray, shape (n_columns,)
    lean : ndarray, shape (n_unknowns, n_columns)
        Derivative of y by each unknown.
    volts : ndarray, shape (n_nodes + 1, n_columns)
        [V]
    """

    y: Array
    lean: Array
    volts: Array


class Forward:
    """A board's wiring made ready for predictions.

    The unknowns are, in this order: one per element whose strength is uncertain (ln R, or the drop of a
    junction in volts), the meter's lead resistance [Ω], ln of its test current, ln of the supply's lead
    resistance, and ln of the severity of up to three defects.
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
        self.n_unknowns = self.n_elements + 3 + MOST_DEFECTS
        self.spread = np.concatenate(
            (
                r_spread[self.r_uncertain],
                j_spread[self.j_uncertain],
                [LEAD_SD, CURRENT_SD, FEED_LEAD_SD],
                np.zeros(MOST_DEFECTS),
            )
        )
        self._r_row = {int(e): k for k, e in enumerate(self.r_index)}
        self._masks: dict[tuple[BoardState, tuple[tuple[str, str], ...]], NDArray[np.bool_]] = {}
        self._known: dict[tuple[object, ...], tuple[float, Array]] = {}
        self._start: dict[Probe, Array] = {}

    def spreads(self, columns: Sequence[Column]) -> Array:
        """Standard deviation of every unknown in every column, shape (n_unknowns, n_columns)."""
        spread = np.repeat(self.spread[:, None], len(columns), axis=1)
        for k, column in enumerate(columns):
            for d, defect in enumerate(column.defects[:MOST_DEFECTS]):
                spread[self.n_elements + 3 + d, k] = defect.severity.log_sd if defect.severity else 0.0
        return spread

    def at_nominal(self, probe: Probe, columns: Sequence[Column]) -> tuple[Array, Array]:
        """Predictions at nominal strengths, remembered from call to call.

        Returns
        -------
        y : ndarray, shape (n_columns,)
        lean : ndarray, shape (n_unknowns, n_columns)
        """
        keys = [(probe, *column.signature) for column in columns]
        missing = {key: k for k, key in enumerate(keys) if key not in self._known}
        if missing:
            if len(self._known) > 60_000:
                self._known.clear()
                missing = {key: k for k, key in enumerate(keys)}
            fresh = self.predict(probe, [columns[k] for k in missing.values()])
            for position, key in enumerate(missing):
                self._known[key] = (float(fresh.y[position]), fresh.lean[:, position].astype(np.float32))
        y = np.array([self._known[key][0] for key in keys])
        lean = np.stack([self._known[key][1] for key in keys], axis=1).astype(float)
        return y, lean

    def predict(self, probe: Probe, columns: Sequence[Column], offsets: Array | None = None) -> Predicted:
        """Solve every column under a probe.

        Parameters
        ----------
        probe : Probe
        columns : sequence of Column
        offsets : ndarray, shape (n_unknowns, n_columns), optional
            Where to linearise; zero where not given.
        """
        solved, conductance, saturation, shunts = self.solve(probe, columns, offsets)
        return self._read(probe, columns, offsets, solved, conductance, saturation, shunts)

    def solve(
        self, probe: Probe, columns: Sequence[Column], offsets: Array | None = None
    ) -> tuple[Solved, Array, Array, Shunts]:
        """Node voltages of every column, and the strengths they were solved with."""
        n = len(columns)
        conductance = np.empty((len(self.r_index), n))
        saturation = np.empty((len(self.j_index), n))
        for k, column in enumerate(columns):
            present = self._present(column.state, column.taken)
            conductance[:, k] = self.strengths.conductance * present[self.r_index]
            saturation[:, k] = self.strengths.saturation * present[self.j_index]
        if offsets is not None:
            nr = len(self.r_uncertain)
            conductance[self.r_uncertain] *= np.exp(-offsets[:nr])
            n_vt = self.strengths.n_vt[self.j_uncertain, None]
            saturation[self.j_uncertain] *= np.exp(-offsets[nr : self.n_elements] / n_vt)
        shunts = self._shunts(columns, conductance, saturation, offsets)
        start = self._start.get(probe)
        first = None if start is None else np.repeat(start[:, None], n, axis=1)
        solved = solve_columns(self.strengths, probe.ports, conductance, saturation, shunts, first)
        if start is None:
            if len(self._start) > 5000:
                self._start.clear()
            self._start[probe] = np.median(solved.volts, axis=1)
        return solved, conductance, saturation, shunts

    def _present(self, state: BoardState, taken: tuple[tuple[str, str], ...]) -> NDArray[np.bool_]:
        key = (state, taken)
        if key not in self._masks:
            if len(self._masks) > 5000:
                self._masks.clear()
            self._masks[key] = self.wiring.present(state, taken)
        return self._masks[key]

    def _shunts(
        self, columns: Sequence[Column], conductance: Array, saturation: Array, offsets: Array | None
    ) -> Shunts:
        """Fault paths and wires; opens and drifts change the strengths in place."""
        node = self.network.node_of
        paths: list[tuple[int, int, int, float]] = []
        wires: dict[BoardState, list[tuple[int, int]]] = {}
        for k, column in enumerate(columns):
            if column.state.bridges:
                for p, q in wires.setdefault(
                    column.state, [(node[x], node[y]) for x, y in self.wiring.wires(column.state)]
                ):
                    paths.append((p, q, k, 1.0 / WIRE))
            for d, defect in enumerate(column.defects):
                shift = 0.0 if offsets is None or d >= MOST_DEFECTS else offsets[self.n_elements + 3 + d, k]
                if defect.kind is DefectKind.PATH and defect.severity is not None:
                    strength = float(np.exp(-shift)) / defect.severity.median
                    paths.append((node[defect.nets[0]], node[defect.nets[1]], k, strength))
                else:
                    self._weaken(defect, k, shift, conductance, saturation)
        a, b, where = (np.array([path[k] for path in paths], dtype=np.intp) for k in range(3))
        return Shunts(a, b, where, np.array([path[3] for path in paths], dtype=float))

    def _weaken(self, defect: Defect, k: int, shift: float, conductance: Array, saturation: Array) -> None:
        element = self.wiring.index_of.get((defect.part, defect.label))
        if element is None:
            return
        if element in self._r_row:
            row = self._r_row[element]
            if defect.kind is DefectKind.OPEN and defect.severity is not None:
                conductance[row, k] = min(conductance[row, k], np.exp(-shift) / defect.severity.median)
            elif defect.severity is not None:
                conductance[row, k] *= np.exp(-shift) / defect.severity.median
        elif defect.kind is DefectKind.OPEN:
            saturation[np.flatnonzero(self.j_index == element), k] = 0.0

    def _read(  # type: ignore[no-untyped-def]  # internal; types as in solve
        self, probe: Probe, columns, offsets, solved: Solved, conductance: Array, saturation: Array, shunts: Shunts
    ) -> Predicted:
        net = self.network
        v = solved.volts
        red, black = net.node_of[probe.red], net.node_of[probe.black]
        injected = np.zeros((net.n_nodes, len(columns)))
        if red >= 0:
            injected[red] += 1.0
        if black >= 0:
            injected[black] -= 1.0
        adjoint = np.zeros_like(v)
        if red != black:
            adjoint[: net.n_nodes] = net.elimination.voltages(solved.factors, injected)
        volts = v[red] - v[black]
        value, by_volts, by_lead, by_current = _meter(probe, volts, solved.port_current[0], offsets, self.n_elements)
        lean = np.zeros((self.n_unknowns, len(columns)))
        nr = len(self.r_uncertain)
        lean[:nr] = self._lean_r(v, adjoint, conductance)
        lean[nr : self.n_elements] = self._lean_j(v, adjoint, saturation)
        self._lean_defects(columns, v, adjoint, conductance, shunts, lean)
        lean *= by_volts
        lean[self.n_elements] = by_lead
        lean[self.n_elements + 1] = by_volts * by_current * (adjoint[red] - adjoint[black])
        slope = probe.slope(value)
        return Predicted(probe.scaled(value), lean * slope, v)

    def _lean_r(self, v: Array, adjoint: Array, conductance: Array) -> Array:
        rows = self.r_uncertain
        a, b = self.strengths.r_a[rows], self.strengths.r_b[rows]
        return np.asarray(conductance[rows] * (v[a] - v[b]) * (adjoint[a] - adjoint[b]))

    def _lean_j(self, v: Array, adjoint: Array, saturation: Array) -> Array:
        rows = self.j_uncertain
        a, b = self.strengths.j_a[rows], self.strengths.j_b[rows]
        n_vt = self.strengths.n_vt[rows, None]
        current = saturation[rows] * np.expm1(np.minimum((v[a] - v[b]) / n_vt, 200.0))
        return np.asarray(current * (adjoint[a] - adjoint[b]) / n_vt)

    def _lean_defects(  # type: ignore[no-untyped-def]  # internal; types as in solve
        self, columns, v: Array, adjoint: Array, conductance: Array, shunts: Shunts, lean: Array
    ) -> None:
        node = self.network.node_of
        for k, column in enumerate(columns):
            for d, defect in enumerate(column.defects[:MOST_DEFECTS]):
                if defect.severity is None:
                    continue
                if defect.kind is DefectKind.PATH:
                    a, b = node[defect.nets[0]], node[defect.nets[1]]
                    mine = (shunts.column == k) & (shunts.a == a) & (shunts.b == b)
                    g = float(shunts.conductance[mine][-1]) if mine.any() else 0.0
                else:
                    element = self.wiring.index_of.get((defect.part, defect.label))
                    if element is None or element not in self._r_row:
                        continue
                    row = self._r_row[element]
                    a, b, g = int(self.strengths.r_a[row]), int(self.strengths.r_b[row]), float(conductance[row, k])
                lean[self.n_elements + 3 + d, k] = g * (v[a, k] - v[b, k]) * (adjoint[a, k] - adjoint[b, k])


def _meter(
    probe: Probe, volts: Array, current: Array, offsets: Array | None, at: int
) -> tuple[Array, Array, Array, Array]:
    """The number shown; its derivatives by the volts, by the lead unknown, and the current's by its logarithm."""
    lead = 0.0 if offsets is None else offsets[at]
    zero = np.zeros_like(volts)
    if probe.is_ohms:
        m = probe.meter
        current = np.maximum(current, 1e-15)
        leads = 0.0 if m.nulled or m.four_wire else m.lead_resistance
        by = 1.0 / current * (1.0 + np.where(current < 0.999 * m.ohms_current, volts / (current * _knee(m)), 0.0))
        shown = np.maximum(volts, 0.0) / current + leads + lead
        return shown, by, np.ones_like(volts) if not m.four_wire else zero, zero
    if probe.is_diode:
        return volts + current * (probe.meter.lead_resistance + lead), np.ones_like(volts), current, current
    feed = probe.feed
    if feed is None or probe.quantity is Quantity.VOLTS:
        return volts, np.ones_like(volts), zero, zero
    limited = current > 0.999 * feed.limit
    if probe.quantity is Quantity.SUPPLY_AMPS:
        return current, np.where(limited, 0.0, -1.0 / (feed.leads + 1e-3)), zero, zero
    shown = volts + current * feed.leads
    return shown, np.where(limited, 1.0, 1e-3 / (feed.leads + 1e-3)), zero, zero


def _knee(meter) -> float:  # type: ignore[no-untyped-def]  # a Meter
    return float(meter.ohms_compliance / meter.ohms_current)


def is_untouched(forward: Forward, healthy_volts: Array, defect: Defect, probe: Probe) -> bool:
    """Whether a defect can change no reading by as much as anyone could see.

    A network of passive elements has no voltage gain, so a path across a pair of nets changes no
    difference of voltages by more than what stood across that pair.
    """
    if defect.kind is not DefectKind.PATH:
        return False
    node = forward.network.node_of
    across = abs(healthy_volts[node[defect.nets[0]]] - healthy_volts[node[defect.nets[1]]])
    shown = abs(healthy_volts[node[probe.red]] - healthy_volts[node[probe.black]])
    return bool(across <= max(1e-6, 1e-4 * shown))
