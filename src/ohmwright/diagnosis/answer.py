"""What the engine answers: suspects, groups, claims, and what does not fit. Values only."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ohmwright.quantities import Interval


class Level(StrEnum):
    """How far a claim may be trusted."""

    NONE = "open"
    LIKELY = "likely"
    """Belief above the threshold."""
    SUPPORTED = "supported"
    """Likely, and a second kind of evidence agrees."""
    PROVEN = "proven"
    """Two independent signs by cause, as the kind of fault demands."""


@dataclass(frozen=True, slots=True)
class Reason:
    """What one fact says about one suspect.

    Parameters
    ----------
    event : str
        Key of the fact.
    text : str
        One sentence.
    bits : float
        Evidence for the suspect against the rest, in bits; negative speaks against. [bit]
    """

    event: str
    text: str
    bits: float


@dataclass(frozen=True, slots=True)
class Suspect:
    """One part and one way of failing.

    Parameters
    ----------
    key : str
        Stable name of this suspect within the case.
    part : str
        Reference, or "" where no part of the map is meant ("nothing wrong", "not on the map").
    mode : str
        ``short``, ``leak``, ``open``, ``drift``, ``none``, ``unmapped``.
    where : tuple of str
        The pins concerned as ``PART.PIN``, or the net for something not on the map.
    words : str
        The suspect in a technician's words.
    severity : Interval or None
        90 % interval of its resistance, for an open of what is left of the part. [Ω]
    extent : str
        The same in words, empty where nothing narrows it down.
    """

    key: str
    part: str
    mode: str
    where: tuple[str, ...]
    words: str
    probability: float
    severity: Interval | None = None
    reasons: tuple[Reason, ...] = ()
    extent: str = ""
    places: tuple[str, ...] = ()
    """Of each fault the part, or the net where it is something off the map."""


@dataclass(frozen=True, slots=True)
class Group:
    """Suspects that nothing measured so far tells apart.

    Parameters
    ----------
    members : tuple of str
        Keys of suspects, most probable first.
    split_by : str
        The kind of test that would tell them apart.
    """

    members: tuple[str, ...]
    probability: float
    words: str
    split_by: str = ""


@dataclass(frozen=True, slots=True)
class Sign:
    """One independent sign of a proof, with the events it rests on."""

    text: str
    events: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Claim:
    """What may be said of the case, how firmly, and on what it rests."""

    level: Level
    part: str
    words: str
    signs: tuple[Sign, ...] = ()


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Readings that no hypothesis explains together, with the one most likely wrong."""

    events: tuple[str, ...]
    text: str
    most_likely_wrong: str


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """Everything the facts so far say.

    Parameters
    ----------
    suspects : tuple of Suspect
        Most probable first. Their probabilities with `rest` sum to one. [1]
    rest : float
        Probability spread over suspects too small to list. [1]
    claims : tuple of Claim
        Strongest first; empty while nothing can be claimed.
    approximate : bool
        Whether the figures rest on an approximation known to be loose here.
    """

    suspects: tuple[Suspect, ...]
    groups: tuple[Group, ...]
    claims: tuple[Claim, ...]
    contradictions: tuple[Contradiction, ...] = ()
    rest: float = 0.0
    approximate: bool = False
    off_board: tuple[str, ...] = ()
