"""One linear network by its admittance matrix: the textbook case, strict about floating nets."""

from __future__ import annotations

import numpy as np
from scipy import sparse

from ohmwright.errors import FloatingNetsError
from ohmwright.solver.elimination import Array


def node_voltages(admittance: Array, injection: Array) -> Array:
    """Node voltages of a linear network.

    Solves :math:`G v = i` [1]_. Ground is the reference and is not among the nodes.

    Parameters
    ----------
    admittance : ndarray or sparse matrix, shape (n_nodes, n_nodes)
        Reduced nodal admittance matrix. [S]
    injection : ndarray, shape (n_nodes,)
        Current driven into each node from outside. [A]

    Returns
    -------
    ndarray, shape (n_nodes,)
        Voltage of each node against ground. [V]

    Raises
    ------
    FloatingNetsError
        If some nodes have no path to ground; it carries their indices.

    Examples
    --------
    One milliampere into one kilohm:

    >>> node_voltages(np.array([[1e-3]]), np.array([1e-3]))
    array([1.])

    References
    ----------
    .. [1] C.-W. Ho, A. E. Ruehli, and P. A. Brennan, "The modified nodal approach to network
       analysis," IEEE Trans. Circuits Syst., vol. 22, no. 6, pp. 504-509, Jun. 1975,
       doi:10.1109/TCS.1975.1084079.
    """
    from scipy.sparse.linalg import splu  # a tenth of a second to load, and no diagnosis asks for this

    matrix = sparse.csc_matrix(admittance)
    floating = _floating(matrix)
    if floating:
        raise FloatingNetsError(floating)
    volts: Array = splu(matrix).solve(np.asarray(injection, dtype=float))
    return volts


def _floating(matrix: sparse.csc_matrix) -> tuple[int, ...]:
    """Nodes of components in which no row has anything left over for ground."""
    from scipy.sparse import csgraph  # as above

    to_ground = np.asarray(matrix.sum(axis=1)).ravel()
    scale = np.abs(matrix.diagonal())
    grounded = to_ground > 1e-12 * np.maximum(scale, 1e-300)
    _, component = csgraph.connected_components(matrix, directed=False)
    reached = set(component[grounded])
    return tuple(int(node) for node, c in enumerate(component) if c not in reached)
