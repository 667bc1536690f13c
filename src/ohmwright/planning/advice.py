"""What to do next and why. Values only."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ohmwright.circuit import Feed


class TestKind(StrEnum):
    """The kinds of things one can do at the bench."""

    LOOK = "look"
    DIODE = "diode mode"
    OHMS = "ohms"
    PAIR = "pin pair in place"
    FEED = "feed and read"
    MILLIVOLTS = "millivolts"
    HEAT = "heat"
    TAKE_OFF = "take off and read"
    SPLIT = "split a rail"
    REPLACE = "replace and read"
    GATE = "safety check"
    MAP = "map more"

    __test__ = False


@dataclass(frozen=True, slots=True)
class Step:
    """One reading or act that the test consists of, in order.

    Parameters
    ----------
    act : str
        ``read``, ``feed``, ``feed off``, ``discharge``, ``look``, ``heat``, ``take off``, ``refit``, ``replace``.
    quantity : str
        For ``read``: a value of `ohmwright.facts.Quantity`.
    red, black : str
        For ``read``: the points.
    feed : Feed or None
        For ``feed``: the setting.
    parts : tuple of str
        For ``look``, ``heat`` and ``take off``: the parts concerned.
    """

    act: str
    quantity: str = ""
    red: str = ""
    black: str = ""
    feed: Feed | None = None
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Hump:
    """Where one suspect (or "healthy") expects the value.

    Parameters
    ----------
    low, high : float
        90 % interval in the quantity's SI unit; equal to the overload limit where OL is expected.
    overload : float
        Probability of OL. [1]
    """

    key: str
    words: str
    probability: float
    low: float
    high: float
    overload: float = 0.0


@dataclass(frozen=True, slots=True)
class Outcome:
    """One thing the test may show, how probable it is, and what it would do to the belief."""

    words: str
    probability: float
    then: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A hazard named at the step where it matters. It defers to local rules and licensed practice."""

    code: str
    text: str


@dataclass(frozen=True, slots=True)
class Test:
    """One thing to do next.

    Parameters
    ----------
    title : str
        Verb first, points named.
    why : str
        One sentence.
    minutes : float
        Expected time. [min]
    risk : float
        Expected loss in minutes from what the act may damage. [min]
    bits : float
        Expected information about the suspects. [bit]
    saves : float
        Expected minutes to the proof saved by doing it first. [min]
    gate : bool
        Whether it is asked for by safety, before anything else.
    """

    kind: TestKind
    title: str
    why: str
    steps: tuple[Step, ...]
    minutes: float
    risk: float
    bits: float
    saves: float
    humps: tuple[Hump, ...] = ()
    outcomes: tuple[Outcome, ...] = ()
    cautions: tuple[Caution, ...] = ()
    gate: bool = False

    __test__ = False


@dataclass(frozen=True, slots=True)
class Advice:
    """The next test, the alternatives, and whether to stop.

    Parameters
    ----------
    tests : tuple of Test
        Best first.
    stop : str
        "" while going on is worth it; else the reason to stop ("proven", "not decidable with these tests").
    would_decide : str
        Where the case is not decidable: what would decide it.
    refused : tuple of str
        Tests that would tell much and are not permitted, with the reason.
    """

    tests: tuple[Test, ...]
    stop: str = ""
    would_decide: str = ""
    refused: tuple[str, ...] = ()
