"""What is entered while a map is drawn, and of a map: part of `ohmwright.casebook.events`, which says the rest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from ohmwright.boardmap import Layer
from ohmwright.circuit import Net, Part
from ohmwright.geometry import Pad


@dataclass(frozen=True, slots=True)
class PadsJoined:
    """Two pads were found to be the same copper."""

    kind: ClassVar[str] = "pads-joined"
    version: ClassVar[int] = 1
    a: str
    b: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class PadsApart:
    """Two pads were tried for continuity, and stayed silent: neither one copper nor joined at DC."""

    kind: ClassVar[str] = "pads-apart"
    version: ClassVar[int] = 1
    a: str
    b: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class BoardLaid:
    """A board that is known from a file was laid on the pictures, whole: parts with their nets, and pads.

    Parameters
    ----------
    nets : tuple of Net
        All nets the parts are on; that of the ground under the name the case has for it.
    unmapped_share : float
        Share of the board's parts that the file does not hold, as far as anyone can say. [1]
    source : str
        What file it was, and how well it fits the picture; for people only.
    outline : tuple of (float, float)
        Corners of the board's edge; empty where the file does not draw it. [mm] of the board frame
    """

    kind: ClassVar[str] = "board-laid"
    version: ClassVar[int] = 2
    parts: tuple[Part, ...]
    pads: tuple[Pad, ...]
    nets: tuple[Net, ...]
    entries: tuple[str, ...] = ()
    unmapped_share: float = 0.02
    source: str = ""
    outline: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Inspected:
    """A rectangle of one side was looked over at a magnification, as seen from the top. [mm], [1]"""

    kind: ClassVar[str] = "inspected"
    version: ClassVar[int] = 1
    side: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    magnification: float = 1.0


@dataclass(frozen=True, slots=True)
class PictureAdded:
    """A picture of one side was laid under the map."""

    kind: ClassVar[str] = "picture-added"
    version: ClassVar[int] = 1
    layer: Layer


@dataclass(frozen=True, slots=True)
class PictureRegistered:
    """A picture was found to lie elsewhere on the board, and perhaps straightened.

    Parameters
    ----------
    was : str
        Key under which it lay on the map; its layer is replaced.
    layer : Layer
        As it lies from here on; `Layer.how` says how that was found.
    """

    kind: ClassVar[str] = "picture-registered"
    version: ClassVar[int] = 1
    was: str
    layer: Layer


@dataclass(frozen=True, slots=True)
class ScaleSet:
    """A millimetre of the map turned out to be `factor` millimetres. [1]"""

    kind: ClassVar[str] = "scale-set"
    version: ClassVar[int] = 1
    factor: float
    source: str = ""


@dataclass(frozen=True, slots=True)
class PartMapped:
    """A part was laid on a picture, or laid anew. Its nets are found later, so its pins carry none."""

    kind: ClassVar[str] = "part-mapped"
    version: ClassVar[int] = 1
    part: Part
    pads: tuple[Pad, ...]


@dataclass(frozen=True, slots=True)
class PartErased:
    """A part was taken from the map again: it is not there, or something else is."""

    kind: ClassVar[str] = "part-erased"
    version: ClassVar[int] = 1
    part: str


@dataclass(frozen=True, slots=True)
class NetTold:
    """What is known of the copper under a pad. Two nets of one name are one.

    Parameters
    ----------
    nominal : float or None
        Volts when all is well. [V]
    entry : bool
        Whether power comes in there.
    """

    kind: ClassVar[str] = "net-told"
    version: ClassVar[int] = 1
    pad: str
    name: str = ""
    ground: bool = False
    entry: bool = False
    nominal: float | None = None
