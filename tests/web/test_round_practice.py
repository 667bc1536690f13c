"""A round on the practice bench in process: values are shown at once, advice follows, refused points are read again."""

import threading
import time
from dataclasses import replace

import pytest

from ohmwright.bootstrap import desk_at, practice_bench
from ohmwright.casebook.events import EntryDescribed
from ohmwright.errors import InstrumentError
from ohmwright.usecases import open_case
from ohmwright.usecases.capture import Sample
from ohmwright.usecases.desk import record
from ohmwright.web.round_desk import RoundDesk, RoundOrder
from ohmwright.web.session import CaseSession


@pytest.fixture
def at_work(tmp_path):
    """A session whose thinking can be held up, and a round on it."""
    desk = desk_at(tmp_path / "cases.sqlite")
    held, think = threading.Event(), desk.engine.think
    held.set()

    def thinking(*known):
        assert held.wait(60)
        return think(*known)

    desk = replace(desk, engine=replace(desk.engine, think=thinking))
    bench = practice_bench("logger", "logger-driver-down", 5)
    open_case(desk, "round", bench.board)
    record(desk, "round", EntryDescribed("V5IN", 5.0, True, True))
    session = CaseSession(desk, "round", bench)
    rounds = RoundDesk(session, desk)
    listening = threading.Thread(target=rounds.listen, daemon=True)
    listening.start()
    yield session, rounds, held
    held.set()
    rounds.close()
    listening.join(10)
    session.close()


def until(true, seconds: float = 30.0) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end
        time.sleep(0.02)


def readings(session) -> int:
    return sum(line["reading"] for line in session.state()["known"])


def test_the_value_is_shown_while_its_advice_is_worked_out(at_work):
    session, rounds, held = at_work
    until(lambda: not session.state()["thinking"])
    rounds.obey(RoundOrder(act="begin", quantity="diode"))
    held.clear()
    until(lambda: readings(session) == 1)
    state = session.state()
    assert state["thinking"]
    assert state["advice"] is not None, "what was advised before stays in sight"
    until(lambda: readings(session) == 2)  # the hands go on meanwhile
    held.set()
    until(lambda: not session.state()["thinking"])


def test_points_that_read_alike_do_not_hold_a_round_up(at_work):
    """The rails of this bench read alike from ground: the second touch is refused as the same hand, then done again."""
    session, rounds, _ = at_work
    words: list[str] = []
    rounds.say = lambda word: words.append(word.get("words", ""))
    until(lambda: not session.state()["thinking"])
    rounds._practice_sample = alike(rounds, rounds._practice_sample)
    rounds.obey(RoundOrder(act="begin", quantity="diode"))
    until(lambda: readings(session) >= 2)
    assert any("the same value again" in text for text in words)


def alike(rounds, sample):
    """Every point of the bench reads the same."""

    def found(now):
        one = sample(now)
        return one if one.overload else replace(one, value=0.351)

    return found


class Scripted:
    """A meter that shows one thing after the other; "pulled" is a cable out, "back" one that came back in between."""

    def __init__(self, model, *shown) -> None:
        self.model, self.outages, self._shown, self.through = model, 0, list(shown), threading.Event()

    def sample(self, quantity, at):
        now = self._shown.pop(0) if len(self._shown) > 1 else self._shown[0]
        if len(self._shown) == 1:
            self.through.set()
        if now == "pulled":
            self.outages += 1
            raise InstrumentError("The instrument does not answer.")
        if now == "back":
            self.outages += 1
            now = 0.5
        return Sample(at, now, overload=now is None, step=1e-3)

    def close(self) -> None:
        """Nothing to end."""


@pytest.mark.parametrize("trouble", [["pulled", "pulled"], ["back"]])
def test_nothing_is_taken_across_a_pulled_cable(at_work, trouble):
    """What the probes did while nobody saw may be another pad: they have to come off first. Then nothing is lost."""
    session, rounds, _ = at_work
    until(lambda: not session.state()["thinking"])
    first = Scripted(session.practice.meter, *[None] * 5, *[0.5] * 3, *trouble, *[0.5] * 12)
    rounds._meter = first
    rounds.obey(RoundOrder(act="begin", quantity="diode"))
    assert first.through.wait(20)
    time.sleep(1.2)
    assert readings(session) == 0
    assert rounds.plain()["phase"] == "lift"
    rounds._meter = Scripted(session.practice.meter, *[None] * 6, *[0.6] * 60)
    until(lambda: readings(session) == 1)
    assert "0.6 V" in rounds.plain()["done"][0]["text"] or "600 mV" in rounds.plain()["done"][0]["text"]
