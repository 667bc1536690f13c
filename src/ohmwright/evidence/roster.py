"""Hypotheses laid out as index arrays, so that all of them are handled at once.

Defects that no reading tells apart while their parts stay on the board share an electrical number;
a set of such numbers is a circuit, and has a code. Code 0 is the sound circuit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import BoardState
from ohmwright.faults import Defect, Hypothesis

Index = NDArray[np.intp]
Felt: TypeAlias = Callable[[Index, Index], NDArray[np.bool_]]
WORD = 20
"""Bits in which an electrical number is packed; a board has thousands. [1]"""
SLOTS = 3
"""Most defects of one hypothesis. [1]"""


@dataclass(eq=False)
class Register:
    """Numbers given out to electrical defects and to sets of them; it only ever grows."""

    numbers: dict[tuple[str, ...], int] = field(default_factory=dict)
    examples: list[Defect] = field(default_factory=list)
    codes: dict[tuple[int, ...], int] = field(default_factory=lambda: {(): 0})
    circuits: list[tuple[int, ...]] = field(default_factory=lambda: [()])
    log_sds: list[float] = field(default_factory=list)
    """Spread of the logarithm of each defect's severity, by electrical number. [1]"""
    _single: list[int] = field(default_factory=list)

    def number(self, defect: Defect) -> int:
        """The electrical number of a defect."""
        key = defect.electrical
        if key not in self.numbers:
            self.numbers[key] = len(self.examples)
            self.examples.append(defect)
            self.log_sds.append(defect.severity.log_sd if defect.severity else 0.0)
            self._single.append(self.code((self.numbers[key],)))
        return self.numbers[key]

    def code(self, numbers: tuple[int, ...]) -> int:
        """The code of a circuit with those defects, numbers sorted."""
        if numbers not in self.codes:
            self.codes[numbers] = len(self.circuits)
            self.circuits.append(numbers)
        return self.codes[numbers]

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
    joint : ndarray of bool, shape (n_defects,)
        Which defects sit in the solder.
    harmless : ndarray of bool, shape (n_defects,)
        Which defects are only what a part of unknown kind may be.
    residue : ndarray of bool, shape (n_defects,)
        Which defects lie on the board and stay when the part comes off.
    """

    hypotheses: tuple[Hypothesis, ...]
    defects: tuple[Defect, ...]
    slots: Index
    number: Index
    log_prior: NDArray[np.float64]
    _part: dict[str, Index]
    _spot: dict[str, Index]
    joint: NDArray[np.bool_]
    harmless: NDArray[np.bool_]
    residue: NDArray[np.bool_]
    _still: dict[BoardState, NDArray[np.bool_]] = field(default_factory=dict)

    def still_there(self, state: BoardState) -> NDArray[np.bool_]:
        """Which defects are still there in a state, shape (n_defects,). As `faults.active_defects`."""
        key = replace(state.mended, off=state.off)
        if key not in self._still:
            there = np.ones(len(self.defects), dtype=bool)
            for part in state.off | state.replaced:
                own = self._part.get(part, _NOTHING)
                there[own[~self.residue[own]]] = False
            for part in state.refitted:
                own = self._part.get(part, _NOTHING)
                there[own[self.joint[own] & ~self.residue[own]]] = False
            for spot in state.cleaned:
                for where in (self._part.get(spot, _NOTHING), self._spot.get(spot, _NOTHING)):
                    there[where[self.joint[where]]] = False
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
            self.joint,
            self.harmless,
            self.residue,
            self._still,
        )

    def of_part(self, part: str) -> Index:
        """The defects of a part."""
        return self._part.get(part, _NOTHING)

    def with_part(self, part: str) -> NDArray[np.bool_]:
        """Hypotheses with that part at fault, shape (n_hypotheses,)."""
        return self._having(self._part.get(part, _NOTHING))

    def with_residue(self, part: str) -> NDArray[np.bool_]:
        """Hypotheses with residue between pads of that part, shape (n_hypotheses,)."""
        own = self._part.get(part, _NOTHING)
        return self._having(own[self.residue[own]])

    def at(self, spot: str) -> NDArray[np.bool_]:
        """Hypotheses with that part at fault, or something off the map at that net, shape (n_hypotheses,)."""
        return self._having(np.concatenate((self._part.get(spot, _NOTHING), self._spot.get(spot, _NOTHING))))

    def _having(self, defects: Index) -> NDArray[np.bool_]:
        mine = np.zeros(len(self.defects) + 1, dtype=bool)
        mine[defects[~self.harmless[defects]]] = True
        return np.asarray(mine[self.slots].any(axis=1))

    def left(self, state: BoardState) -> NDArray[np.bool_]:
        """Hypotheses of which some fault is left in a state, shape (n_hypotheses,)."""
        return np.asarray(np.append(self.still_there(state) & ~self.harmless, False)[self.slots].any(axis=1))

    def kinds_of_unknown(self) -> dict[str, Index]:
        """For each part of unknown kind the hypotheses that it is of another kind and nothing is wrong."""
        found: dict[str, list[int]] = {}
        alone = np.flatnonzero((self.slots >= 0).sum(axis=1) == 1)
        for h in alone[self.harmless[self.slots[alone, 0]]].tolist():
            found.setdefault(self.defects[self.slots[h, 0]].part, []).append(h)
        return {part: np.array(own, dtype=np.intp) for part, own in found.items()}

    def sound(self) -> NDArray[np.bool_]:
        """Hypotheses with nothing at fault, shape (n_hypotheses,)."""
        return np.asarray(np.append(self.harmless, True)[self.slots].all(axis=1))

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
        np.array([defect.harmless for defect in defects], dtype=bool),
        np.array([defect.residue for defect in defects], dtype=bool),
    )


def codes_of(roster: Roster, register: Register, active: NDArray[np.bool_], felt: Felt) -> Index:
    """Code of the circuit each hypothesis makes, shape (n_hypotheses,).

    Parameters
    ----------
    active : ndarray of bool, shape (n_defects,)
        Which defects are there at all.
    felt : callable
        Given codes of circuits and electrical numbers, whether the reading could feel such a defect there.
    """
    number = np.append(np.where(active, roster.number, -1), -1)[roster.slots]
    number.sort(axis=1)
    count = (number >= 0).sum(axis=1)
    codes = np.zeros(len(number), dtype=np.intp)
    alone = np.flatnonzero(count == 1)
    single = number[alone, -1]
    used, of = np.unique(single, return_inverse=True)
    seen = felt(np.zeros(len(used), dtype=np.intp), used)
    codes[alone] = np.where(seen, register.code_of_single[used], 0)[of.ravel()]
    several = np.flatnonzero(count > 1)
    if several.size:
        rows, back = _distinct(number[several])
        rows = _felt_together(register, rows, felt)
        rows, again = _distinct(rows)
        each = np.array([register.code(tuple(n for n in row if n >= 0)) for row in rows.tolist()], dtype=np.intp)
        codes[several] = each[again][back]
    return codes


def _distinct(rows: Index) -> tuple[Index, Index]:
    """The distinct rows of up to `SLOTS` electrical numbers, -1 for none, and where each of the rows is among them."""
    packed = np.zeros(len(rows), dtype=np.int64)
    for slot in range(rows.shape[1]):
        packed = packed << WORD | (rows[:, slot] + 1)
    _, first, back = np.unique(packed, return_index=True, return_inverse=True)
    return rows[first], back.ravel()


def _felt_together(register: Register, rows: Index, felt: Felt) -> Index:
    """Leave out of each set those defects that are felt neither in the sound circuit nor beside any one other.

    Parameters
    ----------
    rows : ndarray of int, shape (n_sets, SLOTS)
        Electrical numbers, -1 for none, sorted.
    """
    of_single = register.code_of_single
    out = np.array(rows)
    for slot in range(rows.shape[1]):
        mine = rows[:, slot]
        there = np.flatnonzero(mine >= 0)
        seen = felt(np.zeros(len(there), dtype=np.intp), mine[there])
        for other in range(rows.shape[1]):
            beside = rows[there, other]
            if other != slot:
                seen |= (beside >= 0) & felt(np.where(beside >= 0, of_single[beside], 0), mine[there])
        out[there[~seen], slot] = -1
    out.sort(axis=1)
    return out
