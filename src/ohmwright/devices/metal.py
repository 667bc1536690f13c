"""Parts of little resistance: nets that they join are one at direct current."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from ohmwright.circuit import Board
from ohmwright.devices import passive

METAL = frozenset({"coil", "ferrite", "fuse", "link", "sense"})
"""Kinds that let direct current through next to unhindered, so that a continuity tester beeps across them."""
_ELEMENTS = {kind.name: kind.elements for kind in passive.KINDS if kind.name in METAL}


@lru_cache(maxsize=32)
def one_at_dc(board: Board, off: frozenset[str] = frozenset()) -> Mapping[str, frozenset[str]]:
    """For each net all that metal joins to it, itself among them; ground joins nothing.

    Parameters
    ----------
    off : frozenset of str
        Parts that join nothing, as they are not on the board.
    """
    group = {net.name: frozenset((net.name,)) for net in board.nets}
    for part in board.parts:
        if part.kind in METAL and part.name not in off:
            for leg in _ELEMENTS[part.kind](part):
                if board.ground not in (leg.a, leg.b):
                    whole = group[leg.a] | group[leg.b]
                    group.update(dict.fromkeys(whole, whole))
    return group
