"""What a kind of part declares: how it conducts at DC, and in which ways it fails."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from ohmwright.circuit import Element, ElementKind, Part, Pin


class Mode(StrEnum):
    """The ways in which a part fails as far as direct current can tell."""

    SHORT = "short"
    """A path of at most about ten ohms where there should be none."""
    LEAK = "leak"
    """A path of ten ohms to some hundred kilohms where there should be none."""
    OPEN = "open"
    """An element that should conduct and does not."""
    DRIFT = "drift"
    """An element that conducts, at a value it should not have."""


@dataclass(frozen=True, slots=True)
class FaultMode:
    """One way of failing of one part.

    Parameters
    ----------
    mode : Mode
    pins : (str, str)
        Numbers of the pin pair, for a short or a leak.
    label : str
        Label of the element, for an open or a drift; for a short the words for the pin pair.
    share : float
        Its part in all failures of this kind of part. [1]
    between : bool
        Whether it lies between two pins that stand side by side, so that it may be residue or solder.
    """

    mode: Mode
    pins: tuple[str, str]
    label: str
    share: float
    between: bool = False


@dataclass(frozen=True, slots=True)
class PassPath:
    """A path from one pin to another that the part itself can close while it is fed.

    Parameters
    ----------
    source, sink : str
        Pin numbers; power flows from source to sink.
    on_resistance : float
        [Ω]
    needs : float
        Volts at the source below which it stays off. [V]
    """

    source: str
    sink: str
    on_resistance: float
    needs: float


@dataclass(frozen=True, slots=True)
class Kind:
    """One entry of the catalogue.

    Parameters
    ----------
    words : str
        What a technician calls it.
    rate : float
        How often it is the culprit, relative to one ceramic capacitor on a rail. [1]
    rate_source : str
    """

    name: str
    words: str
    rate: float
    rate_source: str
    elements: Callable[[Part], Iterator[Element]]
    modes: Callable[[Part], Iterator[FaultMode]]
    passes: Callable[[Part], Iterator[PassPath]] = lambda part: iter(())
    roles: tuple[str, ...] = ()


def resistive(part: Part, label: str, a: Pin, b: Pin, median: float, spread: float) -> Iterator[Element]:
    """A resistance between two pins, or nothing where a pin's net is not known or both are one net."""
    if a.net is not None and b.net is not None and a.net != b.net:
        yield Element(part.name, label, ElementKind.RESISTIVE, a.net, b.net, median, spread)


def junction(
    part: Part, label: str, anode: Pin, cathode: Pin, drop: float, spread: float, emission: float = 1.3
) -> Iterator[Element]:
    """A junction of that drop at 1 mA, or nothing where a pin's net is not known or both are one net."""
    if anode.net is not None and cathode.net is not None and anode.net != cathode.net:
        yield Element(part.name, label, ElementKind.JUNCTION, anode.net, cathode.net, drop, spread, emission)


def pair(part: Part, first: str, second: str) -> Iterator[tuple[Pin, Pin]]:
    """Each pair of pins of two roles, on different nets, one pair per pair of nets."""
    seen: set[frozenset[str]] = set()
    for a in part.pins_of_role(first):
        for b in part.pins_of_role(second):
            if a.net is None or b.net is None or a.net == b.net:
                continue
            nets = frozenset((a.net, b.net))
            if nets not in seen:
                seen.add(nets)
                yield a, b


def neighbouring(part: Part) -> Iterator[tuple[Pin, Pin]]:
    """Pins that follow one another on a part of three or more and are on different nets, one pair per pair of nets."""
    seen: set[frozenset[str]] = set()
    for a, b in pairwise(part.pins if len(part.pins) > 2 else ()):
        if a.net is None or b.net is None or a.net == b.net or frozenset((a.net, b.net)) in seen:
            continue
        seen.add(frozenset((a.net, b.net)))
        yield a, b


def shorted(part: Part, first: str, second: str, label: str, share: float) -> Iterator[FaultMode]:
    """Short and leak between the pins of two roles, sharing `share` three to one."""
    for a, b in pair(part, first, second):
        yield FaultMode(Mode.SHORT, (a.number, b.number), label, 0.75 * share)
        yield FaultMode(Mode.LEAK, (a.number, b.number), label, 0.25 * share)
