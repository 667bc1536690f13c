"""Elimination of a resistive network by star-mesh transforms, for many variants at once.

A node with conductances g_i to its neighbours is removed by joining each pair of them with
g_i g_j / sum(g): Gaussian elimination of the nodal matrix, written so that nothing is ever subtracted.
A milliohm coil beside a gigohm insulation therefore keeps full relative accuracy, which an ordinary
factorisation of the same matrix loses. Nodes that do not touch are removed together; the variants are
the last axis of every array.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

Array = NDArray[np.float64]
SMALL = 40_000
"""Multiplications below which a dense sum is the quicker. [1] measured"""


class _Sums:
    """Sums of rows; a dense matrix does a little work faster than a sparse one is set up."""

    def __init__(self, matrix: sparse.csr_matrix, dense: Array | None) -> None:
        self.matrix, self.dense = matrix, dense
        self.size = 0 if dense is None else dense.size

    def __matmul__(self, values: Array) -> Array:
        if self.dense is not None and self.size * values.shape[1] < SMALL:
            return np.asarray(self.dense @ values)
        return np.asarray(self.matrix @ values)


@dataclass(frozen=True, slots=True, eq=False)
class _Round:
    """Nodes removed together, with where their parts go."""

    pivots: NDArray[np.intp]
    edges: NDArray[np.intp]
    owner: NDArray[np.intp]
    far: NDArray[np.intp]
    sum_by_pivot: _Sums
    sum_by_far: _Sums
    far_nodes: NDArray[np.intp]
    first: NDArray[np.intp]
    second: NDArray[np.intp]
    sum_by_edge: _Sums
    filled: NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Factors:
    """What the elimination leaves for solving with any injected currents."""

    sums: tuple[Array, ...]
    shares: tuple[Array, ...]

    def of_variants(self, chosen: NDArray[np.intp]) -> Factors:
        """Those of some variants only."""
        return Factors(tuple(s[:, chosen] for s in self.sums), tuple(s[:, chosen] for s in self.shares))


@dataclass(frozen=True, slots=True)
class Step:
    """A node removed: its edges, the nodes at their far ends, and by numbers of edges which two make or raise which."""

    pivot: int
    edges: list[int]
    far: list[int]
    pairs: list[tuple[int, int, int]]


class Elimination:
    """The order of elimination of one pattern, fixed once.

    Parameters
    ----------
    n_nodes : int
        Nodes besides ground. [1]
    pairs : list of (int, int)
        Node pairs that may conduct in some variant.

    Attributes
    ----------
    steps : list of Step
        The same, node by node.
    """

    def __init__(self, n_nodes: int, pairs: list[tuple[int, int]]) -> None:
        self.n_nodes = n_nodes
        self.edge_of: dict[tuple[int, int], int] = {}
        neighbours: list[set[int]] = [set() for _ in range(n_nodes)]
        for a, b in pairs:
            self._edge(a, b)
            neighbours[a].add(b)
            neighbours[b].add(a)
        self.steps: list[Step] = []
        self._rounds = self._order(neighbours)
        self.n_edges = len(self.edge_of)

    def edge(self, a: int, b: int) -> int:
        """Index of the edge between two nodes of the pattern."""
        return self.edge_of[(a, b) if a < b else (b, a)]

    def has(self, a: int, b: int) -> bool:
        """Whether something can be put between two nodes, of which either may be ground."""
        return a != b and (min(a, b) < 0 or ((a, b) if a < b else (b, a)) in self.edge_of)

    def factors(self, edges: Array, grounds: Array) -> Factors:
        """Eliminate all nodes.

        Parameters
        ----------
        edges : ndarray, shape (n_edges, n_variants)
            Conductance of each edge of the pattern; fill edges zero. [S] Overwritten.
        grounds : ndarray, shape (n_nodes, n_variants)
            Conductance from each node to ground. [S] Overwritten.
        """
        sums, shares = [], []
        for r in self._rounds:
            own = edges[r.edges]
            total = grounds[r.pivots] + r.sum_by_pivot @ own
            share = own / total[r.owner]
            grounds[r.far_nodes] += r.sum_by_far @ (share * grounds[r.pivots][r.owner])
            if r.filled.size:
                edges[r.filled] += r.sum_by_edge @ (share[r.first] * own[r.second])
            sums.append(total)
            shares.append(share)
        return Factors(tuple(sums), tuple(shares))

    def voltages(self, factors: Factors, injected: Array) -> Array:
        """Node voltages for currents injected into the nodes.

        Parameters
        ----------
        injected : ndarray, shape (n_nodes, n_variants) or (n_nodes, n_sets, n_variants)
            [A] Overwritten.

        Returns
        -------
        ndarray, shape as `injected`
            Voltage of each node against ground. [V]
        """
        shape = injected.shape
        for r, share in zip(self._rounds, factors.shares, strict=True):
            if r.far_nodes.size:
                moved = _times(share, injected[r.pivots][r.owner])
                injected[r.far_nodes] += (r.sum_by_far @ moved.reshape(len(r.far), -1)).reshape(-1, *shape[1:])
        volts = np.empty_like(injected)
        for r, total, share in zip(
            reversed(self._rounds), reversed(factors.sums), reversed(factors.shares), strict=True
        ):
            own = injected[r.pivots] / (total if injected.ndim == 2 else total[:, None])
            if r.far.size:
                seen = _times(share, volts[r.far])
                own += (r.sum_by_pivot @ seen.reshape(len(r.far), -1)).reshape(own.shape)
            volts[r.pivots] = own
        return volts

    def _edge(self, a: int, b: int) -> int:
        key = (a, b) if a < b else (b, a)
        return self.edge_of.setdefault(key, len(self.edge_of))

    def _order(self, neighbours: list[set[int]]) -> list[_Round]:
        """Repeatedly remove an independent set of nodes of smallest degree."""
        left = set(range(self.n_nodes))
        rounds = []
        while left:
            smallest = min(len(neighbours[p]) for p in left)
            chosen: list[int] = []
            blocked: set[int] = set()
            for p in sorted(left, key=lambda q: (len(neighbours[q]), q)):
                if len(neighbours[p]) > smallest + 1:
                    break
                if p not in blocked:
                    chosen.append(p)
                    blocked |= neighbours[p]
            rounds.append(self._round(chosen, neighbours))
            left.difference_update(chosen)
        return rounds

    def _round(self, chosen: list[int], neighbours: list[set[int]]) -> _Round:
        edges: list[int] = []
        owner: list[int] = []
        far: list[int] = []
        first: list[int] = []
        second: list[int] = []
        targets: list[int] = []
        for k, p in enumerate(chosen):
            around = sorted(neighbours[p])
            start, pairs = len(edges), len(targets)
            for q in around:
                edges.append(self._edge(p, q))
                owner.append(k)
                far.append(q)
                neighbours[q].discard(p)
            for i, a in enumerate(around):
                for j in range(i + 1, len(around)):
                    b = around[j]
                    first.append(start + i)
                    second.append(start + j)
                    targets.append(self._edge(a, b))
                    neighbours[a].add(b)
                    neighbours[b].add(a)
            neighbours[p] = set()
            met = zip(first[pairs:], second[pairs:], targets[pairs:], strict=True)
            self.steps.append(Step(p, edges[start:], far[start:], [(edges[i], edges[j], t) for i, j, t in met]))
        far_nodes, sum_by_far = _sum_into(far)
        filled, sum_by_edge = _sum_into(targets)
        by_pivot = _sums(owner, len(chosen))
        return _Round(
            _index(chosen),
            _index(edges),
            _index(owner),
            _index(far),
            by_pivot,
            sum_by_far,
            far_nodes,
            _index(first),
            _index(second),
            sum_by_edge,
            filled,
        )


def _times(share: Array, values: Array) -> Array:
    return np.asarray(share * values if values.ndim == 2 else share[:, None] * values)


def _index(values: list[int]) -> NDArray[np.intp]:
    return np.array(values, dtype=np.intp)


def _sum_into(targets: list[int]) -> tuple[NDArray[np.intp], _Sums]:
    """The distinct targets and the matrix that sums contributions into them."""
    distinct, rows = np.unique(np.array(targets, dtype=np.intp), return_inverse=True)
    return distinct, _sums(rows.tolist(), len(distinct))


def _sums(rows: list[int], n_rows: int) -> _Sums:
    """The matrix that adds its k-th column into row ``rows[k]``."""
    n = len(rows)
    matrix = sparse.csr_matrix((np.ones(n), (rows, range(n))), shape=(n_rows, n))
    return _Sums(matrix, matrix.toarray() if n_rows * n <= SMALL else None)
