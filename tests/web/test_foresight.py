"""Thinking ahead: what was made is used for the very same facts, and nothing waits for thoughts about others."""

import threading
import time
from types import SimpleNamespace

from ohmwright.usecases.capture import Sample
from ohmwright.usecases.plan_round import Stop
from ohmwright.web.foresight import Foresight
from ohmwright.web.round_desk import LONG, SOON, RoundDesk


class Mind:
    """Thinks about letters; each thought waits for its own leave."""

    def __init__(self) -> None:
        self.leave: dict[str, threading.Event] = {}
        self.done: list[str] = []

    def __call__(self, about: str) -> str:
        assert self.leave.setdefault(about, threading.Event()).wait(10)
        self.done.append(about)
        return f"of {about}"

    def let(self, about: str) -> None:
        self.leave.setdefault(about, threading.Event()).set()


def soon(true) -> None:
    end = time.monotonic() + 5
    while not true():
        assert time.monotonic() < end
        time.sleep(0.005)


def test_a_thought_made_ahead_is_used_though_others_came_after_it():
    mind, earnest = Mind(), Mind()
    foresight = Foresight(earnest, mind)
    foresight.begin("a")
    soon(lambda: "a" in mind.leave)  # it is under way; until then a newer one takes its place
    foresight.begin("b")
    mind.let("a")
    soon(lambda: mind.done == ["a"])
    assert foresight.think("a") == "of a"  # b is still being thought about
    assert foresight.used == 1
    mind.let("b")
    assert foresight.think("b") == "of b"
    assert foresight.think("a") == "of a"
    assert earnest.done == []


def test_what_is_asked_for_meanwhile_is_waited_for_and_made_once():
    mind, earnest = Mind(), Mind()
    foresight = Foresight(earnest, mind)
    foresight.begin("a")
    soon(lambda: "a" in mind.leave)  # it is under way; until then a newer one takes its place
    found: list[str] = []
    asking = threading.Thread(target=lambda: found.append(foresight.think("a")))
    asking.start()
    time.sleep(0.05)
    assert found == []
    mind.let("a")
    asking.join(5)
    assert found == ["of a"]
    assert mind.done == ["a"]
    assert earnest.done == []


def test_what_only_waited_its_turn_is_thought_in_earnest_at_once():
    mind, earnest = Mind(), Mind()
    foresight = Foresight(earnest, mind)
    foresight.begin("a")
    soon(lambda: "a" in mind.leave)  # it is under way; until then a newer one takes its place
    foresight.begin("b")
    earnest.let("b")
    assert foresight.think("b") == "of b"
    assert earnest.done == ["b"]
    mind.let("a")
    mind.let("b")
    soon(lambda: mind.done == ["a"])
    time.sleep(0.05)
    assert mind.done == ["a"], "nobody needs it a second time"


def test_probes_on_their_way_have_no_overload_thought_about():
    """OL is thought about early only where a sound board reads it; a hand on its way shows it everywhere."""
    stop = Stop("diode", "A", "B")
    rounds = RoundDesk(SimpleNamespace(practice=None), None)
    for overload, needed in ((0.0, LONG), (0.9, SOON)):
        rounds._bands = {stop: SimpleNamespace(overload=overload)}
        for count in (SOON - 1, SOON, LONG):
            rounds._recent = tuple(Sample(0.1 * k, None, overload=True) for k in range(count))
            assert rounds._rests_on_ol(stop) is (count >= needed)
        rounds._recent = (*rounds._recent, Sample(9.0, 0.4))
        assert not rounds._rests_on_ol(stop)
