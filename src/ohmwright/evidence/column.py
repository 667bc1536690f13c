"""The circuit one reading sees, and what is predicted of it."""

from __future__ import annotations

from dataclasses import dataclass

from ohmwright.circuit import BoardState
from ohmwright.evidence.probe import Array
from ohmwright.faults import Defect


@dataclass(frozen=True)
class Column:
    """One variant of a board: how it stands, what is wrong, and what its unknown parts are taken to be."""

    state: BoardState
    defects: tuple[Defect, ...] = ()
    taken: tuple[tuple[str, str], ...] = ()


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
    current : ndarray, shape (n_columns,)
        What the source delivers. [A]
    """

    y: Array
    lean: Array
    volts: Array
    current: Array

    def part(self, chosen: slice) -> Predicted:
        """Some columns only."""
        return Predicted(self.y[chosen], self.lean[:, chosen], self.volts[:, chosen], self.current[chosen])
