"""Whether fingers lie across the tips: skin shows some hundred kilohms that wander, and no point does that.

A resistance stands still, and a charge rises from nothing at a pace that never grows; a slide to another pad breaks
that once. Figures that began above `Rules.skin` and turn back or quicken twice, by more than the display's own noise,
are none of these: it is skin, and what comes after it is the first touch of the point and no slip away from one. Two
figures that are alike by chance, which happens to skin once in some twenty readings, prove nothing beside that.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from ohmwright.usecases.slides import PACE, Rules, Sample, is_rounded, slack_of


@dataclass(frozen=True, slots=True)
class Skin:
    """What a touch has shown above `Rules.skin`, a short air passed over.

    Parameters
    ----------
    above : tuple of Sample
        The latest figures there, in a row.
    breaks : int
        How often they turned back or quickened, as long as they have not stood still since. [1]
    sooner : int
        The same before the latest figure, which may be the display's own way to the next point. [1]
    low : bool
        Whether the touch has shown less too: what rose from there is a charge, and skin has been left.
    """

    above: tuple[Sample, ...] = ()
    breaks: int = 0
    sooner: int = 0
    low: bool = False

    @property
    def proven(self) -> bool:
        """Whether it is skin, whatever comes next."""
        return self.breaks > 1

    def left_at(self, sample: Sample, rules: Rules) -> bool:
        """Whether this was skin if it is left for such a figure: leaving it for less is one more break."""
        return self.proven or (self.sooner > 0 and sample.value is not None and sample.value <= rules.skin)


def skin_after(skin: Skin, sample: Sample, rules: Rules) -> Skin:
    """The same after one more figure of the touch; nothing of it is left by one that skin does not show."""
    if sample.value is None or sample.value <= rules.skin:
        return Skin(low=True)
    above = (*skin.above[1 - MOST :], sample)
    stands = [s for s in above if s.at > sample.at - STANDS - 1e-9]
    if above[0].at <= sample.at - STANDS and len(stands) >= rules.readings and _alike(stands, rules):
        return Skin(tuple(stands), low=skin.low)
    return Skin(above, 0 if skin.low else max(skin.breaks, _breaks(above, rules)), skin.breaks, skin.low)


def _alike(figures: list[Sample], rules: Rules) -> bool:
    values = [s.value or 0.0 for s in figures]
    return max(values) - min(values) <= slack_of(values[-1], figures[-1].step, rules)


def _breaks(figures: tuple[Sample, ...], rules: Rules) -> int:
    """How often a move is turned back, or followed by a faster one, beyond the display's own noise."""
    count, before = 0, None
    for a, b in pairwise(s for s in figures if not is_rounded(s)):
        slack = slack_of(b.value or 0.0, max(a.step, b.step), rules)
        move, length = (b.value or 0.0) - (a.value or 0.0), b.at - a.at
        if before is not None:
            turns = move * before < 0.0 and min(abs(move), abs(before) * length) > slack
            count += turns or abs(move) > PACE * abs(before) * length + slack
        before = move / length
    return count


UNTOUCHED = Skin()
MOST = 12
"""Figures looked at: one to four seconds. [1]"""
STANDS = 0.4
"""For which skin does not stand still: its figures are alike twice in a row now and then, not for so long. [s]"""


__all__ = ["UNTOUCHED", "Skin", "skin_after"]
