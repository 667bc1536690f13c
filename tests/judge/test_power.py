"""Fed boards: regulators, switches, limits, and where the power goes."""

from __future__ import annotations

import pytest
from judge.bench import Bench
from judge.boards import PLANS, board_of
from judge.cases import exams
from judge.world import Conductor, Drive, Fault, World
from tests.judge.hand_made import case, part, resistor, world

from ohmwright.circuit import Feed
from ohmwright.facts import HeatFinding, Quantity


def _linear(load: float, *, limit: float = 0.5) -> World:
    drive = Drive("1", "3", 0.05, 3.5, 3.3, limit)
    regulator = part("U1", "linear", "A GND OUT", roles="IN GND OUT", drives=(drive,))
    return world([regulator, resistor("R1", "OUT", "GND", load)], rails="A OUT")


def _volts(bench: Bench, net: str) -> float:
    value = bench.true_reading(Quantity.VOLTS, net, "GND")
    assert value is not None
    return value


def test_a_linear_regulator_hands_its_current_through() -> None:
    bench = Bench(case(_linear(33.0)))
    bench.feed(Feed("A", "GND", 5.0, 1.0))
    out = 3.3 * 33.0 / 33.05
    assert _volts(bench, "OUT") == pytest.approx(out, rel=2e-3)
    assert bench.true_reading(Quantity.SUPPLY_AMPS, "A", "GND") == pytest.approx(out / 33.0, rel=0.02)
    # What it burns is the drop across it times the current.
    assert bench._fed().watts["U1"] == pytest.approx((5.0 - out) * 0.1, rel=0.05)


def test_a_regulator_below_its_least_volts_stays_off() -> None:
    bench = Bench(case(_linear(33.0)))
    bench.feed(Feed("A", "GND", 3.0, 1.0))
    assert abs(_volts(bench, "OUT")) < 1e-3


def test_an_overloaded_regulator_gives_up_and_never_overshoots() -> None:
    bench = Bench(case(_linear(1.0)))
    bench.feed(Feed("A", "GND", 5.0, 3.0))
    assert _volts(bench, "OUT") < 0.5
    assert "U1" in bench._fed().given_up


def test_a_switching_regulator_keeps_the_power() -> None:
    drive = Drive("1", "2", 0.01, 6.0, 1.0, 5.0, 0.9)
    chip = part("U1", "buck", "A SW GND", roles="VIN SW GND", drives=(drive,))
    coil = part("L1", "coil", "SW OUT", Conductor("winding", "R", "1", "2", 0.01))
    board = world([chip, coil, resistor("R1", "OUT", "GND", 1.0)], rails="A OUT", volts=12.0, rating=15.0)
    bench = Bench(case(board))
    bench.feed(Feed("A", "GND", 12.0, 1.0))
    out = 1.0 / 1.02
    assert _volts(bench, "OUT") == pytest.approx(out, rel=0.01)
    taken = bench.true_reading(Quantity.SUPPLY_AMPS, "A", "GND")
    # P_in = P at the switch node / 0.9, and 2 mA of its own.
    assert taken == pytest.approx(out * (out * 1.01) / 0.9 / 12.0 + 2e-3, rel=0.02)


@pytest.mark.parametrize(("top", "volts"), [(20e3, 1.8), (24e3, 2.04)])
def test_the_divider_sets_the_output(top: float, volts: float) -> None:
    # Vout = Vref (1 + Rtop/Rbottom), Vref 0.6 V, bottom 10 kΩ: textbook relation.
    drive = Drive("1", "3", 0.01, 2.5, 1.8, 2.0, 0.9, feedback="4", reference=0.6)
    chip = part("U1", "buck", "A GND OUT FB", roles="VIN GND SW FB", drives=(drive,))
    divider = [resistor("R1", "OUT", "FB", top), resistor("R2", "FB", "GND", 10e3)]
    bench = Bench(case(world([chip, *divider], rails="A OUT")))
    bench.feed(Feed("A", "GND", 5.0, 1.0))
    assert _volts(bench, "OUT") == pytest.approx(volts, rel=0.01)


