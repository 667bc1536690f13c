"""Lands, land patterns and placed pads, and what is needed of a part to lay them out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from ohmwright.geometry.frames import BoardPoint


class PlaceLike(Protocol):
    """What is needed of a place; see `ohmwright.circuit.Place`."""

    @property
    def x_mm(self) -> float:
        """Board millimetres, right."""
        ...
    @property
    def y_mm(self) -> float:
        """Board millimetres, down."""
        ...
    @property
    def side(self) -> str:
        """``top`` or ``bottom``."""
        ...
    @property
    def width_mm(self) -> float:
        """[mm]"""
        ...
    @property
    def height_mm(self) -> float:
        """[mm]"""
        ...
    @property
    def angle_deg(self) -> float:
        """[deg]"""
        ...


class PinLike(Protocol):
    """What is needed of a pin."""

    @property
    def number(self) -> str:
        """As on the footprint."""
        ...


class PartLike(Protocol):
    """What is needed of a part: the circuit room lies above this one."""

    @property
    def name(self) -> str:
        """Reference."""
        ...
    @property
    def kind(self) -> str:
        """Kind of part."""
        ...
    @property
    def package(self) -> str:
        """Name of the package."""
        ...
    @property
    def pins(self) -> Sequence[PinLike]:
        """In order."""
        ...
    @property
    def place(self) -> PlaceLike | None:
        """Where it sits, if known."""
        ...


@dataclass(frozen=True, slots=True)
class Land:
    """One pad of a pattern, in millimetres about the package's centre, seen from its own side, y down."""

    number: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    drill_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class LandPattern:
    """The pads of a package and the size of its body.

    Parameters
    ----------
    family : str
        ``chip``, ``gull`` (leads on two or three sides), ``quad-gull``, ``no-lead``, ``balls``, ``coil``,
        ``moulded`` (diode), ``tab``, ``line`` (connector), ``can`` or ``bare``.
    sourced : bool
        Whether the numbers come from the footprint library; otherwise they are only plausible.
    """

    family: str
    body_mm: tuple[float, float]
    lands: tuple[Land, ...]
    sourced: bool = True


@dataclass(frozen=True, slots=True)
class Pad:
    """One pad of a placed part, in the board frame.

    Parameters
    ----------
    width_mm, height_mm : float
        Along the pad's own axes, which are turned by `angle_deg` counter-clockwise seen from the top.
    """

    part: str
    pin: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    angle_deg: float
    side: str
    drill_mm: float = 0.0

    @property
    def centre(self) -> BoardPoint:
        """Its middle on the board."""
        return BoardPoint(self.x_mm, self.y_mm)
