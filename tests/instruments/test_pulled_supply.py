"""The plug pulled while the program writes to a supply: its output is known, or said not to be, and the abort goes on.

The supply here speaks SCPI over a real socket to the guard, which is a process of its own; the plug is pulled at one
word of the talk, before the supply acted on it or after it did and before it answered.
"""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from tests.instruments.paper_supply import Pull, supplies
from tests.small_board import small_board

from ohmwright.bootstrap import desk_at
from ohmwright.casebook.events import EntryDescribed
from ohmwright.circuit import Feed
from ohmwright.errors import InstrumentError, OutputUnknownError
from ohmwright.instruments import feed_guard
from ohmwright.instruments.feed_guard import FeedGuard, journal_seen
from ohmwright.safety import Permit
from ohmwright.safety.stopping import StopRules
from ohmwright.usecases.desk import book_of, record
from ohmwright.usecases.guarded_feed import held_feed, label_of, left_behind, put_on_record, switch_on
from ohmwright.usecases.open_case import open_case

ROOT = Path(__file__).resolve().parents[2]
FEED, RULES = Feed("3V3", "GND", 1.0, 1.0), StopRules(1.0, 1.0)
WORDS = ("OUTP OFF", "VOLT 1", "CURR 1", "VOLT?", "CURR?", "OUTP ON", "MEAS:VOLT?", "MEAS:CURR?")


@pytest.fixture
def pulled():
    with supplies() as make:
        yield lambda word, *, acted, back: make(pull=Pull(word, acted, back))


def fed(guard: FeedGuard) -> tuple[str, bool]:
    """How a feed ended, and whether the output was then said to be off."""
    try:
        guard.on(Permit(FEED), RULES)
    except OutputUnknownError:
        return "unknown", False
    except InstrumentError:
        return "did not go on", True
    for number, look in enumerate(guard.watched()):
        last = look
        if number == 8:
            guard.ask_off()
    guard.off()
    return last.stop.rule, last.off


@pytest.mark.parametrize("acted", [False, True])
@pytest.mark.parametrize("word", WORDS)
def test_a_cable_that_comes_back_leaves_the_output_off(pulled, word, acted):
    supply = pulled(word, acted=acted, back=0.3)
    ended, said_off = fed(FeedGuard(supply.address))
    assert supply.cut
    if ended not in ("did not go on", "silence"):
        # Switching off before switching on was taken up again by itself, and the feed went its way.
        assert (word, ended) == ("OUTP OFF", "told to")
    assert said_off
    assert not supply.on


@pytest.mark.parametrize("word", ["VOLT 1", "OUTP ON", "MEAS:VOLT?"])
def test_a_cable_that_stays_off_is_said_to_leave_the_output_unknown(pulled, word, monkeypatch):
    monkeypatch.setattr(feed_guard, "FAREWELL", 0.2)
    supply = pulled(word, acted=True, back=float("inf"))
    guard = FeedGuard(supply.address)
    if word == "MEAS:VOLT?":
        guard.on(Permit(FEED), RULES)
        last = next(look for look in guard.watched() if look.stop is not None)
        assert (last.stop.rule, last.off) == ("silence", False)
    else:
        with pytest.raises(OutputUnknownError, match="MAY BE ON") as caught:
            guard.on(Permit(FEED), RULES)
        assert "by hand" in caught.value.hint
    guard.off()
    assert len(feed_guard.STILL_TRYING) == 1, "the abort goes on, whoever asked for it"
    process = feed_guard.STILL_TRYING.pop()
    assert process.poll() is None
    process.kill()  # it would go on for two minutes
    process.wait()


def bench(tmp_path: Path):
    desk = desk_at(tmp_path / "cases.sqlite")
    board = small_board()
    open_case(desk, "lamp", board)
    net = board.entries[0] if board.entries else next(n.name for n in board.nets if n.rail and n.name != board.ground)
    record(desk, "lamp", EntryDescribed(net, 5.0, True, True))
    return desk, held_feed(desk, "lamp", net, None, 1, 5.0)


class Lost:
    """A guard whose supply is gone in the middle of switching on."""

    def __init__(self, error: InstrumentError) -> None:
        self.error, self.ended = error, 0

    def on(self, permit, rules, sweep=()) -> None:
        raise self.error

    def off(self) -> None:
        self.ended += 1


def test_the_case_says_fed_until_somebody_has_seen_that_it_is_off(tmp_path):
    desk, feed = bench(tmp_path)
    with pytest.raises(OutputUnknownError):
        switch_on(desk, "lamp", feed, Lost(OutputUnknownError("?")))
    assert book_of(desk_at(tmp_path / "cases.sqlite"), "lamp").facts.state.feed == feed.feed


def test_the_case_says_off_where_the_supply_did(tmp_path):
    desk, feed = bench(tmp_path)
    with pytest.raises(InstrumentError):
        switch_on(desk, "lamp", feed, Lost(InstrumentError("?")))
    assert book_of(desk_at(tmp_path / "cases.sqlite"), "lamp").facts.state.feed is None


PROGRAM = """
import sys
from pathlib import Path
from tests.instruments.test_pulled_supply import bench
from ohmwright.instruments.feed_guard import FeedGuard
from ohmwright.usecases.guarded_feed import label_of, switch_on
folder = Path(sys.argv[1])
desk, feed = bench(folder)
guard = FeedGuard(sys.argv[2], "", folder / "journal", label_of("lamp", feed))
print("begins", flush=True)
switch_on(desk, "lamp", feed, guard)
for look in guard.watched():
    pass
"""


@pytest.mark.slow
@pytest.mark.parametrize("word", ["VOLT ", "OUTP ON", "MEAS:VOLT?"])
def test_killed_and_unplugged_while_it_writes_nothing_acknowledged_is_lost(tmp_path, pulled, word):
    """kill -9 to the program at the very word at which the cable comes off; the guard finds the supply again."""
    supply = pulled(word, acted=True, back=0.3)
    environment = {**os.environ, "PYTHONPATH": f"{ROOT / 'src'}{os.pathsep}{ROOT}"}
    program = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, str(tmp_path), supply.address], stdout=subprocess.PIPE, text=True,
        env=environment,
    )  # fmt: skip
    try:
        assert program.stdout.readline().strip() == "begins"
        assert supply.reached.wait(30)
        program.send_signal(signal.SIGKILL)
        program.wait(10)
    finally:
        program.stdout.close()
    end = time.monotonic() + 15
    journal = tmp_path / "journal"
    while time.monotonic() < end and '"off": true' not in (journal.read_text() if journal.exists() else ""):
        time.sleep(0.05)
    assert not supply.on
    desk = desk_at(tmp_path / "cases.sqlite")
    feed = book_of(desk, "lamp").facts.state.feed
    assert feed is not None, "on record before it was on: the case must not say off where nobody saw it"
    assert len(book_of(desk, "lamp").facts.entries) == 1
    left = left_behind(desk, "lamp", journal_seen(journal))
    if left is not None:  # the guard saw how it ended: the next start puts that on record
        put_on_record(desk, "lamp", left)
        assert book_of(desk, "lamp").facts.state.feed is None


__all__ = ["bench", "label_of"]
