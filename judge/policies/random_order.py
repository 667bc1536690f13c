"""Random order: the engine's inference, but each test is drawn from all that is permitted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from judge.policies.answer import Sitting
from judge.policies.engine import CASE, EnginePolicy
from judge.world import random_of
from ohmwright.circuit import Feed
from ohmwright.facts import Quantity
from ohmwright.planning.advice import Step, Test, TestKind
from ohmwright.safety import Permit, permit

THINK_AFTER = 3
GROWTH = 1.5
"""Tests between two looks at what the engine makes of it grow like this: thinking costs seconds, not minutes. [1]"""
MOST = 120
WORTH = 0.05
"""Least belief in a part that is taken off. [1]"""


class RandomOrder(EnginePolicy):
    """Draws a kind of test, then a test of that kind."""

    def __init__(self, sitting: Sitting) -> None:
        super().__init__(sitting)
        self.random = random_of("random order", *sitting.words)
        self.looked: set[str] = set()
        self.taken: set[tuple[str, frozenset[str], frozenset[str]]] = set()
        self.held = self.view.diagnosis

    def run(self) -> None:
        """Think now and then, gates and repairs as advised, all else by chance."""
        next_thought = 0.0
        for k in range(MOST):
            if k >= next_thought:
                next_thought = max(GROWTH * k, k + THINK_AFTER)
                advice, self.held = self.thought(), self.view.diagnosis
                self._mark()
                self._say(advice)
                if advice.stop or not advice.tests:
                    self._end(advice)
                    return
                if advice.tests[0].gate or advice.tests[0].title.startswith("Fit a new"):
                    self._do(advice.tests[0])
                    next_thought = k + 1.0
                    continue
            test = self._drawn()
            # Nobody takes the same test twice on the same board.
            if test is not None and (mark := self._mark_of(test)) not in self.taken:
                self.taken.add(mark)
                self._do(test)
        self.stop = f"still going after {MOST} tests"

    def _drawn(self) -> Test | None:
        kinds: tuple[Callable[[], Test | None], ...] = (
            self._net_reading, self._net_reading, self._across, self._fed, self._look, self._removal,
        )  # fmt: skip
        return kinds[int(self.random.integers(len(kinds)))]()

    def _mark_of(self, test: Test) -> tuple[str, frozenset[str], frozenset[str]]:
        state = self.view.facts.state
        return test.title, state.off, state.replaced

    def _quiet(self) -> tuple[Step, ...]:
        facts = self.view.facts
        fed = facts.state.feed is not None
        off = (Step("feed off"),) if fed else ()
        return (*off, Step("discharge")) if fed or not facts.discharged else off

    def _pads(self, net: str) -> list[str]:
        board, off = self.view.board, self.view.facts.state.off
        return [f"{p.name}.{pin.number}" for p, pin in board.pins_on[net] if p.name not in off]

    def _net_reading(self) -> Test | None:
        board = self.view.board
        nets = [n.name for n in board.nets if n.name != board.ground and self._pads(n.name)]
        if not nets:
            return None
        pad = self._pads(nets[int(self.random.integers(len(nets)))])[0]
        if self.random.random() < 0.5:
            step = Step("read", Quantity.DIODE.value, board.ground, pad)
            return _test(TestKind.DIODE, f"diode mode at {pad}", (*self._quiet(), step))
        step = Step("read", Quantity.OHMS.value, pad, board.ground)
        return _test(TestKind.OHMS, f"ohms at {pad}", (*self._quiet(), step))

    def _across(self) -> Test | None:
        board, off = self.view.board, self.view.facts.state.off
        parts = [p for p in board.parts if len(p.nets) == 2 and board.ground not in p.nets and p.name not in off]
        if not parts:
            return None
        part = parts[int(self.random.integers(len(parts)))]
        ends = [next(f"{part.name}.{pin.number}" for pin in part.pins if pin.net == net) for net in part.nets]
        step = Step("read", Quantity.OHMS.value, ends[0], ends[1])
        return _test(TestKind.PAIR, f"ohms across {part.name}", (*self._quiet(), step))

    def _fed(self) -> Test | None:
        board = self.view.board
        rails = [n.name for n in board.nets if n.name != board.ground and n.rail]
        if not rails:
            return None
        net = rails[int(self.random.integers(len(rails)))]
        feed = Feed(net, board.ground, 0.8, 1.0)
        if not isinstance(permit(board, replace(self.view.facts, discharged=True), feed), Permit):
            return None
        reads = tuple(Step("read", q.value, net, board.ground) for q in (Quantity.SUPPLY_VOLTS, Quantity.SUPPLY_AMPS))
        steps = (*self._quiet(), Step("feed", feed=feed), *reads, Step("heat"), Step("feed off"), Step("discharge"))
        return _test(TestKind.HEAT, f"feed {net} and feel", steps)

    def _look(self) -> Test | None:
        fresh = [p.name for p in self.view.board.parts if p.name not in self.looked]
        if not fresh:
            return None
        chosen = tuple(str(name) for name in self.random.permutation(fresh)[:8])
        self.looked |= set(chosen)
        return _test(TestKind.LOOK, "look", (*self._quiet(), Step("look", parts=chosen)))

    def _removal(self) -> Test | None:
        board, off = self.view.board, self.view.facts.state.off
        worth = [
            s for s in self.held.suspects
            if s.probability >= WORTH and s.part in board.part_by_name and s.part not in off and len(s.where) == 2
        ]  # fmt: skip
        if not worth:
            return None
        suspect = worth[int(self.random.integers(len(worth)))]
        red, black = suspect.where
        if "." not in red or "." not in black or red.rpartition(".")[0] != suspect.part:
            return None
        if board.net_at(red) == board.ground:
            red, black = black, red
        return _test(
            TestKind.TAKE_OFF, f"take {suspect.part} off", (*self._quiet(), *self._pair(suspect.part, red, black))
        )

    def _pair(self, part: str, red: str, black: str) -> tuple[Step, ...]:
        """The same reading before and after, and the part by itself."""
        board = self.view.board
        points = []
        for pin in (red, black):
            net = board.net_at(pin)
            others = [pad for pad in self._pads(net) if pad.rpartition(".")[0] != part]
            points.append(net if net == board.ground or not others else others[0])
        in_place = Step("read", Quantity.OHMS.value, points[0], points[1])
        alone = Step("read", Quantity.PART_OHMS.value, red, black)
        return (in_place, Step("take off", parts=(part,)), in_place, alone)


def _test(kind: TestKind, title: str, steps: tuple[Step, ...]) -> Test:
    return Test(kind, title, "drawn", steps, 1.0, 0.0, 0.0, 0.0)


__all__ = ["CASE", "RandomOrder"]
