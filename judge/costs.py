"""What every act costs, in minutes, from the frozen file beside this one."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Protocol

FILE = Path(__file__).with_name("costs.json")


class HasPackage(Protocol):
    """A part of the map or of the truth."""

    @property
    def kind(self) -> str:
        """Key of its kind."""

    @property
    def package(self) -> str:
        """As printed in a datasheet, or ""."""

    @property
    def pins(self) -> tuple[Any, ...]:
        """Its pins."""


@dataclass(frozen=True)
class Costs:
    """The cost file as values. [min]"""

    table: dict[str, Any]
    sha256: str

    @property
    def cap(self) -> float:
        """Minutes after which a case counts as unsolved. [min]"""
        return float(self.table["cap"])

    def flat(self, act: str) -> float:
        """An act that costs the same whatever it is done to. [min]"""
        return float(self.table[act])

    def read(self, quantity: str, pair: bool = False) -> float:
        """One reading; `pair` where neither probe rests on ground. [min]"""
        return float(self.table["read"][quantity]) + (self.flat("pair") if pair else 0.0)

    def look(self, parts: int) -> float:
        """Inspecting so many parts. [min]"""
        return self.flat("look") + parts * self.flat("look per part")

    def heat(self, method: str) -> float:
        """Feeling the board once. [min]"""
        return float(self.table["heat"][method])

    def package(self, part: HasPackage) -> str:
        """The row of the table of removals for a part."""
        pins = len(part.pins)
        if part.kind == "connector":
            return "connector"
        if part.kind in self.table["large kinds"]:
            return "large two pads"
        if pins > self.flat("ball grid pins") or "BGA" in part.package.upper():
            return "ball grid"
        for most, name in ((2, "two pads"), (4, "few pins"), (8, "chip of 8"), (24, "chip of 24"), (48, "chip of 48")):
            if pins <= most:
                return name
        return "chip beyond"

    def take_off(self, part: HasPackage) -> float:
        """Taking a part off and cleaning its pads. [min]"""
        return float(self.table["take off"][self.package(part)])

    def refit(self, part: HasPackage) -> float:
        """Putting the same part back. [min]"""
        return self.flat("refit") * self.take_off(part)

    def replace(self, part: HasPackage) -> float:
        """Fitting a new one. [min]"""
        return self.flat("replace") * self.take_off(part)


@cache
def costs() -> Costs:
    """The frozen costs with their hash."""
    data = FILE.read_bytes()
    return Costs(json.loads(data), hashlib.sha256(data).hexdigest())
