"""The bench: persistent errors, hands, and every rule of safety counted from true ratings."""

from __future__ import annotations

import statistics
from dataclasses import replace

import pytest
from judge.bench import PAD_DAMAGE, Bench
from judge.bench_port import BenchPort
from judge.cases import exams
from judge.maps import map_of
from judge.world import Conductor, Fault, TruePart, World
from tests.judge.hand_made import case, part, resistor, world

from ohmwright.bootstrap import desk_at
from ohmwright.casebook.events import FeedSet, HeatRecorded
from ohmwright.circuit import Feed
from ohmwright.facts import HeatFinding, LookFinding, Quantity
from ohmwright.planning.advice import Step
from ohmwright.safety.permit import Permit
from ohmwright.usecases.desk import record
from ohmwright.usecases.open_case import open_case
from ohmwright.usecases.run_test import run_step


def _board(*more: TruePart, rating: float = 6.0) -> World:
    load = part("U1", "ic", "A GND", Conductor("load 1", "R", "1", "2", 200.0), roles="VDD GND")
    insulation = Conductor("insulation", "R", "1", "2", 1e9)
    caps = [part(f"C{k}", "capacitor", "A GND", insulation) for k in (1, 2)]
    return world([load, *caps, *more], rating=rating)


SHORT = Fault("short", "C1", "1", "2", 2.0)


def test_two_benches_of_one_case_read_alike_touch_by_touch() -> None:
    one, other = Bench(case(_board(), SHORT)), Bench(case(_board(), SHORT))
    other.read(Quantity.DIODE, "A", "GND")  # what else was asked before does not matter
    first = [one.read(Quantity.OHMS, "A", "GND") for _ in range(5)]
    assert first == [other.read(Quantity.OHMS, "A", "GND") for _ in range(5)]
    assert len(set(first)) > 1  # each touch has a contact of its own
    assert Bench(case(_board(), SHORT, seed="another")).read(Quantity.OHMS, "A", "GND") is not None


def test_shown_values_scatter_about_the_true_one_as_the_bench_says() -> None:
    gaps = []
    for k in range(120):
        bench = Bench(case(_board(), seed=f"noise {k}"))
        true = bench.true_reading(Quantity.OHMS, "A", "GND")
        shown = bench.read(Quantity.OHMS, "A", "GND")
        assert true is not None
        assert shown is not None
        leads = bench.meter.lead_resistance
        gaps.append((shown - leads - true) / bench.read_sd(Quantity.OHMS, true))
    assert abs(statistics.fmean(gaps)) < 0.5
    assert 0.4 < statistics.pstdev(gaps) < 1.8


def test_off_the_board_the_fault_goes_and_comes_back_with_the_same_part() -> None:
    bench = Bench(case(_board(), SHORT))
    before = bench.true_reading(Quantity.OHMS, "A", "GND")
    bench.take_off("C1")
    assert bench.true_reading(Quantity.OHMS, "A", "GND") == pytest.approx(200.0, rel=1e-3)
    assert bench.remaining == ()
    bench.refit("C1")
    assert bench.true_reading(Quantity.OHMS, "A", "GND") == pytest.approx(before, rel=1e-6)
    bench.replace("C1")
    assert bench.true_reading(Quantity.OHMS, "A", "GND") == pytest.approx(200.0, rel=1e-3)
    assert bench.try_board()


def test_a_chip_takes_its_own_load_with_it() -> None:
    bench = Bench(case(_board(), Fault("leak", "C1", "1", "2", 1000.0)))
    bench.take_off("U1")
    assert bench.true_reading(Quantity.OHMS, "A", "GND") == pytest.approx(1000.0, rel=1e-3)
    assert not bench.try_board()


def test_a_reading_of_an_earlier_state_and_of_other_faults_can_be_asked_for() -> None:
    bench = Bench(case(_board(), SHORT))
    earlier = bench.state
    bench.take_off("C1")
    assert bench.true_reading(Quantity.OHMS, "A", "GND", state=earlier) == pytest.approx(2.0 * 200.0 / 202.0, rel=1e-3)
    suspect = (Fault("short", "C2", "1", "2", 4.0),)
    assert bench.true_reading(Quantity.OHMS, "A", "GND", suspect) == pytest.approx(4.0 * 200.0 / 204.0, rel=1e-3)


