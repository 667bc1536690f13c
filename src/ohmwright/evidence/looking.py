"""What a look at a part says about it. A finding raises suspicion; it never settles anything."""

from __future__ import annotations

import math

import numpy as np

from ohmwright.evidence.joint import Array
from ohmwright.evidence.roster import Roster
from ohmwright.facts import Look, LookFinding

SEEN = {
    LookFinding.CRACK: (0.12, 0.004),
    LookFinding.BURN: (0.10, 0.004),
    LookFinding.CORROSION: (0.06, 0.008),
    LookFinding.MISSING: (0.02, 0.001),
    LookFinding.REWORKED: (0.04, 0.01),
}
"""Share of bad and of sound parts at which each is found; estimates, no source."""
CRUST = 0.4
"""Share of residue that conducts which shows as corrosion; estimate, no source. [1]"""
NOTHING_BAD = 1.0 - sum(bad for bad, _ in SEEN.values())
NOTHING_SOUND = 1.0 - sum(sound for _, sound in SEEN.values())

_CRUSTED = {
    LookFinding.CORROSION: CRUST,
    LookFinding.NOTHING: NOTHING_BAD + SEEN[LookFinding.CORROSION][0] - CRUST,
}
"""What is seen at residue otherwise than at other bad parts; all findings together stay one. [1]"""


def log_likelihood(looks: tuple[Look, ...], roster: Roster) -> Array:
    """Natural logarithm of how likely the looks are, against a board of sound parts, shape (n_hypotheses,).

    The first look at a part counts; an eye that missed a crack will miss it again.
    """
    seen: dict[str, LookFinding] = {}
    for look in looks:
        for part in look.parts:
            if seen.get(part, LookFinding.NOTHING) is LookFinding.NOTHING:
                seen[part] = look.finding
    total = np.zeros(len(roster.hypotheses))
    for part, finding in seen.items():
        bad, sound = (NOTHING_BAD, NOTHING_SOUND) if finding is LookFinding.NOTHING else SEEN[finding]
        total += np.where(roster.with_part(part), math.log(bad / sound), 0.0)
        if finding in _CRUSTED:
            total += np.where(roster.with_residue(part), math.log(_CRUSTED[finding] / bad), 0.0)
    return total
