"""A board as far as it is known: its nets, its parts, and what is not known of them.

Nothing here says what is wrong with the board, and nothing is ever changed in place: a changed board
is a new value. Knowledge may be thin. A part may be "two pads, kind unknown", a pin may be on a net
nobody has named, and a net may carry pads that no part on the map explains.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from ohmwright.errors import DataError, UnknownNameError


@dataclass(frozen=True, slots=True)
class Spread:
    """A positive quantity that is known only roughly: lognormal about a median.

    Parameters
    ----------
    median : float
        The middle value, in SI units of the quantity.
    log_sd : float
        Standard deviation of its natural logarithm. [1] 0.01 is about one percent.
    source : str
        Where the numbers come from: a marking, a datasheet page, a habit of the trade.
    """

    median: float
    log_sd: float = 0.01
    source: str = ""

    def __post_init__(self) -> None:
        if not (self.median >= 0.0 and self.log_sd >= 0.0):
            raise DataError(
                f"A spread of median {self.median} and log sd {self.log_sd} makes no sense.",
                hint="give a median of zero or more and a spread of zero or more",
            )


@dataclass(frozen=True, slots=True)
class Rating:
    """The most a pin or a part stands. Voltages are in volts against ground, currents in amperes."""

    volts: float | None = None
    amps: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a part sits: board millimetres of its centre, seen from the top, x right and y down."""

    x_mm: float
    y_mm: float
    side: str = "top"
    width_mm: float = 1.0
    height_mm: float = 0.5
    angle_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Pin:
    """One terminal of a part.

    Parameters
    ----------
    number : str
        As in the datasheet or on the footprint: ``1``, ``A7``.
    role : str
        What it does, in the words of `ohmwright.devices` for the part's kind: ``VIN``, ``SW``, ``GND``,
        ``anode``. Empty where a part's terminals are alike.
    net : str or None
        Name of its net; None while nobody knows.
    name : str
        The name printed in the datasheet, which may differ from the role.
    """

    number: str
    net: str | None = None
    role: str = ""
    name: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """One thing soldered to the board.

    Parameters
    ----------
    name : str
        Reference on the board, or the user's own name for it.
    kind : str
        A key of `ohmwright.devices.KINDS`: ``capacitor``, ``resistor``, ``buck`` and so on.
    value : Spread or None
        Ohms, farads, henries or volts, as the kind wants it; None where not known.
    could_be : tuple of (str, float)
        For the kind ``unknown-two-pads``: kinds with weights.
    weight : float
        Multiplies the prior of its failing. [1]
    look : str
        How it looks, in the words of `ohmwright.partbook.seen.LOOKS`; empty where nobody said.
    """

    name: str
    kind: str
    pins: tuple[Pin, ...]
    value: Spread | None = None
    package: str = ""
    rating: Rating = Rating()
    place: Place | None = None
    marking: str = ""
    could_be: tuple[tuple[str, float], ...] = ()
    parameters: tuple[tuple[str, Spread], ...] = ()
    weight: float = 1.0
    source: str = ""
    look: str = ""

    def pin(self, number: str) -> Pin:
        """The pin of that number, else of that role or name."""
        for pin in self.pins:
            if pin.number == number:
                return pin
        for pin in self.pins:
            if number in (pin.role, pin.name) and number:
                return pin
        raise UnknownNameError.among(f"pin of {self.name}", number, [p.number for p in self.pins])

    def pins_of_role(self, role: str) -> tuple[Pin, ...]:
        """All its pins with that role."""
        return tuple(pin for pin in self.pins if pin.role == role)

    @property
    def nets(self) -> tuple[str, ...]:
        """The nets it touches, each once, in pin order."""
        return tuple(dict.fromkeys(pin.net for pin in self.pins if pin.net is not None))

    def parameter(self, name: str, default: Spread) -> Spread:
        """A named property such as ``on_resistance``, else the default."""
        return dict(self.parameters).get(name, default)


@dataclass(frozen=True, slots=True)
class Net:
    """A piece of copper.

    Parameters
    ----------
    name : str
        Unique on the board.
    nominal : float or None
        Volts when all is well; None where not known. [V]
    rated : float or None
        The most that anything on it stands, where someone knows. [V]
    rail : bool
        Whether it feeds parts, as against carrying a signal.
    unexplained_pads : int
        Pads seen on it that no part of the map explains. [1]
    """

    name: str
    nominal: float | None = None
    rated: float | None = None
    rail: bool = False
    unexplained_pads: int = 0
    source: str = ""


