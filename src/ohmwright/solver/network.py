"""A network of two-terminal elements, compiled for solving many variants of it together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ohmwright.circuit import Element, ElementKind
from ohmwright.errors import UnknownNameError
from ohmwright.solver.elimination import Elimination

IDEAL = 1e-7
"""Resistance below which an element is taken as a piece of copper: its ends become one node. [Ω]"""


@dataclass(frozen=True, slots=True)
class Port:
    """A source with a current limit: a meter's test current or a bench supply.

    It drives ``min(current, (volts - v) / knee)`` out of `plus` into the network and takes it back at
    `minus`; it never sinks current.

    Parameters
    ----------
    current : float
        The most it drives. [A]
    volts : float
        Open-circuit voltage. [V]
    knee : float
        Output resistance near that voltage. [Ω]
    """

    plus: str
    minus: str
    current: float
    volts: float
    knee: float


@dataclass(frozen=True)
class Network:
    """Nets, the elements between them, and pairs of nets that may conduct in some variant.

    Parameters
    ----------
    elements : tuple of Element
    joined : tuple of (str, str)
        Nets that are one by a wire.
    extra_pairs : tuple of (str, str)
        Pairs of nets between which a variant may put a resistance.
    """

    nets: tuple[str, ...]
    ground: str
    elements: tuple[Element, ...]
    joined: tuple[tuple[str, str], ...] = ()
    extra_pairs: tuple[tuple[str, str], ...] = ()

    @cached_property
    def node_of(self) -> dict[str, int]:
        """Node of each net; -1 is ground. Nets joined by ideal links share one."""
        parent = {net: net for net in self.nets}

        def root(net: str) -> str:
            while parent[net] != net:
                parent[net] = parent[parent[net]]
                net = parent[net]
            return net

        ideal = [(e.a, e.b) for e in self.elements if e.kind is ElementKind.RESISTIVE and e.median <= IDEAL]
        for a, b in (*ideal, *self.joined):
            for net in (a, b):
                if net not in parent:
                    raise UnknownNameError.among("net", net, parent)
            keep, drop = root(a), root(b)
            if drop == root(self.ground):
                keep, drop = drop, keep
            parent[drop] = keep
        numbers: dict[str, int] = {root(self.ground): -1}
        for net in self.nets:
            numbers.setdefault(root(net), len(numbers) - 1)
        return {net: numbers[root(net)] for net in self.nets}

    @cached_property
    def n_nodes(self) -> int:
        """Nodes besides ground."""
        return 1 + max(self.node_of.values(), default=-1)

    @cached_property
    def resistive(self) -> tuple[int, ...]:
        """Indices of the elements that are resistances between different nodes."""
        return self._of_kind(ElementKind.RESISTIVE)

    @cached_property
    def junctions(self) -> tuple[int, ...]:
        """Indices of the elements that are junctions between different nodes."""
        return self._of_kind(ElementKind.JUNCTION)

    def _of_kind(self, kind: ElementKind) -> tuple[int, ...]:
        return tuple(
            i for i, e in enumerate(self.elements) if e.kind is kind and self.node_of[e.a] != self.node_of[e.b]
        )

    def ends(self, indices: Iterable[int]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Nodes of both ends of those elements."""
        chosen = [self.elements[i] for i in indices]
        return (
            np.array([self.node_of[e.a] for e in chosen], dtype=np.intp),
            np.array([self.node_of[e.b] for e in chosen], dtype=np.intp),
        )

    @cached_property
    def elimination(self) -> Elimination:
        """The order in which the nodes are eliminated."""
        pairs = {(self.node_of[e.a], self.node_of[e.b]) for e in self.elements}
        pairs |= {(self.node_of[a], self.node_of[b]) for a, b in self.extra_pairs}
        return Elimination(self.n_nodes, sorted((min(p), max(p)) for p in pairs if p[0] != p[1] and min(p) >= 0))

    def place(self, a: NDArray[np.intp], b: NDArray[np.intp]) -> tuple[sparse.csr_matrix, sparse.csr_matrix]:
        """Matrices that sum conductances between nodes a and b into edges and into grounds."""
        n = len(a)
        edge_rows, edge_cols, ground_rows, ground_cols = [], [], [], []
        for k, (i, j) in enumerate(zip(a.tolist(), b.tolist(), strict=True)):
            if i == j:
                continue
            if i >= 0 and j >= 0:
                edge_rows.append(self.elimination.edge(i, j))
                edge_cols.append(k)
            else:
                ground_rows.append(max(i, j))
                ground_cols.append(k)
        edges = sparse.csr_matrix(
            (np.ones(len(edge_rows)), (edge_rows, edge_cols)), shape=(self.elimination.n_edges, n)
        )
        grounds = sparse.csr_matrix((np.ones(len(ground_rows)), (ground_rows, ground_cols)), shape=(self.n_nodes, n))
        return edges, grounds

    def incidence(self, a: NDArray[np.intp], b: NDArray[np.intp]) -> sparse.csr_matrix:
        """The matrix that takes currents from a to b, to currents leaving each node, shape (n_nodes, n)."""
        rows, cols, signs = [], [], []
        for k, (i, j) in enumerate(zip(a.tolist(), b.tolist(), strict=True)):
            for node, sign in ((i, 1.0), (j, -1.0)):
                if node >= 0 and i != j:
                    rows.append(node)
                    cols.append(k)
                    signs.append(sign)
        return sparse.csr_matrix((signs, (rows, cols)), shape=(self.n_nodes, len(a)))
