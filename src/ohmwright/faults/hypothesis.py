"""What may be wrong: one or more defects, each at a part or at a net."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from ohmwright.circuit import BoardState
from ohmwright.faults.severity import Severity

AS_BUILT = "as built"


class DefectKind(StrEnum):
    """What a defect does to the circuit."""

    PATH = "path"
    """A resistance between two nets that should not be there."""
    OPEN = "open"
    """An element that does not conduct, or a pin that touches its pad no more."""
    DRIFT = "drift"
    """An element with another value than it should have."""


@dataclass(frozen=True)
class Defect:
    """One thing wrong.

    Parameters
    ----------
    part : str
        "" for something that is not on the map: dirt, a bridge, a part nobody has drawn.
    mode : str
        ``short``, ``leak``, ``open``, ``drift``; ``as built`` for what a part of unknown kind may be with
        nothing wrong.
    where : tuple of str
        Pins as ``PART.PIN``; for something off the map the net.
    nets : (str, str)
        The pair of nets a path joins, or the ends of the element.
    label : str
        Label of the element for an open or a drift, else the words for the pin pair.
    severity : Severity or None
    joint : bool
        Whether it sits in the solder, or is dirt, so that reflowing or cleaning cures it.
    pin : str
        Number of the pin where an open cuts off all that the part has there; "" where it is one element's.
    residue : bool
        Whether it lies between pads of the board, so that it stays when the part comes off or a new one is fitted.
    one_way : bool
        Whether a path conducts from the first net to the second only, as a junction that has gone soft does.
    """

    kind: DefectKind
    part: str
    mode: str
    where: tuple[str, ...]
    nets: tuple[str, str]
    label: str
    severity: Severity | None = None
    joint: bool = False
    pin: str = ""
    residue: bool = False
    one_way: bool = False

    @cached_property
    def electrical(self) -> tuple[str, ...]:
        """Equal for defects that no reading tells apart while their parts stay on the board."""
        if self.kind is DefectKind.PATH:
            a, b = self.nets if self.one_way else sorted(self.nets)
            return ("one way" if self.one_way else "path", a, b, f"{self.severity.median:.3g}" if self.severity else "")
        extra = f"{self.severity.median:.3g}" if self.severity else ""
        return (self.kind.value, self.part, self.label, extra)

    @property
    def harmless(self) -> bool:
        """Whether it is only what a part of unknown kind may be, and nothing wrong."""
        return self.mode == AS_BUILT

    @property
    def key(self) -> str:
        """Stable name of what is suspected, whatever its severity."""
        spot = "/".join(self.where)
        return f"{self.part or 'unmapped'}:{self.mode}:{spot}{self.cure}"

    @property
    def cure(self) -> str:
        """What sets defects apart that differ only in what takes them away."""
        return (":joint" if self.joint else "") + (":residue" if self.residue else "")


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """All that is wrong at once. No defects: nothing is wrong."""

    defects: tuple[Defect, ...]
    prior: float
    source: str = ""

    @property
    def key(self) -> str:
        """Stable name, equal for all severities of the same suspicion."""
        return " + ".join(defect.key for defect in self.defects) or "nothing wrong"

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts at fault; "" for something off the map."""
        return tuple(defect.part for defect in self.defects if not defect.harmless)

    @property
    def faults(self) -> tuple[Defect, ...]:
        """The defects that are something wrong."""
        return tuple(defect for defect in self.defects if not defect.harmless)


NOTHING = Hypothesis((), 1.0, "a board is sometimes sound, or fails in a way no cold reading shows")


def active_defects(hypothesis: Hypothesis, state: BoardState) -> tuple[Defect, ...]:
    """The defects that are still there in a board state.

    A part that is off or new takes its defect with it, but not the residue between its pads. Cleaning a net takes
    away the dirt on it; reflowing a part cures its joints, and so does soldering it back.
    """
    if not (state.off or state.replaced or state.cleaned or state.refitted):
        return hypothesis.defects
    return tuple(defect for defect in hypothesis.defects if _still_there(defect, state))


def _still_there(defect: Defect, state: BoardState) -> bool:
    if not defect.part:
        return not (defect.joint and any(spot in state.cleaned for spot in defect.where))
    if not defect.residue:
        if defect.part in state.off or defect.part in state.replaced:
            return False
        if defect.joint and defect.part in state.refitted:
            return False
    return not (defect.joint and defect.part in state.cleaned)
