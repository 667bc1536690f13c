"""The bench as a policy gets it: every act is timed by the frozen costs and written down for the metrics."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from judge.costs import Costs, costs
from ohmwright.circuit import Board, BoardState, Feed
from ohmwright.facts import HeatFinding, LookFinding, Meter, Quantity


class CapReached(Exception):  # it ends a case, nothing went wrong
    """The minutes of the case are used up."""


@dataclass(frozen=True, slots=True)
class Event:
    """One thing done, with what it showed and how the board stood.

    Parameters
    ----------
    act : str
        ``read``, ``look``, ``heat``, ``take off`` and so on.
    finding : str
        What a look or a feel found; for a trial ``works`` or ``still dead``.
    minutes : float
        What it cost. [min]
    """

    act: str
    state: BoardState
    quantity: Quantity | None = None
    red: str = ""
    black: str = ""
    value: float | None = None
    parts: tuple[str, ...] = ()
    finding: str = ""
    minutes: float = 0.0


@dataclass
class Ledger:
    """A bench that counts.

    Parameters
    ----------
    bench : Bench
        Anything with the methods of `judge.bench.Bench`.
    board : Board
        The map, for the packages of parts and for what is ground.
    """

    bench: Any
    board: Board
    costs: Costs = field(default_factory=costs)
    minutes: float = 0.0
    events: list[Event] = field(default_factory=list)

    @property
    def meter(self) -> Meter:
        """What the meter claims of itself."""
        meter: Meter = self.bench.meter
        return meter

    @property
    def heat_method(self) -> str:
        """What this bench has to find heat with: ``finger`` or ``camera``."""
        return str(self.bench.heat_method)

    @property
    def state(self) -> BoardState:
        """How the board stands."""
        state: BoardState = self.bench.state
        return state

    @property
    def readings(self) -> int:
        """How many values were read. [1]"""
        return sum(event.act == "read" for event in self.events)

    def read(self, quantity: Quantity | str, red: str, black: str) -> float | None:
        """Read, at the price of one reading."""
        asked = Quantity(quantity)
        if asked in (Quantity.PART_OHMS, Quantity.PART_DIODE):
            part, _, a = red.rpartition(".")
            return self.read_loose(part, a, black.rpartition(".")[2], asked)
        pair = asked in (Quantity.OHMS, Quantity.VOLTS) and self.board.ground not in (self._net(red), self._net(black))
        self._pay(self.costs.read(asked.value, pair))
        value: float | None = self.bench.read(asked, red, black)
        self._note("read", self.costs.read(asked.value, pair), quantity=asked, red=red, black=black, value=value)
        return value

    def read_loose(self, part: str, pin_a: str, pin_b: str, quantity: Quantity | str) -> float | None:
        """Read a part by itself."""
        asked = Quantity(quantity)
        self._pay(self.costs.read(asked.value))
        value: float | None = self.bench.read_loose(part, pin_a, pin_b, asked)
        at = (f"{part}.{pin_a}", f"{part}.{pin_b}")
        self._note("read", self.costs.read(asked.value), quantity=asked, red=at[0], black=at[1], value=value)
        return value

    def look(self, parts: Iterable[str]) -> tuple[LookFinding, tuple[str, ...]]:
        """Inspect parts."""
        asked = tuple(parts)
        cost = self.costs.look(len(asked))
        self._pay(cost)
        finding, found = self.bench.look(asked)
        self._note("look", cost, parts=tuple(found), finding=str(LookFinding(finding).value))
        return LookFinding(finding), tuple(found)

    def heat(self, parts: Iterable[str] = ()) -> tuple[HeatFinding, tuple[str, ...]]:
        """Feel for heat."""
        cost = self.costs.heat(self.heat_method)
        self._pay(cost)
        finding, found = self.bench.heat(tuple(parts))
        self._note("heat", cost, parts=tuple(found), finding=str(HeatFinding(finding).value))
        return HeatFinding(finding), tuple(found)

    def feed(self, feed: Feed) -> None:
        """Switch the supply on."""
        self._pay(self.costs.flat("feed"))
        self.bench.feed(feed)
        self._note("feed", self.costs.flat("feed"), red=feed.plus, black=feed.minus)

    def feed_off(self) -> None:
        """Switch it off."""
        self._flat("feed off", self.bench.feed_off)

    def discharge(self) -> None:
        """Discharge the board."""
        self._flat("discharge", self.bench.discharge)

    def entry(self, net: str) -> tuple[float | None, bool, bool]:
        """Label volts [V], polarity measured, battery off."""
        self._pay(self.costs.flat("entry"))
        told: tuple[float | None, bool, bool] = self.bench.entry(net)
        self._note("entry", self.costs.flat("entry"), red=net)
        return told

    def take_off(self, part: str) -> None:
        """Take a part off."""
        self._at(part, "take off", self.costs.take_off(self.board.part(part)), self.bench.take_off)

    def refit(self, part: str) -> None:
        """Put the same part back."""
        self._at(part, "refit", self.costs.refit(self.board.part(part)), self.bench.refit)

    def replace(self, part: str) -> None:
        """Fit a new part; one that is still on comes off first."""
        known = self.board.part(part)
        off = part in self.state.off
        cost = self.costs.replace(known) + (0.0 if off else self.costs.take_off(known))
        self._at(part, "replace", cost, self.bench.replace)

    def clean(self, target: str) -> None:
        """Clean at a part or a net."""
        self._at(target, "clean", self.costs.flat("clean"), self.bench.clean)

    def reflow(self, part: str) -> None:
        """Melt the joints again."""
        self._at(part, "reflow", self.costs.flat("reflow"), self.bench.reflow)

    def try_board(self) -> bool:
        """Whether the board works."""
        self._pay(self.costs.flat("try"))
        works = bool(self.bench.try_board())
        self._note("try", self.costs.flat("try"), finding="works" if works else "still dead")
        return works

    @property
    def lifted(self) -> tuple[str, ...]:
        """Parts that came off, each once, in order."""
        acts = ("take off", "replace")
        return tuple(dict.fromkeys(part for event in self.events if event.act in acts for part in event.parts))

    @property
    def violations(self) -> tuple[Any, ...]:
        """What hurt people or boards."""
        return tuple(self.bench.violations)

    def _net(self, point: str) -> str:
        return self.board.net_at(point)

    def _flat(self, act: str, do: Any) -> None:
        self._pay(self.costs.flat(act))
        do()
        self._note(act, self.costs.flat(act))

    def _at(self, part: str, act: str, cost: float, do: Any) -> None:
        self._pay(cost)
        do(part)
        self._note(act, cost, parts=(part,))

    def _pay(self, minutes: float) -> None:
        if self.minutes + minutes > self.costs.cap:
            self.minutes = self.costs.cap
            raise CapReached(f"{self.costs.cap:g} minutes are used up")
        self.minutes += minutes

    def _note(self, act: str, minutes: float, **more: Any) -> None:
        self.events.append(Event(act, self.state, minutes=minutes, **more))
