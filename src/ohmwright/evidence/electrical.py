"""The likelihood of every hypothesis under all readings of a case."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import Board, BoardState, Part
from ohmwright.evidence.forward import Column, Forward, is_untouched
from ohmwright.evidence.joint import Array, Joint, Stack, joint, relinearised
from ohmwright.evidence.probe import Probe, electrical_state, probe_of
from ohmwright.facts import LOOSE, Reading
from ohmwright.faults import Defect, Hypothesis, active_defects
from ohmwright.operation import switched_on, wiring_of

STRAY = 0.015
"""Prior probability that a reading is a slip: wrong pad, no contact, misread. [1] estimate"""
DAMAGED = 0.02
"""Prior that a loose part was harmed by taking it off, or its contacts slipped. [1] estimate"""


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One reading, ready to be predicted."""

    reading: Reading
    probe: Probe
    state: BoardState
    forward: Forward
    loose: bool
    place: NDArray[np.intp]


@dataclass(eq=False)
class Electrical:
    """Predictions and likelihoods for one board; keeps what it has solved.

    Parameters
    ----------
    board : Board
    wires : tuple of (str, str)
        Nets that are joined by hand in some state.
    """

    board: Board
    wires: tuple[tuple[str, str], ...] = ()
    forward: Forward = field(init=False)
    _loose: dict[tuple[str, str], Forward] = field(init=False, default_factory=dict)
    _apart: dict[tuple[str, str], Forward] = field(init=False, default_factory=dict)
    _on: dict[BoardState, BoardState] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.forward = Forward(wiring_of(self.board, self.wires))

    def line(self, reading: Reading) -> Line:
        """A reading made ready."""
        probe = probe_of(self.board, reading)
        loose = reading.quantity in LOOSE
        state = self.full_state(electrical_state(reading.state, reading.quantity))
        forward = self._forward_for(probe)
        if loose:
            part = self.board.part(reading.red.rpartition(".")[0])
            forward = self.loose_part(part, probe.black)
        return Line(reading, probe, state, forward, loose, self._places(forward))

    def _forward_for(self, probe: Probe) -> Forward:
        """The whole board, with room in its network for a source between the probe's two nets."""
        plus, minus = probe.ports[0].plus, probe.ports[0].minus
        node = self.forward.network.node_of
        a, b = sorted((node[plus], node[minus]))
        if a < 0 or a == b or (a, b) in self.forward.network.elimination.edge_of:
            return self.forward
        if (plus, minus) not in self._apart:
            self._apart[plus, minus] = Forward(wiring_of(self.board, (*self.wires, (plus, minus))))
        return self._apart[plus, minus]

    def full_state(self, state: BoardState) -> BoardState:
        """The state with what its feed switches on."""
        if state.feed is None or state.switched_on:
            return state
        if state not in self._on:
            on = switched_on(self.forward.wiring, state)
            self._on[state] = state.with_feed(state.feed, on)
        return self._on[state]

    def loose_part(self, part: Part, ground: str) -> Forward:
        """One part by itself, off the board."""
        key = (part.name, ground)
        if key not in self._loose:
            nets = tuple(self.board.net(net) for net in part.nets)
            alone = Board(f"{part.name} alone", ground, nets, (part,))
            self._loose[key] = Forward(wiring_of(alone))
        return self._loose[key]

    def _places(self, forward: Forward) -> NDArray[np.intp]:
        whole = self.forward
        n = whole.n_elements
        tail = np.arange(n, whole.n_unknowns)
        if forward.wiring.board is whole.wiring.board:
            return np.arange(whole.n_unknowns)
        at = {(whole.wiring.elements[e].part, whole.wiring.elements[e].label): k for k, e in enumerate(whole.elements)}
        own = [(forward.wiring.elements[e].part, forward.wiring.elements[e].label) for e in forward.elements]
        return np.concatenate((np.array([at.get(name, 0) for name in own], dtype=int), tail)).astype(int)

    def column(self, line: Line, defects: tuple[Defect, ...], taken: tuple[tuple[str, str], ...] = ()) -> Column:
        """The circuit one reading sees under some defects."""
        if line.loose:
            part = line.reading.red.rpartition(".")[0]
            taken = tuple(guess for guess in taken if guess[0] == part)
        return Column(line.state, defects, taken)

    def defects(self, line: Line, hypothesis: Hypothesis) -> tuple[Defect, ...]:
        """Those defects of a hypothesis that the reading could feel at all."""
        state = line.reading.state
        if not line.loose:
            return active_defects(hypothesis, state)
        part = line.reading.red.rpartition(".")[0]
        return tuple(d for d in hypothesis.defects if d.part == part and not d.joint and part not in state.replaced)

    def classes(
        self, lines: Sequence[Line], hypotheses: Sequence[Hypothesis], taken: tuple[tuple[str, str], ...] = ()
    ) -> tuple[NDArray[np.intp], list[list[Column]]]:
        """Hypotheses that no reading so far tells apart.

        Returns
        -------
        class_of : ndarray of int, shape (n_hypotheses,)
        columns : list of list of Column
            For each class its column under each line.
        """
        healthy = [self._healthy_volts(line, taken) for line in lines]
        special = _touched(lines)
        seen: dict[tuple[object, ...], int] = {}
        alike: dict[object, int] = {}
        class_of = np.empty(len(hypotheses), dtype=int)
        columns: list[list[Column]] = []
        feels: dict[tuple[int, tuple[str, ...]], bool] = {}
        for h, hypothesis in enumerate(hypotheses):
            plain = _plain(hypothesis, special)
            if plain is not None and plain in alike:
                class_of[h] = alike[plain]
                continue
            row = [self._felt(k, line, hypothesis, healthy[k], taken, feels) for k, line in enumerate(lines)]
            signature = tuple(column.signature[1] for column in row)
            if signature not in seen:
                seen[signature] = len(columns)
                columns.append(row)
            class_of[h] = seen[signature]
            if plain is not None:
                alike[plain] = seen[signature]
        return class_of, columns

    def _felt(
        self,
        k: int,
        line: Line,
        hypothesis: Hypothesis,
        healthy: Array,
        taken: tuple[tuple[str, str], ...],
        feels: dict[tuple[int, tuple[str, ...]], bool],
    ) -> Column:
        """The circuit a line sees under a hypothesis; the sound one where it could feel no difference."""
        defects = self.defects(line, hypothesis)
        if len(defects) == 1:
            key = (k, defects[0].electrical)
            if key not in feels:
                feels[key] = not is_untouched(line.forward, healthy, defects[0], line.probe)
            defects = defects if feels[key] else ()
        return self.column(line, defects, taken)

    def _healthy_volts(self, line: Line, taken: tuple[tuple[str, str], ...]) -> Array:
        key = ("healthy volts", line.probe, line.state, taken)
        known = line.forward._known  # one store for all that a probe was solved for
        if key not in known:
            volts = line.forward.predict(line.probe, [self.column(line, (), taken)]).volts[:, 0]
            known[key] = (0.0, volts)
        return known[key][1]

    def stack(self, lines: Sequence[Line], columns: Sequence[Sequence[Column]], at: Array | None = None) -> Stack:
        """Predictions of all lines for all classes, at nominal strengths or at given offsets."""
        n_classes = len(columns)
        whole = self.forward.n_unknowns
        y = np.empty((len(lines), n_classes))
        lean = np.zeros((len(lines), whole, n_classes))
        spread = np.repeat(self.forward.spread[:, None], n_classes, axis=1)
        tail = slice(self.forward.n_elements + 3, whole)
        for k, line in enumerate(lines):
            asked = [row[k] for row in columns]
            if at is None:
                y[k], own = line.forward.at_nominal(line.probe, asked)
            else:
                predicted = line.forward.predict(line.probe, asked, at[line.place])
                y[k], own = predicted.y, predicted.lean
            lean[k, line.place] = own
            spread[tail] = np.maximum(spread[tail], line.forward.spreads(asked)[line.forward.n_elements + 3 :])
        return Stack(
            np.array([_observed(line) for line in lines]),
            np.array([line.reading.overload for line in lines], dtype=bool),
            np.array([line.probe.overload if np.isfinite(line.probe.overload) else 50.0 for line in lines]),
            np.array([line.probe.noise(_noise_at(line)) for line in lines]),
            np.array([self.stray(line) for line in lines]),
            np.array([line.probe.width for line in lines]),
            y,
            lean,
            spread,
        )

    def stray(self, line: Line) -> float:
        """Prior probability that a reading says something the map cannot."""
        if line.loose:
            return DAMAGED
        nets = {line.probe.red, line.probe.black} - {self.board.ground}
        unexplained = max((self.board.net(net).unexplained_pads for net in nets), default=0)
        hidden = 1.0 - np.exp(-0.3 * unexplained) if unexplained else 0.5 * self.board.unmapped_share
        return float(min(0.25, STRAY + 0.3 * hidden))

    def likelihoods(
        self,
        lines: Sequence[Line],
        columns: Sequence[Sequence[Column]],
        log_prior: Array,
        refine: int = 30,
        always: int = 0,
    ) -> tuple[Joint, NDArray[np.intp]]:
        """Log likelihood of every class, relinearised where it matters.

        Parameters
        ----------
        log_prior : ndarray, shape (n_classes,)
            To choose the classes worth relinearising.
        refine : int
            How many of them. [1]
        always : int
            A class that is relinearised whatever its score, as that of a sound board.

        Returns
        -------
        Joint
            For all classes.
        ndarray of int
            Those that were relinearised.
        """
        stack = self.stack(lines, columns)
        result = joint(stack)
        if not lines:
            return result, np.array([], dtype=int)
        for most in (refine, refine // 2, 8, 8):
            score = result.log_likelihood + log_prior
            best = np.argsort(-score, kind="stable")[:most]
            best = best[score[best] > score[best[0]] - 12.0]
            if always not in best:
                best = np.append(best, always)
            limit = 3.5 * np.maximum(stack.spread[:, best], 1e-12)
            at = np.clip(result.shift[:, best], -limit, limit)
            fresh = self.stack(lines, [columns[k] for k in best.tolist()], at)
            better = joint(relinearised(fresh, at))
            result.log_likelihood[best] = better.log_likelihood
            result.misfit[best] = better.misfit
            result.stray[:, best] = better.stray
            result.shift[:, best] = better.shift
        return result, best


def _touched(lines: Sequence[Line]) -> frozenset[str]:
    """Parts and nets about which some state or some loose reading makes a difference."""
    found: set[str] = set()
    for line in lines:
        state = line.reading.state
        found |= state.off | state.replaced | state.cleaned
        if line.loose:
            found.add(line.reading.red.rpartition(".")[0])
    return frozenset(found)


def _plain(hypothesis: Hypothesis, special: frozenset[str]) -> object:
    """A key that decides the class of a hypothesis, or None where its parts were touched."""
    for defect in hypothesis.defects:
        if defect.part in special or (not defect.part and not special.isdisjoint(defect.where)):
            return None
    if len(hypothesis.defects) == 1:
        return hypothesis.defects[0].electrical
    return tuple(sorted(defect.electrical for defect in hypothesis.defects))


def _observed(line: Line) -> float:
    return 0.0 if line.reading.value is None else float(line.probe.scaled(line.reading.value))


def _noise_at(line: Line) -> float:
    if line.reading.value is not None:
        return abs(line.reading.value)
    return float(line.probe.unscaled(min(line.probe.overload, 30.0)))
