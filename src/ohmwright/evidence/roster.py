"""Hypotheses laid out as index arrays, so that all of them are handled at once.

Defects that no reading tells apart while their parts stay on the board share an electrical number;
a set of such numbers is a circuit, and has a code. Code 0 is the sound circuit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import BoardState
from ohmwright.faults import Defect, DefectKind, Hypothesis

Index = NDArray[np.intp]
SLOTS = 3
"""Most defects of one hypothesis. [1]"""


@dataclass(eq=False)
class Register:
    """Numbers given out to electrical defects and to sets of them; it only ever grows."""

    numbers: dict[tuple[str, ...], int] = field(default_factory=dict)
    examples: list[Defect] = field(default_factory=list)
    codes: dict[tuple[int, ...], int] = field(default_factory=lambda: {(): 0})
    circuits: list[tuple[int, ...]] = field(default_factory=lambda: [()])
    _single: list[int] = field(default_factory=list)

    def number(self, defect: Defect) -> int:
        """The electrical number of a defect."""
        key = defect.electrical
        if key not in self.numbers:
            self.numbers[key] = len(self.examples)
            self.examples.append(defect)
            self._single.append(self.code((self.numbers[key],)))
        return self.numbers[key]

    def code(self, numbers: tuple[int, ...]) -> int:
        """The code of a circuit with those defects, numbers sorted."""
        if numbers not in self.codes:
            self.codes[numbers] = len(self.circuits)
            self.circuits.append(numbers)
        return self.codes[numbers]

    def log_sd(self, number: int) -> float:
        """Spread of the logarithm of a defect's severity. [1]"""
        severity = self.examples[number].severity
        return severity.log_sd if severity else 0.0

    @property
    def code_of_single(self) -> Index:
        """Code of each electrical number by itself, shape (n_numbers,)."""
        return np.array(self._single, dtype=np.intp)

    def defects(self, code: int) -> tuple[Defect, ...]:
        """Examples of the defects of a circuit."""
        return tuple(self.examples[number] for number in self.circuits[code])


@dataclass(frozen=True, eq=False)
class Roster:
    """Hypotheses with their distinct defects.

    Parameters
    ----------
    hypotheses : tuple of Hypothesis
    defects : tuple of Defect
        The distinct ones.
    slots : ndarray of int, shape (n_hypotheses, SLOTS)
        Which defects each has; -1 where none.
    number : ndarray of int, shape (n_defects,)
        Electrical number.
    log_prior : ndarray, shape (n_hypotheses,)
        Natural logarithm.
    """

    hypotheses: tuple[Hypothesis, ...]
    defects: tuple[Defect, ...]
    slots: Index
    number: Index
    log_prior: NDArray[np.float64]
    _part: dict[str, Index]
    _spot: dict[str, Index]
    _joint: NDArray[np.bool_]
    _still: dict[BoardState, NDArray[np.bool_]] = field(default_factory=dict)

    def still_there(self, state: BoardState) -> NDArray[np.bool_]:
        """Which defects are still there in a state, shape (n_defects,). As `faults.active_defects`."""
        key = BoardState(off=state.off, replaced=state.replaced, cleaned=state.cleaned)
        if key not in self._still:
            there = np.ones(len(self.defects), dtype=bool)
            for part in state.off | state.replaced:
                there[self._part.get(part, [])] = False
            for spot in state.cleaned:
                for where in (self._part.get(spot, _NOTHING), self._spot.get(spot, _NOTHING)):
                    there[where[self._joint[where]]] = False
            self._still[key] = there
        return self._still[key]

    def subset(self, chosen: Index) -> Roster:
        """Some hypotheses only; the list of defects stays as it is."""
        return Roster(
            tuple(self.hypotheses[h] for h in chosen.tolist()),
            self.defects,
            self.slots[chosen],
            self.number,
            self.log_prior[chosen],
            self._part,
            self._spot,
            self._joint,
            self._still,
        )

    def of_part(self, part: str) -> Index:
        """The defects of a part."""
        return self._part.get(part, _NOTHING)

    def with_part(self, part: str) -> NDArray[np.bool_]:
        """Hypotheses with a defect of that part, shape (n_hypotheses,)."""
        return self._having(self._part.get(part, _NOTHING))

    def at(self, spot: str) -> NDArray[np.bool_]:
        """Hypotheses with a defect of that part, or off the map at that net, shape (n_hypotheses,)."""
        return self._having(np.concatenate((self._part.get(spot, _NOTHING), self._spot.get(spot, _NOTHING))))

    def _having(self, defects: Index) -> NDArray[np.bool_]:
        mine = np.zeros(len(self.defects) + 1, dtype=bool)
        mine[defects] = True
        return np.asarray(mine[self.slots].any(axis=1))

    def joint_defects(self) -> NDArray[np.bool_]:
        """Which defects sit in the solder, shape (n_defects,)."""
        return self._joint

    def left(self, state: BoardState) -> NDArray[np.bool_]:
        """Hypotheses of which something is left in a state, shape (n_hypotheses,)."""
        return np.asarray(np.append(self.still_there(state), False)[self.slots].any(axis=1))

    def total(self, per_hypothesis: NDArray[np.float64]) -> NDArray[np.float64]:
        """Sum over the hypotheses that have each defect, shape (n_defects,)."""
        flat = self.slots.ravel()
        weight = np.repeat(per_hypothesis, SLOTS)
        kept = flat >= 0
        return np.asarray(np.bincount(flat[kept], weight[kept], len(self.defects)), dtype=float)


