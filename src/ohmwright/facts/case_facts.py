"""All the facts of one case at one moment: what the belief is computed from, and nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ohmwright.circuit import BoardState
from ohmwright.facts.gradient import Gradient
from ohmwright.facts.observation import Heat, Look
from ohmwright.facts.reading import Reading
from ohmwright.facts.trace import TraceSeen


class Deed(StrEnum):
    """What was done to the board."""

    TOOK_OFF = "took off"
    REFITTED = "refitted"
    REPLACED = "replaced"
    CLEANED = "cleaned"
    REFLOWED = "reflowed"
    WORKS = "works"
    """The board was tried after the last repair, and works."""
    STILL_DEAD = "still dead"


CURES = (Deed.REPLACED, Deed.CLEANED, Deed.REFLOWED)
"""What may have repaired the board."""
TRIALS = (Deed.WORKS, Deed.STILL_DEAD)
"""What a trial of the board showed."""


@dataclass(frozen=True, slots=True)
class Act:
    """Something done to the board, in the order of the case.

    Parameters
    ----------
    position : int
        Its place in the case among readings and acts. [1]
    state : BoardState
        How the board stood after it.
    """

    deed: Deed
    part: str
    key: str
    position: int = 0
    state: BoardState = BoardState()


class Symptom(StrEnum):
    """What the board does, as told or seen before any reading."""

    UNKNOWN = "unknown"
    DEAD = "dead"
    DRAWS_LIMIT = "draws the full limit"
    DRAWS_NOTHING = "draws nothing"


@dataclass(frozen=True, slots=True)
class EntryFact:
    """What is known of a power entry before it is fed for the first time.

    Parameters
    ----------
    net : str
    label_volts : float or None
        As printed at the jack or on the proper supply. [V]
    polarity_measured : bool
        Whether someone measured which contact is positive.
    battery_off : bool
    """

    net: str
    label_volts: float | None = None
    polarity_measured: bool = False
    battery_off: bool = False
    key: str = ""


@dataclass(frozen=True, slots=True)
class Override:
    """A gate passed by the user's own decision, with the reason on record."""

    gate: str
    reason: str
    key: str = ""


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything seen, measured and done so far, and how the board stands now."""

    readings: tuple[Reading, ...] = ()
    looks: tuple[Look, ...] = ()
    heats: tuple[Heat, ...] = ()
    gradients: tuple[Gradient, ...] = ()
    traces: tuple[TraceSeen, ...] = ()
    acts: tuple[Act, ...] = ()
    entries: tuple[EntryFact, ...] = ()
    overrides: tuple[Override, ...] = ()
    skipped: tuple[str, ...] = ()
    """Titles of tests the user passed over in the present state."""
    symptom: Symptom = Symptom.UNKNOWN
    state: BoardState = BoardState()
    discharged: bool = True
    """Whether the board was discharged since it was last fed."""

    @property
    def last_fed(self) -> BoardState | None:
        """How the board stood when it was last fed: now, or as the supply showed it, if nothing was done since."""
        if self.state.feed is not None:
            return self.state
        shown = [r.state for r in self.readings if r.state.feed is not None and r.state.unfed == self.state]
        return shown[-1] if shown else None

    def dead_since_mended(self, *parts: str) -> bool:
        """Whether all of some parts were mended and the board, tried since the last work, is still dead."""
        trial = self.trial_since_mended
        dead = trial is not None and trial.deed is Deed.STILL_DEAD
        return dead and set(parts) <= self.state.replaced | self.state.cleaned

    @property
    def trial_since_mended(self) -> Act | None:
        """The last trial after the last repair; None where nothing was mended, or nobody tried the board since."""
        cures = [k for k, act in enumerate(self.acts) if act.deed in CURES]
        trials = [act for act in self.acts[cures[-1] :] if act.deed in TRIALS] if cures else []
        return trials[-1] if trials else None

    @property
    def last_trial(self) -> Deed | None:
        """What the last trial of the board showed; None where it was never tried."""
        trials = [act.deed for act in self.acts if act.deed in TRIALS]
        return trials[-1] if trials else None
