"""What happened in a case, each as a past fact with a kind and a version written by hand.

Events name pads, points and parts, never nets that were worked out, classes or beliefs: those are derived.
An event is never changed. What was entered wrongly is undone or amended by a later event.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from ohmwright.casebook.book_events import PartIdentified as PartIdentified
from ohmwright.casebook.field_events import GradientRecorded as GradientRecorded
from ohmwright.casebook.map_events import BoardLaid as BoardLaid
from ohmwright.casebook.map_events import Inspected as Inspected
from ohmwright.casebook.map_events import NetTold as NetTold
from ohmwright.casebook.map_events import PadsApart as PadsApart
from ohmwright.casebook.map_events import PadsJoined as PadsJoined
from ohmwright.casebook.map_events import PartErased as PartErased
from ohmwright.casebook.map_events import PartMapped as PartMapped
from ohmwright.casebook.map_events import PictureAdded as PictureAdded
from ohmwright.casebook.map_events import PictureRegistered as PictureRegistered
from ohmwright.casebook.map_events import ScaleSet as ScaleSet
from ohmwright.casebook.trace_events import TraceRecorded as TraceRecorded
from ohmwright.circuit import Board, Feed, Part
from ohmwright.facts import HANDHELD, HeatFinding, LookFinding, Meter, Quantity, Symptom


@dataclass(frozen=True, slots=True)
class CaseOpened:
    """A case began, on this board as far as it was known."""

    kind: ClassVar[str] = "case-opened"
    version: ClassVar[int] = 1
    board: Board
    note: str = ""


@dataclass(frozen=True, slots=True)
class SymptomTold:
    """What the board does, as its owner or a first look says."""

    kind: ClassVar[str] = "symptom-told"
    version: ClassVar[int] = 1
    symptom: Symptom


@dataclass(frozen=True, slots=True)
class EntryDescribed:
    """What is known of a power entry before the first feed. The label is in volts. [V]"""

    kind: ClassVar[str] = "entry-described"
    version: ClassVar[int] = 1
    net: str
    label_volts: float | None = None
    polarity_measured: bool = False
    battery_off: bool = False


@dataclass(frozen=True, slots=True)
class ReadingRecorded:
    """A meter, or the supply's own display, was read. None is an overload.

    Parameters
    ----------
    entered : str
        How it came in: the typed text, ``meter``, or a one-key outcome such as ``as expected``.
    """

    kind: ClassVar[str] = "reading-recorded"
    version: ClassVar[int] = 2
    quantity: Quantity
    red: str
    black: str
    value: float | None
    meter: Meter = HANDHELD
    entered: str = ""


@dataclass(frozen=True, slots=True)
class LookRecorded:
    """Parts were inspected."""

    kind: ClassVar[str] = "look-recorded"
    version: ClassVar[int] = 1
    parts: tuple[str, ...]
    finding: LookFinding


@dataclass(frozen=True, slots=True)
class HeatRecorded:
    """Where it got warm, at that many watts; of a picture, how likely each part is the warm one. [W], [1]

    `feed` names the feed that it was seen under where that has ended since: a guard ends every feed.
    """

    kind: ClassVar[str] = "heat-recorded"
    version: ClassVar[int] = 3
    finding: HeatFinding
    parts: tuple[str, ...]
    watts: float
    method: str = "finger"
    shares: tuple[tuple[str, float], ...] = ()
    feed: Feed | None = None


@dataclass(frozen=True, slots=True)
class PartTakenOff:
    """A part came off the board."""

    kind: ClassVar[str] = "part-taken-off"
    version: ClassVar[int] = 1
    part: str


@dataclass(frozen=True, slots=True)
class PartRefitted:
    """The same part went back on."""

    kind: ClassVar[str] = "part-refitted"
    version: ClassVar[int] = 1
    part: str


@dataclass(frozen=True, slots=True)
class PartReplaced:
    """A new part was fitted."""

    kind: ClassVar[str] = "part-replaced"
    version: ClassVar[int] = 1
    part: str


@dataclass(frozen=True, slots=True)
class PartCleaned:
    """A part, or the copper of a net, was cleaned."""

    kind: ClassVar[str] = "part-cleaned"
    version: ClassVar[int] = 1
    part: str


@dataclass(frozen=True, slots=True)
class PartReflowed:
    """The joints of a part were melted again."""

    kind: ClassVar[str] = "part-reflowed"
    version: ClassVar[int] = 1
    part: str


@dataclass(frozen=True, slots=True)
class Bridged:
    """Two points were joined by a wire."""

    kind: ClassVar[str] = "bridged"
    version: ClassVar[int] = 1
    a: str
    b: str


@dataclass(frozen=True, slots=True)
class FeedSet:
    """The supply feeds the board at this setting."""

    kind: ClassVar[str] = "feed-set"
    version: ClassVar[int] = 1
    feed: Feed


@dataclass(frozen=True, slots=True)
class FeedOff:
    """The supply's output was switched off."""

    kind: ClassVar[str] = "feed-off"
    version: ClassVar[int] = 1


