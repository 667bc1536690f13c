"""What a part is taken for, and the pads it is judged by."""

from __future__ import annotations

from dataclasses import dataclass

from ohmwright.circuit import Spread


@dataclass(frozen=True, slots=True)
class RawPin:
    """A pad as a board file gives it."""

    number: str
    net: str | None
    name: str = ""
    type: str = ""


@dataclass(frozen=True, slots=True)
class Guess:
    """A kind with the roles of the pins, in their order, and why."""

    kind: str
    roles: tuple[str, ...]
    value: Spread | None = None
    volts: float | None = None
    why: str = ""
