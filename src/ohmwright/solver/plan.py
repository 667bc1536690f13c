"""An elimination written out as flat lists of indices, for code that goes through it one variant at a time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ohmwright.solver.elimination import Elimination

Index = NDArray[np.intp]


class Plan:
    """An elimination as flat lists, and where the elements of a network go.

    Parameters
    ----------
    elimination : Elimination
    resistive, junctions : (ndarray of int, ndarray of int)
        Nodes of both ends of each element; -1 is ground.
    """

    def __init__(
        self, elimination: Elimination, resistive: tuple[Index, Index], junctions: tuple[Index, Index]
    ) -> None:
        self.n_nodes, self.n_edges = elimination.n_nodes, elimination.n_edges
        self._elimination = elimination
        steps = elimination.steps
        self.order = (
            np.array([step.pivot for step in steps], dtype=np.intp),
            _starts([step.edges for step in steps]),
            _flat([step.edges for step in steps]),
            _flat([step.far for step in steps]),
            _starts([step.pairs for step in steps]),
            np.array([pair for step in steps for pair in step.pairs], dtype=np.intp).reshape(-1, 3),
        )
        self.r_place, self.j_place = self.places(*resistive), self.places(*junctions)
        self.j_a, self.j_b = junctions

    def places(self, a: Index, b: Index) -> Index:
        """Where something between two nodes goes: the number of an edge, or -1 less the node where one is ground."""
        pairs = zip(a.tolist(), b.tolist(), strict=True)
        return np.array(
            [self._elimination.edge(p, q) if min(p, q) >= 0 else -1 - max(p, q) for p, q in pairs], dtype=np.intp
        )


def _flat(lists: list[list[int]]) -> Index:
    return np.array([value for one in lists for value in one], dtype=np.intp)


def _starts(lists: Sequence[Sequence[object]]) -> Index:
    return np.concatenate(([0], np.cumsum([len(one) for one in lists]))).astype(np.intp)
