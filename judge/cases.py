"""Examination questions: a board, what is wrong with it, and the map that a policy gets to see."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from judge.world import Case
from ohmwright.circuit import Board

FAMILIES = ("notebook", "tablet", "server-card", "sensor-node", "industrial", "healthy-core", "imported")
"""Board families. ``imported`` reads real KiCad boards; the others are generated."""
HIDING = (0.0, 0.12, 0.40, 0.70)
"""Shares of the parts left out of the map. [1]"""


@dataclass(frozen=True)
class Exam:
    """One question with its map.

    Parameters
    ----------
    board : Board
        The map the policy sees, hidden parts left out.
    case : Case
        With the truth: for the bench and the metrics, never for a policy.
    """

    name: str
    seed: str
    board: Board
    case: Case


def exams(
    family: str,
    count: int,
    seed: str,
    *,
    nets: tuple[int, int] = (15, 500),
    hiding: float | None = None,
    fault: str | None = None,
    files: tuple[str, ...] = (),
) -> Iterator[Exam]:
    """Questions of one family; the same words give the same questions in every process.

    Parameters
    ----------
    family : str
        One of `FAMILIES`.
    nets : (int, int)
        Least and most nets of a generated board. [1]
    hiding : float or None
        Share of the parts hidden; None draws one of `HIDING`. [1]
    fault : str or None
        A fault recipe (see `judge.faults.RECIPES`), None draws one.
    files : tuple of str
        KiCad boards for the family ``imported``; without any, those of the Debian package kicad-demos.
    """
    raise NotImplementedError
