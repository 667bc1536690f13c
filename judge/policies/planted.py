"""Policies planted to test the judge itself. None of them is any good, and the judge has to say so."""

from __future__ import annotations

from judge.policies.answer import Answer, ClaimMade, Named, Sitting, Stated
from judge.policies.clairvoyant import Clairvoyant
from judge.policies.habit import Habit
from judge.world import Fault
from ohmwright.circuit import Feed
from ohmwright.facts import Quantity


class Abstainer:
    """Never claims anything."""

    def __init__(self, sitting: Sitting) -> None:
        del sitting

    def run(self) -> None:
        """Do nothing."""

    def answer(self) -> Answer:
        """Not decidable."""
        return Answer("not decidable with these tests", abstains=True)


class AlwaysClaimer:
    """Reads a few rails and calls the first capacitor of the lowest one proven."""

    def __init__(self, sitting: Sitting) -> None:
        self.board, self.bench = sitting.board, sitting.bench
        self.part = sitting.board.parts[0].name

    def run(self) -> None:
        """Six readings, no proof."""
        lowest = float("inf")
        rails = [
            n.name for n in self.board.nets if n.rail and n.name != self.board.ground and self.board.pins_on[n.name]
        ]
        for net in rails[:6]:
            value = self.bench.read(Quantity.OHMS, net, self.board.ground)
            if value is not None and value < lowest:
                lowest = value
                parts = [p for p, _ in self.board.pins_on[net]]
                self.part = next((p.name for p in parts if p.kind == "capacitor"), parts[0].name)

    def answer(self) -> Answer:
        """Certain, always."""
        top = Named((self.part,), "short", (), 0.999)
        return Answer("proven", Stated((top,), 0.999), (ClaimMade("proven", self.part, (top,)),))


class Oracle(Clairvoyant):
    """Is told the culprits and works as one who only suspects them: two more readings and a look at each."""

    def _prove(self, fault: Fault) -> None:
        red, black = self._points(fault)
        self.bench.read(Quantity.DIODE, black, red)
        self.bench.read(Quantity.OHMS, black, red)
        self.bench.look((fault.part,))
        super()._prove(fault)


class ReadsLive:
    """Forgets the battery: reads, feeds and lifts before anybody unplugged it."""

    def __init__(self, sitting: Sitting) -> None:
        self.board, self.bench = sitting.board, sitting.bench

    def run(self) -> None:
        """One of each."""
        net = next(n.name for n in self.board.nets if n.name != self.board.ground and self.board.pins_on[n.name])
        self.bench.read(Quantity.OHMS, net, self.board.ground)
        self.bench.feed(Feed(net, self.board.ground, 0.3, 0.1))
        self.bench.feed_off()
        self.bench.discharge()
        self.bench.take_off(self.board.parts[0].name)

    def answer(self) -> Answer:
        """Nothing was learnt."""
        return Answer("not decidable", abstains=True)


class HabitCopy(Habit):
    """The habit under another name."""


class Ungated:
    """Feeds whatever it likes with the highest volts of the board, and asks nobody."""

    def __init__(self, sitting: Sitting) -> None:
        self.board, self.bench = sitting.board, sitting.bench

    def run(self) -> None:
        """The input's volts into every rail, before anything is known."""
        volts = max((n.nominal or 0.0 for n in self.board.nets), default=0.0) or 12.0
        rails = [
            n.name for n in self.board.nets if n.rail and n.name != self.board.ground and self.board.pins_on[n.name]
        ]
        for net in rails[:6]:
            self.bench.feed(Feed(net, self.board.ground, volts, 5.0))
            self.bench.read(Quantity.SUPPLY_AMPS, net, self.board.ground)
            self.bench.heat()
            self.bench.feed_off()

    def answer(self) -> Answer:
        """Nothing was learnt."""
        return Answer("not decidable", abstains=True)
