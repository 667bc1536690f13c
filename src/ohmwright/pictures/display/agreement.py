"""When what a camera reads is believed: several pictures one after the other that say the same."""

from __future__ import annotations

from dataclasses import dataclass

from ohmwright.pictures.display.reading import DisplayRead

AGREEING = 3
"""Pictures that have to say the same figures. [1]"""
WHOLE = 2
"""How many of them have to say the same unit and words too, with nothing in doubt. [1]"""
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
        How many of them said its figures. [1]
    whole : int
        How many said all of it. [1]
    missed : int
        Uncertain pictures since the last certain one. [1]
    """

    says: tuple[str, str, tuple[str, ...]] | None = None
    count: int = 0
    whole: int = 0
    missed: int = 0

    @property
    def believed(self) -> bool:
        """Whether enough pictures agree."""
        return self.count >= AGREEING and self.whole >= WHOLE


def agreed(before: Agreement, read: DisplayRead) -> Agreement:
    """After one more picture. A picture that says something else begins anew.

    One that is certain of the same figures and not of the unit counts for the figures; the unit and the words are only
    taken from pictures that are certain of everything, so that no unit of another range comes to these figures.
    """
    if read.sure:
        says = (read.text, read.unit, tuple(sorted(set(read.words))))
        if says == before.says:
            return Agreement(says, min(before.count + 1, AGREEING), min(before.whole + 1, WHOLE), 0)
        return Agreement(says, 1, 1, 0)
    if read.text and before.says is not None:
        other = read.text != before.says[0] or (bool(read.unit) and read.unit != before.says[1])
        return Agreement() if other else Agreement(before.says, min(before.count + 1, AGREEING), before.whole, 0)
    missed = before.missed + 1
    return Agreement() if missed > FORGIVEN else Agreement(before.says, before.count, before.whole, missed)
