"""Everything solved so far of one board: circuits, their codes, and what each reading shows of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ohmwright import kernels
from ohmwright.circuit import Board, BoardState, Part
from ohmwright.evidence.column import Column
from ohmwright.evidence.forward import Forward
from ohmwright.evidence.laid import Laid
from ohmwright.evidence.probe import MOST_DECADES, Probe, electrical_state, probe_of
from ohmwright.evidence.roster import Index, Register, Roster, codes_of
from ohmwright.evidence.shelf import Shelf, Taken, found_by
from ohmwright.evidence.shelving import shelve
from ohmwright.facts import LOOSE, Reading
from ohmwright.faults import Defect
from ohmwright.operation import alone, switched_on, wiring_of

ROOM = 300e6
"""Memory that kept predictions may take. [byte]"""
KEPT = 40
"""Shelves kept whatever room they take. [1]"""


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One reading, ready to be predicted."""

    reading: Reading
    probe: Probe
    state: BoardState
    forward: Forward
    loose: str
    """Name of the part that lies on the bench, or ""."""
    twice: bool = False
    """Whether it was taken again with the same result."""

    @property
    def asked(self) -> tuple[object, ...]:
        """What it asks, in whatever range it was shown: two that are alike may lie on either side of a range's top."""
        probe = self.probe
        return probe.red, probe.black, probe.quantity, probe.feed, probe.copper, self.reading.meter

    def shows_as(self, other: Line) -> bool:
        """Whether another reading of the same points, in whatever state of the board, shows the same."""
        if self.asked != other.asked or self.loose != other.loose:
            return False
        a, b = self.reading.value, other.reading.value
        if a is None or b is None:
            return a is b
        step = self.probe.noise(abs(a)) + self.probe.noise(abs(b))
        return bool(abs(float(self.probe.scaled(a)) - float(self.probe.scaled(b))) < 1.5 * step)


