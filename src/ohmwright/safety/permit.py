"""The answer of the safety rules to one wish to feed the board: a permit, or a refusal with its reason.

A supply is switched on only with a permit, so no door goes around the rules.
"""

from __future__ import annotations

from dataclasses import dataclass

from ohmwright.circuit import Feed


@dataclass(frozen=True, slots=True)
class Notice:
    """A hazard named where it matters. It defers to local rules and licensed practice."""

    code: str
    text: str


@dataclass(frozen=True, slots=True)
class Permit:
    """Leave to switch the supply on at exactly this setting.

    Parameters
    ----------
    feed : Feed
        The setting it holds for, and no other.
    notices : tuple of Notice
        What to mind while it is on.
    """

    feed: Feed
    notices: tuple[Notice, ...] = ()


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why not, which rule says so, and what to do first. False in a condition.

    Parameters
    ----------
    gate : str
        Name of the rule, to be cited when the user overrules it.
    reason, hint : str
        One sentence each.
    overridable : bool
        Whether the user may pass it with a reason on record.
    """

    gate: str
    reason: str
    hint: str
    overridable: bool = False

    def __bool__(self) -> bool:
        return False