def test_a_runaway_divider_latches_the_regulator_off() -> None:
    drive = Drive("1", "3", 0.01, 2.5, 1.8, 2.0, 0.9, feedback="4", reference=0.6)
    chip = part("U1", "buck", "A GND OUT FB", roles="VIN GND SW FB", drives=(drive,))
    divider = [resistor("R1", "OUT", "FB", 60e3), resistor("R2", "FB", "GND", 10e3)]
    bench = Bench(case(world([chip, *divider], rails="A OUT")))
    bench.feed(Feed("A", "GND", 5.0, 1.0))
    assert _volts(bench, "OUT") < 0.1


def test_a_switch_with_gate_and_source_joined_stays_open() -> None:
    drive = Drive("1", "3", 0.01, 2.0, gate="2")
    fet = part("Q1", "fet-p", "A G OUT", roles="source gate drain", drives=(drive,))
    board = world([fet, resistor("R1", "OUT", "GND", 100.0), resistor("R2", "G", "GND", 1e5)], rails="A OUT")
    sound, broken = Bench(case(board)), Bench(case(board, Fault("short", "Q1", "1", "2", 1.0)))
    for bench in (sound, broken):
        bench.feed(Feed("A", "GND", 5.0, 1.0))
    assert _volts(sound, "OUT") == pytest.approx(5.0, rel=0.01)
    assert abs(_volts(broken, "OUT")) < 0.01


@pytest.mark.parametrize("family", sorted(PLANS))
def test_a_sound_board_comes_up_and_the_power_balances(family: str) -> None:
    board = board_of(family, "up", (15, 150))
    bench = Bench(case(board, seed=f"up {family}"))
    entry, volts = board.entries[0], board.entry_volts[0]
    bench.entry(entry)
    bench.feed(Feed(entry, board.ground, volts, 4.0))
    fed = bench._fed()
    assert not bench.violations
    assert not fed.given_up
    low = [
        net.name
        for net in board.nets
        if net.nominal
        and not net.name.startswith(("VBAT", "BAT_CONN"))  # no pack is connected
        and not 0.85 * net.nominal < fed.volts.get(net.name, 0.0) < 1.1 * net.nominal
    ]
    assert not low
    at_pads = fed.volts[entry] * fed.amps
    assert sum(fed.watts.values()) == pytest.approx(at_pads, rel=0.03)


def test_a_hot_short_is_found_where_it_is_and_the_coil_warms_with_it() -> None:
    exam = next(exams("industrial", 1, "warm", nets=(45, 60), hiding=0.0, fault="none"))
    board = exam.case.world
    rail = next(net.name for net in board.nets if net.name == "V5")
    victim = next(p for p in board.parts if p.kind == "capacitor" and set(p.nets) == {rail, board.ground})
    hot = Fault("short", victim.name, "1", "2", 0.3)
    bench = Bench(case(board, hot, seed="warm"))
    bench.feed(Feed(rail, board.ground, 1.0, 2.0))
    finding, parts = bench.heat()
    assert finding is not HeatFinding.NOTHING
    assert victim.name in parts
    from judge.thermal import Warmth

    rises = Warmth(board).rises({victim.name: 1.0})
    assert max(rises, key=lambda name: rises[name]) == victim.name
    coil = next(p for p in board.parts if p.kind == "coil" and rail in p.nets)
    beyond = next(net for net in coil.nets if net != rail)
    chip = next(p for p in board.parts if p.kind == "buck" and beyond in p.nets)
    cold = sorted(rises.values())[len(rises) // 2]
    assert rises[coil.name] > cold
    assert rises[chip.name] > cold


def test_a_converter_that_the_supply_cannot_feed_gives_up_instead_of_hunting() -> None:
    # 5 W wanted at the output, 12 V 0.1 A offered: 1.2 W at most.
    drive = Drive("1", "2", 0.01, 6.0, 5.0, 5.0, 0.9)
    chip = part("U1", "buck", "A OUT GND", roles="VIN SW GND", drives=(drive,))
    board = world([chip, resistor("R1", "OUT", "GND", 5.0)], rails="A OUT", volts=12.0, rating=15.0)
    bench = Bench(case(board))
    bench.feed(Feed("A", "GND", 12.0, 0.1))
    fed = bench._fed()
    assert "U1" in fed.given_up
    assert fed.amps <= 0.1 * 1.001
    assert fed.terminal <= 12.0 * 1.001
    assert sum(fed.watts.values()) == pytest.approx(fed.amps * fed.volts["A"], abs=0.02)
