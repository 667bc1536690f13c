"""What a policy is given and what it hands in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from judge.ledger import Ledger
from judge.world import Case
from ohmwright.circuit import Board

LEVELS = ("open", "likely", "supported", "proven")


@dataclass(frozen=True, slots=True)
class Named:
    """One suspect as a policy names it.

    Parameters
    ----------
    parts : tuple of str
        The parts it says are bad, together; empty for "nothing wrong" and for something not on the map.
    mode : str
        ``short``, ``leak``, ``open``, ``drift``, ``none`` or ``unmapped``.
    where : tuple of str
        Pins as ``PART.PIN``, or the net of something not on the map.
    """

    parts: tuple[str, ...]
    mode: str
    where: tuple[str, ...] = ()
    probability: float = 0.0


@dataclass(frozen=True, slots=True)
class Stated:
    """The group a policy holds likeliest and the probability it states for it. [1]"""

    group: tuple[Named, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class ClaimMade:
    """A claim: its level, the part (or "") and the suspects it covers; whether it says more may be wrong."""

    level: str
    part: str
    covers: tuple[Named, ...]
    more: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """What is handed in at the end of a case.

    Parameters
    ----------
    stop : str
        Why it stopped, in the policy's words; "" if it was cut short.
    abstains : bool
        Whether it says that the case cannot be decided.
    at : tuple of (int, Stated)
        What it held at so many readings.
    ever : tuple of ClaimMade
        Claims it made on the way and no longer makes, each once.
    """

    stop: str = ""
    top: Stated = Stated((), 0.0)
    claims: tuple[ClaimMade, ...] = ()
    abstains: bool = False
    at: tuple[tuple[int, Stated], ...] = ()
    log: tuple[str, ...] = ()
    ever: tuple[ClaimMade, ...] = ()

    @property
    def proven(self) -> tuple[str, ...]:
        """Parts it calls proven."""
        return tuple(claim.part for claim in self.claims if claim.level == "proven" and claim.part)


@dataclass(frozen=True)
class Sitting:
    """One policy at one case.

    Parameters
    ----------
    truth : Case or None
        Only the clairvoyant is given it.
    words : tuple of object
        From which a policy that needs luck derives it.
    """

    board: Board
    bench: Ledger
    truth: Case | None = None
    words: tuple[object, ...] = ()
    verbose: bool = False


class Policy(Protocol):
    """A way of working."""

    def run(self) -> None:
        """Work until done; the ledger raises `CapReached` at the cap."""

    def answer(self) -> Answer:
        """What it would hand in now."""