def test_dirt_stays_when_the_part_goes_and_goes_when_cleaned() -> None:
    bench = Bench(case(_board(), Fault("dirt", "C1", "1", "2", 300.0, seen="corrosion")))
    bench.take_off("C1")
    assert bench.true_reading(Quantity.OHMS, "A", "GND") == pytest.approx(120.0, rel=1e-3)
    bench.replace("C1")
    assert bench.remaining
    bench.clean("C1")
    assert bench.true_reading(Quantity.OHMS, "A", "GND") == pytest.approx(200.0, rel=1e-3)
    assert bench.try_board()


def test_a_bad_joint_is_cured_by_reflow_and_not_by_cleaning() -> None:
    bench = Bench(case(_board(), Fault("joint", "U1", "1", "1", 5000.0)))
    assert bench.true_reading(Quantity.OHMS, "A", "GND") == pytest.approx(5200.0, rel=1e-3)
    bench.clean("U1")
    assert bench.remaining
    bench.reflow("U1")
    assert bench.true_reading(Quantity.OHMS, "A", "GND") == pytest.approx(200.0, rel=1e-3)


def test_pads_tear_as_often_as_stated_and_the_board_then_stays_dead() -> None:
    torn = 0
    for k in range(2000):
        bench = Bench(case(_board(), seed=f"pad {k}"))
        bench.take_off("U1")
        torn += bool(bench.damaged)
        if bench.damaged and torn < 4:
            bench.replace("U1")
            assert bench.true_reading(Quantity.OHMS, "A", "GND") is None
            assert not bench.try_board()
    share = PAD_DAMAGE["passive"]  # two pins
    assert abs(torn / 2000 - share) < 5.0 * (share / 2000) ** 0.5


def test_what_the_eye_sees_does_not_change_by_looking_again() -> None:
    cracked = Fault("short", "C1", "1", "2", 2.0, seen="crack")
    found = 0
    for k in range(200):
        bench = Bench(case(_board(), cracked, seed=f"eye {k}"))
        first = bench.look(("C1", "C2"))
        assert all(bench.look(("C1", "C2")) == first for _ in range(3))
        assert Bench(case(_board(), cracked, seed=f"eye {k}")).look(("C1", "C2")) == first
        found += first == (LookFinding.CRACK, ("C1",))
    assert 90 < found < 150  # NOTICED["crack"] is 0.6: five standard deviations are 35


def test_heat_errs_the_same_way_again_and_a_cold_board_shows_nothing() -> None:
    exam = next(e for e in exams("tablet", 30, "heat", nets=(42, 60), hiding=0.0, fault="soft short"))
    bench = Bench(exam.case)
    assert bench.heat() == (HeatFinding.NOTHING, ())
    feed = Feed(exam.board.entries[0], exam.board.ground, exam.case.world.entry_volts[0], 2.0)
    bench.feed(feed)
    first = bench.heat()
    assert all(bench.heat() == first for _ in range(2))
    bench.feed_off()
    bench.feed(feed)
    assert bench.heat() == first


def test_heat_never_names_what_is_not_on_the_map() -> None:
    for exam in exams("industrial", 6, "hid", nets=(45, 60), hiding=0.7, fault="soft short"):
        bench = Bench(exam.case)
        bench.feed(Feed(exam.board.entries[0], exam.board.ground, exam.case.world.entry_volts[0], 2.0))
        finding, parts = bench.heat()
        assert not set(parts) & exam.case.hidden
        assert (finding is HeatFinding.NOTHING) == (not parts)


# Safety


def _rules(bench: Bench) -> list[str]:
    return [violation.rule for violation in bench.violations]


def test_more_than_a_net_stands_is_counted() -> None:
    bench = Bench(case(_board()))
    bench.feed(Feed("A", "GND", 5.0, 1.0))
    assert not bench.violations
    bench.feed_off()
    bench.feed(Feed("A", "GND", 9.0, 1.0))
    assert _rules(bench) == ["over rating"]
    assert not bench.try_board()


def test_a_hidden_net_behind_a_hidden_part_counts_too() -> None:
    weak = world([resistor("R1", "A", "GND", 1e3), resistor("R2", "A", "X", 1.0)], volts=3.3, rating=4.0)
    bench = Bench(case(weak, hidden=["R2"]))
    bench.feed(Feed("A", "GND", 5.0, 1.0))
    assert {v.words.split()[0] for v in bench.violations} == {"A", "X"}


def test_the_meter_on_a_live_or_charged_board_is_counted() -> None:
    bench = Bench(case(_board()))
    bench.feed(Feed("A", "GND", 5.0, 1.0))
    assert bench.read(Quantity.OHMS, "A", "GND") is None
    bench.feed_off()
    assert bench.read(Quantity.DIODE, "A", "GND") is not None
    bench.discharge()
    bench.read(Quantity.OHMS, "A", "GND")
    assert _rules(bench) == ["meter on live board", "meter on charged board"]


