"""The likelihood of every hypothesis under all readings of a case."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from ohmwright.circuit import Board
from ohmwright.evidence.joint import Array, Stack, unread
from ohmwright.evidence.roster import Index, Roster
from ohmwright.evidence.shelf import Shelf, Taken
from ohmwright.evidence.shelves import Line, Shelves
from ohmwright.evidence.tangent import look_again
from ohmwright.evidence.waste import least_ohms
from ohmwright.evidence.weighed import Weighed
from ohmwright.facts import Quantity, Reading
from ohmwright.operation import volts_at_least

STRAY = 0.015
"""Prior probability that a reading is a slip: wrong pad, no contact, misread. [1] estimate"""
CLIPPED = 0.004
"""The same where a supply shows what it drives: its clips stay where they are, and slip less often than a probe."""
SLIPS_AGAIN = 0.1
"""How often who slipped once does so again in just the same way: looks at the same wrong pad. [1] estimate"""
SHORT_OHMS, SHORT_VOLTS = ((1.35, 3.0), (2.1, 10.0), (1e9, 30.0)), 0.01
"""What no sound net shows to ground, by the volts it has at least, core rails apart, whose loads the map knows: a third
or less of what rails of those volts show. [V], [Ω]; and in diode mode whatever its volts. [V] common practice"""
THROUGH = 2.0
"""Resistance between two nets up to which they are one at DC: a coil, a bead, a link. [Ω]"""
SIGNALS, SIGNAL_OHMS = frozenset({"IO", "EN", "PG"}), 25.0
"""Roles of pins whose nets, where they feed nothing, show no less than that to ground when sound: half of the lowest
termination in use, 50 Ω. [Ω] common practice, no source"""
FLOATING = 0.15
"""Prior probability that a boot pin reads out of range in diode mode with nothing wrong: it floats on a switch node
behind its capacitor, and chips differ in whether any junction leads there from ground. [1] estimate"""
DAMAGED = 0.02
"""Prior that a loose part was harmed by taking it off, or its contacts slipped. [1] estimate"""


@dataclass(eq=False)
class Electrical(Shelves):
    """Predictions and likelihoods for one board."""

    def weigh(
        self,
        lines: Sequence[Line],
        roster: Roster,
        log_prior: Array,
        taken: Taken = (),
        refine: int = 60,
        before: Weighed | None = None,
    ) -> Weighed:
        """Log likelihood of every hypothesis, looked at again where it matters.

        Parameters
        ----------
        lines : sequence of Line
        roster : Roster
            The first hypothesis is always looked at closely.
        log_prior : ndarray, shape (n_hypotheses,)
            To choose the classes worth looking at again.
        refine : int
            How many of them. [1]
        before : Weighed, optional
            The same readings weighed over other hypotheses with the parts taken for the same.
        """
        lines = tuple(lines)
        shelves = tuple(self.shelf(line, taken) for line in lines)
        per_line = self.codes(lines, shelves, roster)
        class_of, codes = _classes(per_line, len(roster.hypotheses))
        self.fill([(shelf, codes[:, k]) for k, shelf in enumerate(shelves)])
        rows = np.empty_like(codes)
        for k, shelf in enumerate(shelves):
            rows[:, k] = shelf.rows(codes[:, k])
        stack = self._stack(lines, shelves, rows)
        weak = np.zeros((len(lines), len(codes)), dtype=bool)
        weighed = Weighed(
            lines, shelves, class_of, codes, rows, unread(stack), stack, {}, weak, self.register, self.tail
        )
        if lines:
            per_class = np.full(len(codes), -np.inf)
            np.logaddexp.at(per_class, class_of, log_prior)
            look_again(self, weighed, per_class, refine, before)
        return weighed

    def _stack(self, lines: Sequence[Line], shelves: Sequence[Shelf], rows: Index) -> Stack:
        """The readings with what each class predicts at the median; covariances come in as classes are looked at."""
        n, strays = len(lines), self._strays(lines)
        off_map = _off_map(lines, strays)
        return Stack(
            np.array([_observed(line) for line in lines]),
            np.array([line.reading.overload for line in lines], dtype=bool),
            np.array([line.probe.overload if np.isfinite(line.probe.overload) else 50.0 for line in lines]),
            np.array([line.probe.noise(_noise_at(line)) for line in lines]),
            strays,
            np.array([line.probe.width for line in lines]),
            self._twins(lines, off_map),
            self._again(lines, off_map),
            np.array([shelf.y[rows[:, k]] for k, shelf in enumerate(shelves)]).reshape(n, len(rows)),
            np.zeros((len(rows), n, n)),
        )

    def _strays(self, lines: Sequence[Line]) -> Array:
        """Prior probabilities of strays, shape (n,). [1]

        Whatever is missing from the map at one end of a pair alone shows there to ground as well, once that is read:
        the pair by itself strays only by what is missing between its two nets.
        """
        alike = {(line.probe.is_ohms, net) for line in lines if (net := self._to_ground(line))}
        return np.array([self.stray(line, line.reading, alike) for line in lines])

    def _to_ground(self, line: Line) -> str:
        """The net a reading on the board is taken at, if its other end is on ground; else nothing."""
        ends = {line.probe.red, line.probe.black}
        away = ends - {self.board.ground}
        return next(iter(away)) if len(away) == 1 and len(ends) == 2 and not line.loose else ""

    def _twins(self, lines: Sequence[Line], off_map: Array) -> Array:
        """The same for pairs of readings of the same points that show the same, shape (n, n). [1]

        What a loose part shows twice is that part, harmed or not.
        """
        same = [[a is not b and a.shows_as(b) for b in lines] for a in lines]
        share = np.where([bool(line.loose) for line in lines], 1.0, off_map)
        return np.asarray(np.array(same, dtype=bool).reshape(len(lines), len(lines)) * share)

    def _again(self, lines: Sequence[Line], off_map: Array) -> Array:
        """Log densities of readings where another (row) shows the map to be wrong there, shape (n, n).

        Another at the same points, or, for a pair, one from either end to ground. Only so far as it is the map that is
        wrong, and not a slip of the probe.
        """
        n = len(lines)
        points = [frozenset() if line.loose else _points(line) for line in lines]
        to_ground = [(line.probe.is_ohms, self._to_ground(line)) for line in lines]
        same = np.array([[bool(a) and a == b for b in points] for a in points], dtype=bool).reshape(n, n)
        same[np.arange(n), np.arange(n)] = False
        ends = [
            {(line.probe.is_ohms, net) for net in _points(line)} if not line.loose and not at else set()
            for line, (_, at) in zip(lines, to_ground, strict=True)
        ]
        shared = np.array([[g in pair for pair in ends] for g in to_ground], dtype=bool).reshape(n, n)
        share = np.maximum(np.where(same, off_map, 0.0), np.where(shared, off_map[:, None], 0.0))
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(0.5 * share / np.array([line.probe.width for line in lines])))

    def stray(
        self, line: Line, taken: Reading | None = None, told: Collection[tuple[bool, str]] = frozenset()
    ) -> float:
        """Prior probability that a reading says something the map cannot.

        What is missing from the map is sound until it is suspected, and nobody builds next to nothing between a
        net and ground: a reading like that is a slip or a fault. Nor can anything missing raise a resistance, as
        paths added to a network only lower it (Rayleigh's monotonicity law): out of range is a slip or a fault too.
        And where a part with two ends is drawn between nets that are one at DC, it is that part and nothing hidden.

        Parameters
        ----------
        told : collection of (bool, str)
            What was read to ground: whether in ohms, and the net. What is missing at one end of a pair shows there.
        """
        if line.loose:
            return DAMAGED
        if taken is not None and (
            self._dead_short(line, taken) or _out_of_range(line, taken) or self._through(line, taken)
        ):
            return _slip(line)
        if taken is not None and self._floats(line, taken):
            return FLOATING
        hidden = {net: self._hidden(net) for net in _points(line) - {self.board.ground}}
        between = min(hidden.values(), default=0.0)
        apart = [h for net, h in hidden.items() if (line.probe.is_ohms, net) not in told]
        return float(min(0.25, _slip(line) + 0.3 * max(between, *apart, 0.0)))

    def _floats(self, line: Line, taken: Reading) -> bool:
        """Whether a reading in diode mode is out of range at a boot pin that only capacitors join to anything."""
        net = self._to_ground(line)
        if not net or not line.probe.is_diode or taken.value is not None:
            return False
        on = self.board.pins_on[net]
        return any(pin.role == "BOOT" for _, pin in on) and all(
            pin.role == "BOOT" or part.kind == "capacitor" for part, pin in on
        )

    def _hidden(self, net: str) -> float:
        """How likely something on a net is missing from the map. [1]"""
        unexplained = self.board.net(net).unexplained_pads
        return float(1.0 - np.exp(-0.3 * unexplained)) if unexplained else 0.5 * self.board.unmapped_share

    def _through(self, line: Line, taken: Reading) -> bool:
        """Whether next to nothing was read straight across a part with two ends that is on the board."""
        ends = _points(line)
        if not line.probe.is_ohms or taken.value is None or taken.value >= THROUGH or self.board.ground in ends:
            return False
        off = taken.state.off
        return any(
            set(part.nets) == ends and part.name not in off for net in ends for part, _ in self.board.pins_on[net]
        )

    def _dead_short(self, line: Line, taken: Reading) -> bool:
        """Whether a reading to ground is lower than anything sound can be there, on the map or not."""
        ends = {line.probe.red, line.probe.black}
        if self.board.ground not in ends or len(ends) < 2 or taken.value is None:
            return False
        net = next(iter(ends - {self.board.ground}))
        volts = volts_at_least(self.board, net)
        ohms = max(next(least for limit, least in SHORT_OHMS if (volts or 0.0) <= limit), least_ohms(self.board, net))
        if volts is None and not self.board.net(net).rail and _is_signal(self.board, net):
            ohms = SIGNAL_OHMS
        if line.probe.is_diode:
            return taken.value < max(SHORT_VOLTS, ohms * line.probe.meter.diode_current)
        return line.probe.is_ohms and taken.value < ohms


def _classes(per_line: Sequence[Index], n_hypotheses: int) -> tuple[Index, Index]:
    """Hypotheses that make the same circuits for all lines, and those circuits."""
    label = np.zeros(n_hypotheses, dtype=np.int64)
    for codes in per_line:
        _, label = np.unique(label << 32 | codes, return_inverse=True)
        label = label.ravel().astype(np.int64)
    _, first, class_of = np.unique(label, return_index=True, return_inverse=True)
    table = np.array([codes[first] for codes in per_line], dtype=np.intp).reshape(len(per_line), len(first))
    return class_of.ravel(), np.ascontiguousarray(table.T)


def _is_signal(board: Board, net: str) -> bool:
    """Whether a pin that only signals is on a net."""
    return any(pin.role in SIGNALS for _, pin in board.pins_on[net])


def _slip(line: Line) -> float:
    """Prior probability that a reading is a slip; one that was repeated with the same result hardly is. [1]"""
    slip = CLIPPED if line.probe.quantity in (Quantity.SUPPLY_VOLTS, Quantity.SUPPLY_AMPS) else STRAY
    return slip * SLIPS_AGAIN if line.twice else slip


def _off_map(lines: Sequence[Line], strays: Array) -> Array:
    """How likely a stray reading is so as the map is wrong there and not by a slip, shape (n,). [1]"""
    slips = np.array([_slip(line) for line in lines])
    return np.asarray(1.0 - slips / np.maximum(strays, slips))


def _points(line: Line) -> frozenset[str]:
    return frozenset((line.probe.red, line.probe.black))


def _out_of_range(line: Line, taken: Reading) -> bool:
    return line.probe.is_ohms and taken.value is None


def _observed(line: Line) -> float:
    return 0.0 if line.reading.value is None else float(line.probe.scaled(line.reading.value))


def _noise_at(line: Line) -> float:
    if line.reading.value is not None:
        return abs(line.reading.value)
    return float(line.probe.unscaled(min(line.probe.overload, 30.0)))
