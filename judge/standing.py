"""How a true board stands on the bench, and which of its faults are still there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from judge.world import Fault, World
from ohmwright.circuit import BoardState, Feed

ALL = ""
"""A conductor's label in a fault that means every conductor of the part."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What hands and supply have made of the board.

    Parameters
    ----------
    replaced : frozenset of str
        Parts that are new.
    resoldered : frozenset of str
        Parts reflowed, or taken off and put back: their joints are good.
    damaged : frozenset of str
        Pads torn by rework, as ``PART.PIN``: whatever is fitted there no longer makes contact.
    """

    off: frozenset[str] = frozenset()
    lifted: frozenset[str] = frozenset()
    bridges: frozenset[tuple[str, str]] = frozenset()
    replaced: frozenset[str] = frozenset()
    cleaned: frozenset[str] = frozenset()
    resoldered: frozenset[str] = frozenset()
    damaged: frozenset[str] = frozenset()
    feed: Feed | None = None

    @property
    def unfed(self) -> Standing:
        """The same with the supply off."""
        return replace(self, feed=None)

    def active(self, world: World, faults: Iterable[Fault]) -> tuple[Fault, ...]:
        """The faults that still act on the board."""
        return tuple(fault for fault in faults if self._acts(world, fault))

    def _acts(self, world: World, fault: Fault) -> bool:
        if fault.kind == "dirt":
            return not ({fault.part, *dirty_nets(world, fault)} & self.cleaned)
        if fault.part in self.off or fault.part in self.replaced:
            return False
        return not (fault.kind == "joint" and fault.part in self.resoldered)


def dirty_nets(world: World, fault: Fault) -> tuple[str, ...]:
    """Both nets that dirt joins, ground left out: nobody cleans all of ground."""
    part = world.part[fault.part]
    return tuple(net for n in (fault.a, fault.b) if (net := part.pin(n).net) not in (None, world.ground))


def standing_of(state: BoardState) -> Standing:
    """The standing that a state on record says; a part cleaned or reflowed counts as both."""
    resoldered = state.cleaned | state.refitted
    return Standing(
        state.off, state.lifted, state.bridges, state.replaced, state.cleaned, resoldered, frozenset(), state.feed
    )
