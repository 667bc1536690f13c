"""One place of a typical circuit, and a typical circuit as a graph of such places."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ohmwright.circuit import Spread
from ohmwright.partbook.equations import Design

Worth = Callable[[Design], Spread | None]
"""From the design figures to the value expected, None where they do not tell."""


@dataclass(frozen=True, slots=True)
class Role:
    """What belongs between certain points of a typical circuit.

    Parameters
    ----------
    name : str
        In the words of the trade: "boot capacitor".
    between : tuple of str
        Points: duties of pins, names of the family's latent points, or ``#rail`` for any rail.
    kinds : tuple of (str, float)
        What it is, with weights that sum to about one.
    count : float
        How many there are on average where there is one. [1]
    present : float
        Share of circuits that have it at all. [1]
    most : int
        More than this many would be odd.
    worth : Worth or None
        Gives the value of its first kind.
    shorted, opened : str
        What would happen if it were shorted or open.
    source : str
        Where that is from.
    """

    name: str
    between: tuple[str, ...]
    kinds: tuple[tuple[str, float], ...]
    shorted: str
    opened: str
    count: float = 1.0
    present: float = 0.9
    most: int = 1
    worth: Worth | None = None
    source: str = "common practice, no source"

    @property
    def expected(self) -> float:
        """How many there are on average. [1]"""
        return self.present * self.count

    @property
    def usual(self) -> str:
        """The kind it most often is."""
        return max(self.kinds, key=lambda entry: entry[1])[0]


@dataclass(frozen=True, slots=True)
class Latent:
    """A point of the circuit that no pin names, reached from another through one part.

    Parameters
    ----------
    choice : bool
        Whether exactly one net can be it (the output of a buck), as against every short net reached
        (the middle of a snubber).
    """

    name: str
    start: str
    choice: bool = False


@dataclass(frozen=True, slots=True)
class Family:
    """A family of integrated circuits with its typical circuit.

    Parameters
    ----------
    needs : tuple of tuple of str
        Of each group one duty must be among the pins.
    helps, speaks_against : tuple of (str, float)
        Duties with the factor by which each multiplies the odds of the family.
    """

    name: str
    words: str
    needs: tuple[tuple[str, ...], ...]
    roles: tuple[Role, ...]
    latents: tuple[Latent, ...] = ()
    helps: tuple[tuple[str, float], ...] = ()
    odds: float = 1.0
    most_pins: int = 64
    channels: bool = False

    def role(self, name: str) -> Role:
        """The role of that name."""
        return next(role for role in self.roles if role.name == name)
