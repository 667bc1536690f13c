"""One value inside plain JSON data that knows its own path, so that every complaint says where."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from ohmwright.errors import FileFormatError, ReadingError, UnknownNameError
from ohmwright.quantities import parse_quantity

LONGEST = 2_000
"""Characters in one text. [1]"""
LONGEST_NUMBER = 60
"""Characters in a written quantity. [1]"""


@dataclass(frozen=True, slots=True)
class Field:
    """A value with its path, as ``lamp.json: /parts/3/value``."""

    data: object
    where: str

    def fields(self, known: Iterable[str], needed: Iterable[str] = ()) -> dict[str, Field]:
        """The fields of an object that holds no others than `known` and all that are `needed`."""
        if not isinstance(self.data, dict):
            raise self._wrong("an object", "{...}")
        for name in self.data:
            if name not in known:
                raise UnknownNameError.among("field", str(name)[:80], known, where=self.where)
        for name in needed:
            if name not in self.data:
                raise FileFormatError(f"The field {name!r} is missing.", where=self.where, hint=f"add {name!r}")
        return {name: self._inside(name, item) for name, item in self.data.items()}

    def named(self, most: int) -> list[tuple[str, Field]]:
        """The entries of an object whose names are free, at most so many. [1]"""
        if not isinstance(self.data, dict):
            raise self._wrong("an object", "{...}")
        self._few(len(self.data), most)
        return [(Field(name, self.where).text(), self._inside(name, item)) for name, item in self.data.items()]

    def items(self, most: int) -> list[Field]:
        """The items of a list, at most so many. [1]"""
        if not isinstance(self.data, list | tuple):
            raise self._wrong("a list", "[...]")
        self._few(len(self.data), most)
        return [self._inside(index, item) for index, item in enumerate(self.data)]

    def text(self, *, empty: bool = False) -> str:
        """A text of sane length."""
        if not isinstance(self.data, str):
            raise self._wrong("a text", '"..."')
        if not self.data.strip() and not empty:
            raise FileFormatError("An empty text.", where=self.where, hint="give a name")
        if len(self.data) > LONGEST:
            raise FileFormatError(
                f"A text of {len(self.data)} characters.", where=self.where, hint=f"at most {LONGEST}"
            )
        try:
            self.data.encode("utf-8")
        except UnicodeEncodeError as error:
            raise FileFormatError(
                "A text with half a character.", where=self.where, why=str(error), hint="write it in UTF-8"
            ) from error
        return self.data

    def truth(self) -> bool:
        """``true`` or ``false``."""
        if not isinstance(self.data, bool):
            raise self._wrong("true or false", "true")
        return self.data

    def number(self, low: float, high: float) -> float:
        """A finite number within bounds that belong to the field."""
        if isinstance(self.data, bool) or not isinstance(self.data, int | float):
            raise self._wrong("a number", "1.5")
        # A whole number of hundreds of digits is no float; compare before turning it into one.
        if not low <= self.data <= high:
            raise FileFormatError(
                f"{str(self.data)[:30]} is out of bounds.", where=self.where, hint=f"from {low:g} to {high:g}"
            )
        return float(self.data)

    def count(self, most: int) -> int:
        """A whole number from 0 to `most`. [1]"""
        if isinstance(self.data, bool) or not isinstance(self.data, int) or not 0 <= self.data <= most:
            raise self._wrong(f"a whole number from 0 to {most}", "2")
        return self.data

    def quantity(self) -> float:
        """A quantity of zero or more: a number in SI units or a text such as ``4k7``."""
        if isinstance(self.data, str):
            try:
                value = parse_quantity(self.data[:LONGEST_NUMBER])
            except ReadingError as error:
                raise FileFormatError(error.what, where=self.where, why=error.why, hint="4k7, 100n, 0R05") from error
        else:
            value = self.number(-1e15, 1e15)
        if not (math.isfinite(value) and 0.0 <= value <= 1e15):
            raise FileFormatError(f"{value:g} cannot be.", where=self.where, hint="zero or more, in SI units")
        return value

    def optional_quantity(self) -> float | None:
        """A quantity, or None for null."""
        return None if self.data is None else self.quantity()

    def _inside(self, name: object, item: object) -> Field:
        plain = str(name)[:80].replace("~", "~0").replace("/", "~1")  # RFC 6901, section 3
        joint = "/" if ": /" in self.where else ": /"
        return Field(item, f"{self.where}{joint}{plain}")

    def _few(self, count: int, most: int) -> None:
        if count > most:
            raise FileFormatError(f"{count} entries.", where=self.where, hint=f"at most {most}")

    def _wrong(self, wanted: str, example: str) -> FileFormatError:
        got = {dict: "an object", list: "a list", str: "a text", bool: "true or false", type(None): "null"}
        return FileFormatError(
            f"Expected {wanted}, not {got.get(type(self.data), 'a number')}.", where=self.where, hint=f"as in {example}"
        )
