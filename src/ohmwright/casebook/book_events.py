"""What is entered from the part book: part of `ohmwright.casebook.events`, which says the rest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class PartIdentified:
    """What a part is was looked up, or how it looks was noticed; what is empty stays as it was.

    Parameters
    ----------
    number : str
        Its part number.
    source : str
        Where that is from: a library, or a datasheet with its page.
    look : str
        In the words of `ohmwright.partbook.seen.LOOKS`.
    """

    kind: ClassVar[str] = "part-identified"
    version: ClassVar[int] = 1
    part: str
    number: str = ""
    source: str = ""
    look: str = ""