@dataclass(eq=False)
class Shelves:
    """Predictions for one board; keeps what it has solved.

    Parameters
    ----------
    board : Board
    wires : tuple of (str, str)
        Nets that are joined by hand in some state.
    """

    board: Board
    wires: tuple[tuple[str, str], ...] = ()
    forward: Forward = field(init=False)
    register: Register = field(init=False, default_factory=Register)
    laid: Laid = field(init=False)
    _loose: dict[tuple[str, str], Forward] = field(init=False, default_factory=dict)
    _on: dict[BoardState, BoardState] = field(init=False, default_factory=dict)
    _shelves: dict[tuple[object, ...], Shelf] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.forward = Forward(wiring_of(self.board, self.wires))
        self.laid = Laid(self.register)

    @property
    def tail(self) -> int:
        """How many unknowns the board has besides severities. [1]"""
        return self.forward.severity_at

    @property
    def n_all(self) -> int:
        """How many unknowns there are, a severity for each electrical number included. [1]"""
        return self.tail + len(self.register.examples)

    def line(self, reading: Reading) -> Line:
        """A reading made ready."""
        probe = probe_of(self.board, reading)
        state = self.full_state(electrical_state(reading.state, reading.quantity))
        if reading.quantity in LOOSE:
            name = reading.red.rpartition(".")[0]
            return Line(reading, probe, state, self.loose_part(self.board.part(name), probe.black), name)
        return Line(reading, probe, state, self.forward, "")

    def lines_asked(self, readings: Sequence[Reading], taken: Taken = ()) -> list[Line]:
        """Readings that nobody took yet, in ohms in the range in which a sound board would show them."""
        lines, sound = [self.line(reading) for reading in readings], np.zeros(1, dtype=np.intp)
        rising = [k for k, line in enumerate(lines) if line.probe.is_ohms]
        for _ in range(MOST_DECADES):
            shelves = [self.shelf(lines[k], taken) for k in rising]
            self.fill([(shelf, sound) for shelf in shelves])
            left = []
            for k, shelf in zip(rising, shelves, strict=True):
                y, probe = float(shelf.y[shelf.row_of[0]]), lines[k].probe
                shown = None if y > probe.overload else float(probe.unscaled(y))
                ranged = replace(self.line(replace(readings[k], value=shown)), reading=readings[k])
                if ranged.probe != probe:
                    lines[k] = ranged
                    left.append(k)
            rising = left
        return lines

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
            self._loose[key] = Forward(alone(part, ground, self.forward.wiring))
        return self._loose[key]

    def _place(self, forward: Forward) -> Index:
        """Where the unknowns of a network, severities left out, are among those of the whole board."""
        whole = self.forward
        if forward is whole:
            return np.arange(self.tail)
        at = {(whole.wiring.elements[e].part, whole.wiring.elements[e].label): k for k, e in enumerate(whole.elements)}
        own = [(forward.wiring.elements[e].part, forward.wiring.elements[e].label) for e in forward.elements]
        rail = {r.net: whole.n_elements + k for k, r in enumerate(whole.rails)}
        shared = [rail[r.net] for r in forward.rails]
        meter = range(whole.meter_at, self.tail)
        return np.array([*(at[name] for name in own), *shared, *meter], dtype=np.intp)

    def column(self, line: Line, defects: tuple[Defect, ...], taken: Taken = ()) -> Column:
        """The circuit one reading sees under some defects."""
        return Column(line.state, defects, _told(line, taken))

    def shelf(self, line: Line, taken: Taken = ()) -> Shelf:
        """Where the predictions of a line are kept."""
        told = _told(line, taken)
        key = (line.probe, line.state, line.loose, told)
        found = self._shelves.pop(key, None)
        if found is None:
            place = self._place(line.forward)
            found = Shelf(line.probe, line.state, line.forward, told, place, self.tail)
        self._shelves[key] = found  # the one used last stands last
        return found

    def _tidy(self) -> None:
        """Let go of what was not used for longest, once it takes much room."""
        room = sum(shelf.room for shelf in self._shelves.values())
        for key in list(self._shelves)[:-KEPT]:
            if room <= ROOM:
                return
            room -= self._shelves.pop(key).room

    def fill(self, wanted: Sequence[tuple[Shelf, Index]]) -> None:
        """Solve, all together, whatever circuits the shelves do not hold yet."""
        orders = [(shelf, missing) for shelf, codes in wanted if (missing := shelf.missing(codes))]
        compiled = kernels.ready()
        if compiled is not None:
            shelve(compiled, self.laid, orders)
        else:
            self._fill(orders)
        self._tidy()

    def _fill(self, orders: Sequence[tuple[Shelf, list[int]]]) -> None:
        """The same without compiled code."""
        by_network: dict[int, list[tuple[Shelf, list[int]]]] = {}
        for shelf, missing in orders:
            by_network.setdefault(id(shelf.forward), []).append((shelf, missing))
        for alike in by_network.values():
            forward = alike[0][0].forward
            groups = [(shelf.probe, [shelf.column(self.register, code) for code in codes]) for shelf, codes in alike]
            start = np.column_stack([shelf.first_guess() for shelf, missing in alike for _ in missing])
            predicted = forward.predict_all(groups, None, start)
            done = 0
            for shelf, missing in alike:
                own = predicted.part(slice(done, done + len(missing)))
                shelf.put(self.register, missing, found_by(forward, self.register, shelf, missing, own))
                done += len(missing)

    def codes(self, lines: Sequence[Line], shelves: Sequence[Shelf], roster: Roster) -> list[Index]:
        """Code of the circuit each line sees under each hypothesis, one array per line."""
        sound = np.zeros(1, dtype=np.intp)
        self.fill([(shelf, sound) for shelf in shelves])
        active = [_active(line, roster) for line in lines]
        several = roster.slots[(roster.slots >= 0).sum(axis=1) > 1]
        if several.size:
            # every single defect that is part of a larger set, to see what is felt beside it
            members = np.unique(several[several >= 0])
            singles = self.register.code_of_single
            self.fill(
                [
                    (shelf, singles[np.unique(roster.number[members[there[members]]])])
                    for shelf, there in zip(shelves, active, strict=True)
                ]
            )
        return [self._codes(shelf, there, roster) for shelf, there in zip(shelves, active, strict=True)]

    def _codes(self, shelf: Shelf, there: NDArray[np.bool_], roster: Roster) -> Index:
        """Codes for one line; what was found for a roster holds as long as the roster and the shelf do."""
        known = shelf.coded.get(roster)
        if known is None or not np.array_equal(known[0], there):
            known = there, codes_of(roster, self.register, there, partial(shelf.felt, self.register))
            shelf.coded[roster] = known
        return known[1]


def _active(line: Line, roster: Roster) -> NDArray[np.bool_]:
    """Which defects are there when a line is read, shape (n_defects,)."""
    if not line.loose:
        return roster.still_there(line.reading.state)
    active = np.zeros(len(roster.defects), dtype=bool)
    if line.loose not in line.reading.state.replaced:
        own = roster.of_part(line.loose)
        active[own[~roster.joint[own]]] = True
    return active


def _told(line: Line, taken: Taken) -> Taken:
    return tuple(guess for guess in taken if guess[0] == line.loose) if line.loose else taken