@dataclass(frozen=True)
class Board:
    """Everything known of one kind of board, whole and healthy.

    Parameters
    ----------
    ground : str
        Name of the reference net.
    nets : tuple of Net
    parts : tuple of Part
    entries : tuple of str
        Nets where power comes in, first the usual one.
    unmapped_share : float
        Share of the board's parts that are not on the map, as far as anyone can say. [1]
    """

    name: str
    ground: str
    nets: tuple[Net, ...]
    parts: tuple[Part, ...]
    entries: tuple[str, ...] = ()
    unmapped_share: float = 0.02
    notes: tuple[str, ...] = field(default=(), compare=False)

    def __hash__(self) -> int:
        return self._hash

    @cached_property
    def _hash(self) -> int:
        """Computed once: boards are keys of everything that is kept between questions."""
        return hash((self.name, self.ground, self.nets, self.parts, self.entries, self.unmapped_share))

    def __post_init__(self) -> None:
        names = [net.name for net in self.nets]
        _refuse_twice("net", names)
        _refuse_twice("part", [part.name for part in self.parts])
        known = set(names)
        if self.ground not in known:
            raise UnknownNameError.among("net", self.ground, known, where="the board's ground")
        for entry in self.entries:
            if entry not in known:
                raise UnknownNameError.among("net", entry, known, where="the board's power entries")
        # Pin by pin and not by `part.nets`: a map that is drawn makes a board with every edit.
        for part in self.parts:
            for pin in part.pins:
                if pin.net is not None and pin.net not in known:
                    raise UnknownNameError.among("net", pin.net, known, where=f"part {part.name}")

    @cached_property
    def part_by_name(self) -> Mapping[str, Part]:
        """Parts by their reference."""
        return {part.name: part for part in self.parts}

    @cached_property
    def net_by_name(self) -> Mapping[str, Net]:
        """Nets by name."""
        return {net.name: net for net in self.nets}

    @cached_property
    def pins_on(self) -> Mapping[str, tuple[tuple[Part, Pin], ...]]:
        """For each net the (part, pin) pairs on it."""
        found: dict[str, list[tuple[Part, Pin]]] = defaultdict(list)
        for part in self.parts:
            for pin in part.pins:
                if pin.net is not None:
                    found[pin.net].append((part, pin))
        return {net.name: tuple(found[net.name]) for net in self.nets}

    def part(self, name: str) -> Part:
        """The part of that reference, or a clear error."""
        try:
            return self.part_by_name[name]
        except KeyError:
            raise UnknownNameError.among("part", name, self.part_by_name) from None

    def net(self, name: str) -> Net:
        """The net of that name, or a clear error."""
        try:
            return self.net_by_name[name]
        except KeyError:
            raise UnknownNameError.among("net", name, self.net_by_name) from None

    def net_at(self, point: str) -> str:
        """The net of a point written as a net's name or as ``PART.PIN``.

        >>> # board.net_at("U3.5"); board.net_at("VSYS")
        """
        if point in self.net_by_name:
            return point
        name, dot, number = point.rpartition(".")
        if dot and name in self.part_by_name:
            net = self.part_by_name[name].pin(number).net
            if net is None:
                raise DataError(
                    f"Nobody has said yet which net {point} is on.",
                    hint="join the pad to a net first, or measure at a pad that is on one",
                )
            return net
        known = [*self.net_by_name, *(f"{p.name}.{n.number}" for p in self.parts for n in p.pins)]
        raise UnknownNameError.among("net or pad", point, known)

    def with_part(self, part: Part) -> Board:
        """This board with a part added, or put in place of the one of that name."""
        kept = tuple(part if old.name == part.name else old for old in self.parts)
        return replace(self, parts=kept if part.name in self.part_by_name else (*self.parts, part))

    def with_parts(self, parts: Iterable[Part]) -> Board:
        """This board with parts put in place of those of their names; none is added."""
        new = {part.name: part for part in parts}
        return replace(self, parts=tuple(new.get(old.name, old) for old in self.parts)) if new else self

    def __iter__(self) -> Iterator[Part]:
        return iter(self.parts)


def _refuse_twice(kind: str, names: list[str]) -> None:
    seen: set[str] = set()
    for name in names:
        if not name:
            raise DataError(f"A {kind} has no name.", hint="give every one a name of its own")
        if name in seen:
            raise DataError(f"Two {kind}s are called {name!r}.", hint="give each a name of its own")
        seen.add(name)
