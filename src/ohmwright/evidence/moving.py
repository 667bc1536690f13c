"""Classes moved by compiled code."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ohmwright.evidence.joint import Array, Stack, odds_of
from ohmwright.evidence.points import Points
from ohmwright.evidence.shelves import Shelves
from ohmwright.evidence.shelving import LIMITS, raise_unsettled
from ohmwright.evidence.weighed import Weighed
from ohmwright.kernels import Compiled
from ohmwright.kernels.side_by_side import in_parts


def move_all(
    compiled: Compiled,
    shelves: Shelves,
    weighed: Weighed,
    moving: Sequence[int],
    points: Points,
    begun: tuple[Array, Array, Array],
    rules: tuple[float, float, float, float, float, int],
    held: tuple[float, int],
) -> None:
    """Move classes until they stand still; `points` are left where each fitted best.

    Parameters
    ----------
    begun : tuple of ndarray, shape (n_classes, n_own)
        Where they set out from, by what last step, and how far the next may go.
    rules : tuple of float
        Bend, farthest shift, stride, shift at rest, misfit by which a step is taken back, and rounds.
    held : (float, int)
        By how many of its deviations a reading pulls at most as long as none is taken for a stray, and for how many
        rounds that may go on.

    Raises
    ------
    NoConvergenceError
        If some circuit does not settle.
    """
    laid, classes = shelves.laid, np.asarray(moving, dtype=np.intp)
    codes = weighed.codes[classes]
    lines = laid.lines(weighed.shelves)
    volts = laid.first_guesses(weighed.shelves, codes)
    touched = np.zeros(codes.shape, dtype=bool)
    own = (
        laid.circuits(codes), points.own, points.spreads, np.ascontiguousarray(points.doubt),
        *(np.ascontiguousarray(field) for field in begun),
    )  # fmt: skip
    bending = np.ascontiguousarray(points.bending)
    stand = (points.y, points.lean, points.base, points.stale, bending, volts, touched, points.covariance)
    board, table, figures, odds = laid.board, laid.table, _figures(weighed.stack), (_odds(weighed.stack), *held)
    worst = np.zeros(len(classes))

    def move(part: slice) -> None:
        some, there = tuple(field[part] for field in own), tuple(field[part] for field in stand)
        worst[part] = compiled.moved(board, lines, table, figures, odds, some, there, rules, LIMITS)

    in_parts(len(classes), move)
    raise_unsettled(worst)
    for k, shelf in enumerate(weighed.shelves):
        n = shelf.forward.network.n_nodes + 1
        for c in np.flatnonzero(touched[:, k]).tolist():
            shelf.latest[int(codes[c, k])] = volts[c, k, :n].astype(np.float32)


def _figures(stack: Stack) -> tuple[NDArray[Any], ...]:
    numbers = np.flatnonzero(~stack.overload)
    return stack.observed, stack.overload, stack.limit, stack.noise, stack.slip, numbers


def _odds(stack: Stack) -> object:
    """How strays are looked for."""
    return odds_of(stack, np.flatnonzero(~stack.overload), trusting=False).laid_out
