"""A network of conductances that floats: what one ampere in at one place and spread out everywhere raises.

The copper is insulated all round, so a current that goes in has to come out. The response used throughout
is that of a unit current in at one point and out evenly over all nodes; differences of two such responses
are the potentials for a current in at one point and out at another.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Network:
    """Nodes joined by conductances.

    Parameters
    ----------
    count : int
        Nodes. [1]
    a, b : ndarray of int, shape (n_edges,)
    conductance : ndarray, shape (n_edges,)
        In one over squares, or in siemens.
    """

    count: int
    a: Index
    b: Index
    conductance: Array

    @cached_property
    def laplacian(self) -> Any:
        """The conductance matrix, sparse, shape (count, count)."""
        rows = np.concatenate((self.a, self.b, self.a, self.b))
        columns = np.concatenate((self.b, self.a, self.a, self.b))
        g = self.conductance
        values = np.concatenate((-g, -g, g, g))
        return sparse.csc_matrix((values, (rows, columns)), shape=(self.count, self.count))

    @cached_property
    def _factor(self) -> Any:
        from scipy.sparse.linalg import splu  # a tenth of a second to load, for who looks at a field only

        # The last node is held at zero: the rest is then positive definite where the network is in one piece.
        return splu(self.laplacian[:-1, :-1], permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True})

    def pieces(self) -> Index:
        """Number of the connected piece each node belongs to, shape (count,)."""
        from scipy.sparse import csgraph  # as above

        return np.asarray(csgraph.connected_components(self.laplacian, directed=False)[1], dtype=np.intp)

    def potentials(self, into: Array) -> Array:
        """Potentials where these currents go in, each balanced by an even outflow, with a mean of zero.

        Parameters
        ----------
        into : ndarray, shape (count, m)
            Currents into the nodes. [A]

        Returns
        -------
        ndarray, shape (count, m)
            In volts for siemens, in amperes times squares for one over squares.
        """
        balanced = into - into.sum(axis=0) / self.count
        out = np.zeros_like(balanced)
        if self.count > 1:
            out[:-1] = self._factor.solve(np.ascontiguousarray(balanced[:-1]))
        return np.asarray(out - out.mean(axis=0))