@dataclass(frozen=True, slots=True)
class Discharged:
    """The board's capacitors were discharged."""

    kind: ClassVar[str] = "discharged"
    version: ClassVar[int] = 1


@dataclass(frozen=True, slots=True)
class BoardTried:
    """The board was tried as its owner uses it."""

    kind: ClassVar[str] = "board-tried"
    version: ClassVar[int] = 1
    works: bool


@dataclass(frozen=True, slots=True)
class TestSkipped:
    """A test was passed over in the present state of the board."""

    __test__: ClassVar[bool] = False
    kind: ClassVar[str] = "test-skipped"
    version: ClassVar[int] = 1
    title: str


@dataclass(frozen=True, slots=True)
class GateOverruled:
    """A safety gate was passed by the user's own decision."""

    kind: ClassVar[str] = "gate-overruled"
    version: ClassVar[int] = 1
    gate: str
    reason: str


@dataclass(frozen=True, slots=True)
class PartPlaced:
    """A part was put on the map, or described again."""

    kind: ClassVar[str] = "part-placed"
    version: ClassVar[int] = 1
    part: Part


@dataclass(frozen=True, slots=True)
class PinNamed:
    """A pin got its role and its printed name."""

    kind: ClassVar[str] = "pin-named"
    version: ClassVar[int] = 1
    pad: str
    role: str
    name: str = ""


@dataclass(frozen=True, slots=True)
class Undone:
    """An earlier event counts no more. Undoing an undo brings it back."""

    kind: ClassVar[str] = "undone"
    version: ClassVar[int] = 1
    sequence: int


@dataclass(frozen=True, slots=True)
class Amended:
    """An earlier entry is put right, or a forgotten one is put in its place.

    Parameters
    ----------
    sequence : int
        The event it takes the place of; 0 where something forgotten is put in. [1]
    now : Entry
        What it should have said.
    position : int
        It counts as if it stood just before that event; 0 keeps the place. [1]
    """

    kind: ClassVar[str] = "amended"
    version: ClassVar[int] = 1
    sequence: int
    now: Entry
    position: int = 0


ENTRIES: tuple[type, ...] = (
    SymptomTold, EntryDescribed, ReadingRecorded, LookRecorded, HeatRecorded, PartTakenOff, PartRefitted,
    PartReplaced, PartCleaned, PartReflowed, Bridged, FeedSet, FeedOff, Discharged, BoardTried, TestSkipped,
    GateOverruled, PartPlaced, PinNamed, PadsJoined, PictureAdded, PictureRegistered, ScaleSet, PartMapped,
    PartErased, NetTold, PadsApart, BoardLaid, Inspected, PartIdentified, GradientRecorded, TraceRecorded,
)  # fmt: skip
Entry = (
    SymptomTold | EntryDescribed | ReadingRecorded | LookRecorded | HeatRecorded | PartTakenOff | PartRefitted
    | PartReplaced | PartCleaned | PartReflowed | Bridged | FeedSet | FeedOff | Discharged | BoardTried
    | TestSkipped | GateOverruled | PartPlaced | PinNamed | PadsJoined | PictureAdded | ScaleSet | PartMapped
    | PartErased | NetTold | PictureRegistered | PadsApart | BoardLaid | Inspected
    | PartIdentified | GradientRecorded | TraceRecorded
)  # fmt: skip
Happening = CaseOpened | Undone | Amended | Entry

KINDS: dict[str, type] = {str(vars(kind)["kind"]): kind for kind in (CaseOpened, Undone, Amended, *ENTRIES)}
"""The one table: a new kind of event is one class above and one name in `ENTRIES`."""


@dataclass(frozen=True, slots=True)
class Event:
    """One line of the case: what happened, when, and who entered it.

    Parameters
    ----------
    sequence : int
        Unique within the case, counted from 1. [1]
    at : str
        UTC, ISO 8601.
    """

    sequence: int
    at: str
    author: str
    what: Happening

    @property
    def key(self) -> str:
        """How reasons and signs cite it."""
        return f"e{self.sequence}"
