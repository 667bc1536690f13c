"""Where defects sit in a network, and what a pin without contact does to it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ohmwright.evidence.probe import Array
from ohmwright.faults import Defect, DefectKind
from ohmwright.operation import Wiring
from ohmwright.solver import Strengths

LIT = 6e-4
"""Current at which a meter drives a junction, for what a resistance in series adds to its drop. [A] common practice"""


class Spot(NamedTuple):
    """Two nodes, and what joins them on a sound board: a conductance (infinite for a path that should not be), or a
    junction's saturation current with its n kT/q; and 1 for a path from the first to the second only.
    """

    a: int
    b: int
    conductance: float
    saturation: float
    n_vt: float
    one_way: float = 0.0


class Spots:
    """The places of a board's defects; keeps those it has looked up."""

    def __init__(self, wiring: Wiring, strengths: Strengths) -> None:
        self.wiring, self.strengths = wiring, strengths
        self.r_row = {int(e): k for k, e in enumerate(strengths.r_index)}
        self.j_row = {int(e): k for k, e in enumerate(strengths.j_index)}
        self._spots, self._first = np.zeros((0, 6)), np.zeros(1, dtype=np.intp)

    def of(self, defects: Sequence[Defect]) -> tuple[Array, NDArray[np.intp]]:
        """Where defects sit in the network: the fields of `Spot`, shape (n_spots, 6), and each defect's first row.

        The second has one entry more than there are defects. Kept: the list may only grow at its end from call to call.
        """
        known = len(self._first) - 1
        if known < len(defects):
            fresh = [self._spots_of(defect) for defect in defects[known:]]
            flat = np.array([spot for own in fresh for spot in own], dtype=float).reshape(-1, 6)
            self._spots = np.concatenate((self._spots, flat))
            ends = self._first[-1] + np.cumsum([len(own) for own in fresh], dtype=np.intp)
            self._first = np.concatenate((self._first, ends))
        return self._spots, self._first

    def _spots_of(self, defect: Defect) -> list[Spot]:
        node, s = self.strengths.network.node_of, self.strengths
        if defect.kind is DefectKind.PATH:
            if defect.nets[0] not in node or defect.nets[1] not in node:
                return []
            return [Spot(node[defect.nets[0]], node[defect.nets[1]], math.inf, 0.0, 1.0, float(defect.one_way))]
        out = []
        for element in self._hit_by(defect):
            if element in self.r_row:
                row = self.r_row[element]
                out.append(Spot(int(s.r_a[row]), int(s.r_b[row]), float(s.conductance[row]), 0.0, 1.0))
            elif element in self.j_row:
                row = self.j_row[element]
                junction = float(s.saturation[row]), float(s.n_vt[row])
                out.append(Spot(int(s.j_a[row]), int(s.j_b[row]), 0.0, *junction))
        return out

    def _hit_by(self, defect: Defect) -> tuple[int, ...]:
        return self.wiring.hit_by(defect.part, defect.label, defect.nets[0] if defect.pin else "")

    def cut_off(self, defect: Defect, k: int, ohms: float, conductance: Array, saturation: Array) -> None:
        """Put a resistance in series with all that a part has at one pin.

        In series with a junction it is taken for what it adds to the drop at a meter's current.
        """
        for element in self._hit_by(defect):
            if element in self.r_row:
                row = self.r_row[element]
                conductance[row, k] /= 1.0 + ohms * conductance[row, k]
            elif element in self.j_row:
                row = self.j_row[element]
                saturation[row, k] *= math.exp(-min(ohms * LIT / self.strengths.n_vt[row], 600.0))

    def lean_pin(
        self, defect: Defect, k: int, ohms: float, v: Array, adjoint: Array, conductance: Array, saturation: Array
    ) -> float:
        """By how much a reading grows with the logarithm of a resistance in series with all that is at a pin."""
        total, s = 0.0, self.strengths
        for element in self._hit_by(defect):
            if element in self.r_row:
                row = self.r_row[element]
                a, b, g = int(s.r_a[row]), int(s.r_b[row]), float(conductance[row, k])
                total += ohms * g * g * float((v[a, k] - v[b, k]) * (adjoint[a, k] - adjoint[b, k]))
            elif element in self.j_row:
                row = self.j_row[element]
                a, b, n_vt = int(s.j_a[row]), int(s.j_b[row]), float(s.n_vt[row])
                current = float(saturation[row, k]) * math.expm1(min(float(v[a, k] - v[b, k]) / n_vt, 200.0))
                total += ohms * LIT * current * float(adjoint[a, k] - adjoint[b, k]) / n_vt
        return total
