"""The guard of a supply between processes: it switches off by rule, by order, and when the program is killed."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from tests.instruments.paper_supply import PaperSupply, shorted, supplies
from tests.page.bench import Bench

from ohmwright.bootstrap import desk_at
from ohmwright.casebook.events import EntryDescribed
from ohmwright.circuit import Feed
from ohmwright.errors import InstrumentError, RefusedError
from ohmwright.formats.board_json import read_board_json
from ohmwright.instruments.feed_guard import FeedGuard
from ohmwright.practice.choice import boards
from ohmwright.safety import Permit
from ohmwright.safety.stopping import StopRules
from ohmwright.usecases.desk import book_of, record
from ohmwright.usecases.open_case import open_case

ROOT = Path(__file__).resolve().parents[2]
FEED = Feed("3V3", "GND", 1.0, 1.0)


@pytest.fixture
def paper():
    with supplies() as make:
        yield make


def run(supply: PaperSupply, rules: StopRules, heat=None):
    guard = FeedGuard(supply.address)
    guard.on(Permit(FEED), rules)
    assert supply.on
    seen = []
    try:
        for one in guard.watched():
            seen.append(one)
            if heat is not None and len(seen) == 3:
                guard.heat(heat)
    finally:
        guard.off()
    return seen


def test_energy_is_counted_and_ends_it(paper):
    """0.1 V at 1 A is 0.1 W: 0.05 J are in after half a second, and the count is 0.1 J for every second."""
    supply = paper(shorted)
    *seen, last = run(supply, StopRules(1.0, 1.0, energy=0.05))
    assert (last.stop.rule, last.off, supply.on) == ("too much energy", True, False)
    assert last.energy == pytest.approx(0.1 * (seen[-1].sample.at - seen[0].sample.at), rel=1e-6)
    assert all(one.energy <= 0.05 for one in seen[:-1])


def test_volts_that_come_back_end_it(paper):
    def clears(on_for, supply):
        return shorted(on_for, supply) if on_for < 0.4 else (1.0, 0.01)

    supply = paper(clears)
    last = run(supply, StopRules(1.0, 1.0))[-1]
    assert (last.stop.rule, supply.on) == ("volts recovered", False)


def test_heat_ends_it(paper):
    supply = paper(shorted)
    assert run(supply, StopRules(1.0, 1.0), heat=85.0)[-1].stop.rule == "too hot"
    assert not supply.on


def test_a_supply_that_falls_silent_is_switched_off_all_the_same(paper):
    supply = paper(shorted, silent_after=0.4)
    last = run(supply, StopRules(1.0, 1.0))[-1]
    assert last.stop.rule == "silence"
    assert not supply.on


def test_a_supply_that_does_not_hold_its_setting_is_switched_off(paper):
    supply = paper(lambda on_for, s: (3.3, 0.2) if s.on else (0.0, 0.0))
    assert run(supply, StopRules(1.0, 1.0))[-1].stop.rule == "beyond the setting"
    assert not supply.on


def test_no_permit_no_output(paper):
    supply = paper(shorted)
    guard = FeedGuard(supply.address)
    with pytest.raises(RefusedError):
        guard.on(FEED, StopRules(1.0, 1.0))
    with pytest.raises(RefusedError, match="another setting"):
        guard.on(Permit(FEED), StopRules(5.0, 1.0))
    assert "OUTP ON" not in supply.said


def test_no_supply_at_the_address_is_said():
    with pytest.raises(InstrumentError, match="did not go on"):
        FeedGuard("TCPIP0::127.0.0.1::9::SOCKET").on(Permit(FEED), StopRules(1.0, 1.0))


PROGRAM = """
import sys
from ohmwright.circuit import Feed
from ohmwright.instruments.feed_guard import FeedGuard
from ohmwright.safety import Permit
from ohmwright.safety.stopping import StopRules
guard = FeedGuard(sys.argv[1])
guard.on(Permit(Feed(sys.argv[2], "GND", 0.8, 0.5)), StopRules(0.8, 0.5))
print("on", flush=True)
for seen in guard.watched():
    pass
"""


@pytest.mark.slow
def test_killing_the_program_switches_a_practice_supply_off():
    """Three processes: the practice bench, a program that feeds it, and the guard between. kill -9 to the second."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    bench, program = Bench("logger", "logger-no-core", 5, resting=False), None
    try:
        bench.do("clip", plus="SYS", minus="GND")
        words = [sys.executable, "-c", PROGRAM, bench.address("supply"), "SYS"]
        program = subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env=environment)
        assert program.stdout.readline().strip() == "on"
        assert bench.output() == "1"
        program.send_signal(signal.SIGKILL)
        program.wait(10)
        began = time.monotonic()
        while bench.output() == "1" and time.monotonic() - began < 10:
            time.sleep(0.05)
        print(f"off {time.monotonic() - began:.2f} s after the kill")
        assert bench.output() == "0"
    finally:
        if program is not None:
            program.stdout.close()
        bench.close()


@pytest.mark.slow
def test_a_planned_feed_is_held_and_put_on_record_by_the_command_line(tmp_path):
    """``ohmwright supply hold`` on the practice bench: guarded, ended by its own time, readings entered, output off."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    bench = Bench("logger", "logger-no-core", 5, resting=False)
    try:
        bench.do("clip", plus="V12", minus="GND")
        board = read_board_json(boards()["logger"])
        desk = desk_at(tmp_path / "cases.sqlite")
        open_case(desk, "bench", board)
        record(desk, "bench", EntryDescribed("V5IN", 5.0, True, True))
        order = ["supply", "hold", "V12", "--supply", bench.address("supply"), "--seconds", "0.5"]
        order += ["--cases", str(tmp_path / "cases.sqlite")]
        done = subprocess.run(
            [sys.executable, "-m", "ohmwright.cli", *order],
            capture_output=True, text=True, env=environment, timeout=120,
        )
        assert done.returncode == 0, done.stderr
        assert "off: held for 0.5 s" in done.stdout
        assert "Local rules" in done.stdout
        assert bench.output() == "0"
        facts = book_of(desk, "bench").facts
        assert {r.quantity.value for r in facts.readings} == {"supply volts", "supply amps"}
        assert facts.state.feed is None
    finally:
        bench.close()