_NOTHING: Index = np.array([], dtype=np.intp)


def roster_of(hypotheses: Sequence[Hypothesis], register: Register) -> Roster:
    """Lay hypotheses out.

    Parameters
    ----------
    hypotheses : sequence of Hypothesis
    register : Register
        Of the board; it takes up the numbers that are new.
    """
    index: dict[int, int] = {}
    defects: list[Defect] = []
    slots = np.full((len(hypotheses), SLOTS), -1, dtype=np.intp)
    for h, hypothesis in enumerate(hypotheses):
        for s, defect in enumerate(hypothesis.defects[:SLOTS]):
            if id(defect) not in index:
                index[id(defect)] = len(defects)
                defects.append(defect)
            slots[h, s] = index[id(defect)]
    part: dict[str, list[int]] = {}
    spot: dict[str, list[int]] = {}
    for d, defect in enumerate(defects):
        if defect.part:
            part.setdefault(defect.part, []).append(d)
        else:
            for where in defect.where:
                spot.setdefault(where, []).append(d)
    return Roster(
        tuple(hypotheses),
        tuple(defects),
        slots,
        np.array([register.number(defect) for defect in defects], dtype=np.intp),
        np.log(np.array([h.prior for h in hypotheses])),
        {name: np.array(where, dtype=np.intp) for name, where in part.items()},
        {name: np.array(where, dtype=np.intp) for name, where in spot.items()},
        np.array([defect.joint for defect in defects], dtype=bool),
    )


def codes_of(roster: Roster, register: Register, active: NDArray[np.bool_], felt: NDArray[np.bool_]) -> Index:
    """Code of the circuit each hypothesis makes, shape (n_hypotheses,).

    Parameters
    ----------
    active : ndarray of bool, shape (n_defects,)
        Which defects are there at all.
    felt : ndarray of bool, shape (n_numbers,)
        Which defects, being alone, the reading could feel.
    """
    number = np.append(np.where(active, roster.number, -1), -1)[roster.slots]
    count = (number >= 0).sum(axis=1)
    alone = number.max(axis=1)
    of_single = np.append(np.where(felt, register.code_of_single, 0), 0)
    codes = np.where(count > 0, of_single[alone], 0)
    several = np.flatnonzero(count > 1)
    if several.size:
        rows, of = np.unique(np.sort(number[several], axis=1), axis=0, return_inverse=True)
        each = [_code(register, row) for row in rows.tolist()]
        codes[several] = np.array(each, dtype=np.intp)[of.ravel()]
    return codes


def _code(register: Register, row: list[int]) -> int:
    return register.code(tuple(number for number in row if number >= 0))


def felt_paths(register: Register, volts: NDArray[np.float64], node: Sequence[int], shown: float) -> NDArray[np.bool_]:
    """Which electrical defects could change a reading by as much as anyone could see, shape (n_numbers,).

    A network of passive elements has no voltage gain, so a path across a pair of nets changes no
    difference of voltages by more than what stood across that pair.

    Parameters
    ----------
    volts : ndarray, shape (n_nodes + 1,)
        Of the sound circuit under the reading. [V]
    node : sequence of int
        For each electrical number its two nodes, one after the other; -2 for what is not a path.
    shown : float
        What stands across the reading's own points. [V]
    """
    ends = np.asarray(node, dtype=np.intp).reshape(-1, 2)
    path = ends[:, 0] != -2
    across = np.abs(volts[ends[:, 0]] - volts[ends[:, 1]])
    return np.asarray(~path | (across > max(1e-6, 1e-4 * abs(shown))))


def ends_of(defect: Defect, node_of: dict[str, int]) -> tuple[int, int]:
    """The two nodes of a path, (-2, -2) for anything else."""
    if defect.kind is not DefectKind.PATH:
        return -2, -2
    return node_of[defect.nets[0]], node_of[defect.nets[1]]
