"""What a library tells of a part."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Pinned:
    """A pin as a library has it: number, name, and what kind of pin its maker says it is."""

    number: str
    name: str
    type: str = ""


@dataclass(frozen=True, slots=True)
class Found:
    """A part found, and how well it fits what was asked.

    Parameters
    ----------
    source : str
        Which library or book, with the page where it is known.
    score : float
        1 is exactly what was asked.
    """

    name: str
    source: str
    description: str = ""
    footprint: str = ""
    datasheet: str = ""
    pins: tuple[Pinned, ...] = ()
    score: float = 1.0

    @property
    def names(self) -> dict[str, str]:
        """Pin number to name."""
        return {pin.number: pin.name for pin in self.pins}


@dataclass(frozen=True, slots=True)
class Land:
    """A land pattern: where it is, and how many pads it has by different numbers."""

    name: str
    library: str
    n_pads: int
    description: str = ""