def test_hands_on_a_live_board_are_counted() -> None:
    bench = Bench(case(_board()))
    bench.feed(Feed("A", "GND", 5.0, 1.0))
    bench.take_off("C1")
    bench.discharge()
    bench.clean("A")
    assert _rules(bench) == ["hands on live board"] * 3


def test_the_wrong_way_round_over_sixty_volts_and_too_many_amperes_are_counted() -> None:
    bench = Bench(case(_board()))
    bench.feed(Feed("GND", "A", 5.0, 1.0))
    assert "wrong polarity" in _rules(bench)
    bench = Bench(case(_board(rating=100.0)))
    bench.feed(Feed("A", "GND", 61.0, 6.0))
    assert _rules(bench) == ["over 60 V", "too many amperes"]


def test_a_fault_that_carries_the_input_to_a_weak_rail_is_a_violation_of_whoever_fed_it() -> None:
    through = Fault("short", "Q1", "1", "2", 0.01)
    fet = part("Q1", "fet-n", "A X", Conductor("channel", "R", "1", "2", 1e8))
    board = world([fet, resistor("R1", "X", "GND", 100.0)], volts=12.0, rating=13.0)
    board = World(
        board.name, board.family, board.ground,
        tuple(net if net.name != "X" else type(net)("X", 1.0, 1.4, True, 2.0) for net in board.nets),
        board.parts, board.entries, board.entry_volts,
    )  # fmt: skip
    sound, broken = Bench(case(board)), Bench(case(board, through))
    for bench in (sound, broken):
        bench.feed(Feed("A", "GND", 12.0, 1.0))
    assert not sound.violations
    assert _rules(broken) == ["over rating"]


def test_volts_without_a_feed_and_unknown_names_are_errors() -> None:
    bench = Bench(case(_board()))
    with pytest.raises(ValueError, match="fed board"):
        bench.read(Quantity.VOLTS, "A", "GND")
    with pytest.raises(KeyError):
        bench.read(Quantity.OHMS, "NOWHERE", "GND")
    with pytest.raises(KeyError):
        bench.look(("C99",))
    with pytest.raises(ValueError, match="not off"):
        bench.refit("C1")


def test_what_heat_is_found_with_reaches_the_record() -> None:
    for method in ("finger", "camera"):
        bench = Bench(replace(case(_board(), SHORT), heat_method=method))
        board = map_of(bench.case.world, frozenset(), 0.0, "heat")
        desk, port = desk_at(memory=True), BenchPort(bench)
        open_case(desk, "case", board)
        record(desk, "case", FeedSet(Feed("A", "GND", 0.5, 1.0)))
        bench.feed(Feed("A", "GND", 0.5, 1.0))
        for quantity in ("supply volts", "supply amps"):
            run_step(desk, "case", Step("read", quantity, "A", "GND"), port)
        (kept,) = run_step(desk, "case", Step("heat"), port)
        assert isinstance(kept, HeatRecorded)
        assert kept.method == method


def test_a_battery_left_in_counts_until_it_is_unplugged() -> None:
    charger = part("U2", "charger", "A GND B", Conductor("through", "R", "1", "3", 1e6), roles="VIN GND BAT")
    bench = Bench(case(_board(charger), SHORT))
    assert bench.case.world.cells == ("B",)
    assert bench.read(Quantity.OHMS, "A", "GND") is None
    bench.feed(Feed("A", "GND", 0.5, 1.0))
    bench.feed_off()
    bench.discharge()
    bench.take_off("C2")
    bench.clean("C1")
    assert [v.rule for v in bench.violations] == ["battery left in"] * 4
    bench.entry("A")
    assert bench.read(Quantity.OHMS, "A", "GND") is not None
    bench.refit("C2")
    assert len(bench.violations) == 4
    assert Bench(case(_board(), SHORT)).cell_in is False


def test_the_port_speaks_the_words_of_the_program() -> None:
    port = BenchPort(Bench(case(_board(), SHORT)))
    assert port.read("ohms", "A", "GND") == pytest.approx(2.0, abs=1.5)
    assert port.look(("C2",))[0] == ("C2",)
    port.feed(Permit(Feed("A", "GND", 0.5, 1.0)))
    assert port.read("supply amps", "A", "GND") == pytest.approx(0.24, abs=0.05)
    port.feed_off()
    port.discharge()
    port.take_off("C1")
    port.replace("C1")
    assert port.tried()
    assert port.entry("A") == (5.0, True, True)
