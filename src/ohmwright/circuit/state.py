"""How the board stands on the bench at one moment. Every reading belongs to exactly one such state."""

from __future__ import annotations

from dataclasses import dataclass, field, replace


@dataclass(frozen=True, slots=True)
class Feed:
    """A bench supply clipped to the board.

    Parameters
    ----------
    plus, minus : str
        Points the clips are on: a net's name or ``PART.PIN``.
    volts : float
        Set voltage. [V]
    limit : float
        Current limit. [A]
    leads : float
        Resistance of both leads and clips together. [Ω]
    """

    plus: str
    minus: str
    volts: float
    limit: float
    leads: float = 0.05


@dataclass(frozen=True, slots=True)
class BoardState:
    """What is off, lifted, bridged, replaced and fed.

    Parameters
    ----------
    off : frozenset of str
        Parts taken off the board.
    lifted : frozenset of str
        Pins lifted from their pads, as ``PART.PIN``.
    bridges : frozenset of (str, str)
        Pairs of points joined by a wire.
    replaced : frozenset of str
        Parts that are new: their old fault is gone with the old part.
    cleaned : frozenset of str
        Parts (or nets) cleaned or reflowed.
    refitted : frozenset of str
        Parts soldered back: their joints are new, what lies between their pads is not.
    feed : Feed or None
        The supply, while its output is on.
    switched_on : frozenset of str
        Pass devices and regulators that conduct or run because of that feed.
    """

    off: frozenset[str] = frozenset()
    lifted: frozenset[str] = frozenset()
    bridges: frozenset[tuple[str, str]] = frozenset()
    replaced: frozenset[str] = frozenset()
    cleaned: frozenset[str] = frozenset()
    refitted: frozenset[str] = frozenset()
    feed: Feed | None = None
    switched_on: frozenset[str] = field(default=frozenset())

    def with_off(self, part: str) -> BoardState:
        """The state after a part came off."""
        return replace(self, off=self.off | {part})

    def with_feed(self, feed: Feed | None, switched_on: frozenset[str] = frozenset()) -> BoardState:
        """The state with another supply setting, or with none."""
        return replace(self, feed=feed, switched_on=switched_on)

    @property
    def mended(self) -> BoardState:
        """What was repaired only: parts that are new, cleaned or soldered back, and nothing else."""
        return BoardState(replaced=self.replaced, cleaned=self.cleaned, refitted=self.refitted)

    @property
    def unfed(self) -> BoardState:
        """The same board with the supply's output off."""
        if self.feed is None and not self.switched_on:
            return self
        return replace(self, feed=None, switched_on=frozenset())
