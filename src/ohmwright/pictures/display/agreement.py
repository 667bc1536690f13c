"""When what a camera reads is believed: several pictures one after the other that say the same."""

from __future__ import annotations

from dataclasses import dataclass

from ohmwright.pictures.display.reading import DisplayRead

AGREEING = 3
"""Pictures that have to say the same. [1]"""
FORGIVEN = 2
"""Pictures in between that may say nothing certain. [1]"""


@dataclass(frozen=True, slots=True)
class Agreement:
    """What the pictures have said so far.

    Parameters
    ----------
    says : tuple
        Text, unit and words of the latest certain pictures.
    count : int
        How many of them said it. [1]
    missed : int
        Uncertain pictures since the last certain one. [1]
    """

    says: tuple[str, str, tuple[str, ...]] | None = None
    count: int = 0
    missed: int = 0

    @property
    def believed(self) -> bool:
        """Whether enough pictures agree."""
        return self.count >= AGREEING


def agreed(before: Agreement, read: DisplayRead) -> Agreement:
    """After one more picture. A picture that says something else begins anew."""
    if not read.sure:
        missed = before.missed + 1
        return Agreement() if missed > FORGIVEN else Agreement(before.says, before.count, missed)
    says = (read.text, read.unit, tuple(sorted(set(read.words))))
    if says == before.says:
        return Agreement(says, min(before.count + 1, AGREEING), 0)
    return Agreement(says, 1, 0)
