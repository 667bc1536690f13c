"""Parts of one size on one board are mostly of one kind: what is found of some speaks for the others."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from ohmwright.circuit import Board, Part

DOUBT = 3.0
"""Counts that the board's own mixture is worth against parts of one size. [1] estimate"""
STEP_MM = 0.1
"""Sizes closer than this are one size: about what can be measured on a scan of 600 dots per inch. [mm]"""


class Alike:
    """How much more often than elsewhere on the board a kind is found among parts of one size.

    Parameters
    ----------
    board : Board
    kinds : mapping
        What each part is taken for so far; empty at first, and then nothing is learnt.
    """

    def __init__(self, board: Board, kinds: Mapping[str, Sequence[tuple[str, float]]]) -> None:
        self._kinds = {name: dict(mix) for name, mix in kinds.items()}
        self._all: defaultdict[str, float] = defaultdict(float)
        self._sized: defaultdict[tuple[int, int], defaultdict[str, float]] = defaultdict(lambda: defaultdict(float))
        for part in board:
            for kind, share in self._kinds.get(part.name, {}).items():
                self._all[kind] += share
                size = _size(part)
                if size is not None:
                    self._sized[size][kind] += share
        self._total = sum(self._all.values())

    def factor(self, part: Part, kind: str) -> float:
        """Odds by which the part's size speaks for a kind. [1]"""
        size = _size(part)
        if size is None or not self._total:
            return 1.0
        own = self._kinds.get(part.name, {})
        usual = (self._all[kind] + 0.5) / (self._total + 7.0)
        among = self._sized[size]
        n = sum(among.values()) - sum(own.values())
        found = max(0.0, among[kind] - own.get(kind, 0.0))
        return (found + DOUBT * usual) / (n + DOUBT) / usual


def _size(part: Part) -> tuple[int, int] | None:
    if part.place is None or len(part.pins) != 2:
        return None
    long, short = sorted((part.place.width_mm, part.place.height_mm), reverse=True)
    return round(long / STEP_MM), round(short / STEP_MM)
