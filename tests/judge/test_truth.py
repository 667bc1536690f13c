"""True readings against closed forms, and the simulator against the judge's own Newton solver."""

from __future__ import annotations

import math

import numpy as np
import pytest
from judge.bench import Bench
from judge.netlist import THERMAL, Network, saturation
from judge.spice import LADDER, Simulator, simulator
from judge.world import Fault
from scipy.special import lambertw
from tests.judge.hand_made import case, diode, part, resistor, world

from judge import newton
from ohmwright.circuit import Feed
from ohmwright.facts import Quantity


def test_resistors_in_parallel_and_series_read_as_ohm_says() -> None:
    # 1/(1/1000 + 1/(300 + 700)) = 500
    board = world(
        [resistor("R1", "A", "GND", 1000.0), resistor("R2", "A", "M", 300.0), resistor("R3", "M", "GND", 700.0)]
    )
    bench = Bench(case(board))
    assert bench.true_reading(Quantity.OHMS, "A", "GND") == pytest.approx(500.0, rel=1e-5)
    assert bench.true_reading(Quantity.OHMS, "A", "M") == pytest.approx(300.0 * 1700.0 / 2000.0, rel=1e-5)


@pytest.mark.parametrize("ohms", [0.05, 3.3, 470.0, 4.7e3, 68e3, 1e6, 12e6])
def test_every_range_of_the_ohmmeter_reads_a_resistor_as_it_is(ohms: float) -> None:
    bench = Bench(case(world([resistor("R1", "A", "GND", ohms)])))
    # The simulator ties each node to ground by 1 TΩ and the tolerance of its reading is parts in a million.
    assert bench.true_reading(Quantity.OHMS, "A", "GND") == pytest.approx(ohms, rel=3e-4)


def test_diode_mode_reads_the_drop_at_the_test_current_of_this_meter() -> None:
    bench = Bench(case(world([diode("D1", "A", "GND", 0.6, 1.3)])))
    amps = bench._true_meter.acts.diode_current
    # Shockley: V = n Vt ln(I/Is + 1), Is from the drop at 1 mA.
    expected = 1.3 * THERMAL * math.log(amps / saturation(0.6, 1.3) + 1.0)
    assert bench.true_reading(Quantity.DIODE, "A", "GND") == pytest.approx(expected, abs=2e-6)
    assert bench.true_reading(Quantity.DIODE, "GND", "A") is None


def test_a_junction_beside_a_resistor_solves_the_lambert_equation() -> None:
    # I = V/R + Is (exp(V/nVt) - 1)  =>  closed form by Lambert's W.
    ohms, scale, sat = 800.0, 1.1 * THERMAL, saturation(0.55, 1.1)
    bench = Bench(case(world([diode("D1", "A", "GND", 0.55, 1.1), resistor("R1", "A", "GND", ohms)])))
    amps = bench._true_meter.acts.diode_current
    source = ohms * (amps + sat)
    expected = source - scale * lambertw(sat * ohms / scale * np.exp(source / scale)).real
    assert bench.true_reading(Quantity.DIODE, "A", "GND") == pytest.approx(float(expected), abs=2e-6)


def test_a_short_a_leak_an_open_and_a_joint_change_what_they_should() -> None:
    parts = [resistor("R1", "A", "GND", 1000.0), resistor("R2", "A", "M", 10.0), resistor("R3", "M", "GND", 90.0)]
    board = world([*parts, part("C1", "capacitor", "A GND")])

    def ohms(*faults: Fault) -> float | None:
        return Bench(case(board)).true_reading(Quantity.OHMS, "A", "GND", faults)

    whole = 1000.0 * 100.0 / 1100.0
    assert ohms() == pytest.approx(whole, rel=1e-4)
    assert ohms(Fault("short", "C1", "1", "2", 0.5)) == pytest.approx(1.0 / (1.0 / whole + 2.0), rel=1e-4)
    assert ohms(Fault("leak", "C1", "1", "2", 50.0)) == pytest.approx(1.0 / (1.0 / whole + 0.02), rel=1e-4)
    assert ohms(Fault("open", "R2", "1", "2", 1e9, "body")) == pytest.approx(1000.0, rel=1e-4)
    assert ohms(Fault("drift", "R2", "1", "2", 110.0, "body")) == pytest.approx(1000.0 * 200.0 / 1200.0, rel=1e-4)
    assert ohms(Fault("joint", "R1", "1", "1", 1000.0)) == pytest.approx(2000.0 * 100.0 / 2100.0, rel=1e-4)


def test_a_reversed_diode_conducts_the_other_way() -> None:
    board = world([diode("D1", "A", "GND", 0.6)])
    turned = (Fault("reversed", "D1", "1", "2", 0.0, "junction", wrong_part=True),)
    bench = Bench(case(board))
    assert bench.true_reading(Quantity.DIODE, "A", "GND", turned) is None
    assert bench.true_reading(Quantity.DIODE, "GND", "A", turned) == pytest.approx(0.6, abs=0.01)


def test_a_fed_divider_and_the_millivolts_along_copper() -> None:
    # 1 A through a short at the far end of a rail: the drop from pad to pad is R_copper times 1 A.
    parts = [resistor("J1", "A", "GND", 1e6), part("C1", "capacitor", "A GND"), resistor("R1", "A", "GND", 1e6)]
    board = world(parts)
    bench = Bench(case(board, Fault("short", "C1", "1", "2", 0.05)))
    bench.feed(Feed("J1.1", "GND", 1.0, 1.0))
    assert bench.true_reading(Quantity.SUPPLY_AMPS, "A", "GND") == pytest.approx(1.0, rel=1e-6)
    places = {p.name: p.place.x_mm for p in board.parts}
    length = abs(places["J1"] - places["C1"]) + 0.4
    # 0.49 mΩ per square of 35 µm copper (1.72 µΩ cm), 2 mm wide. R1 hangs on the tree and carries nothing.
    copper = 1.72e-8 / 35e-6 * length / 2e-3 * 1e-3
    across = bench.true_reading(Quantity.VOLTS, "J1.1", "C1.1")
    assert across is not None
    assert across > 0.0
    # The tree may go by way of R1: then the way is longer by its detour, never shorter than the direct one.
    assert across >= copper * 0.99
    assert across <= copper * 3.0
    assert bench.true_reading(Quantity.VOLTS, "C1.1", "GND") == pytest.approx(0.05, rel=1e-3)


def test_the_supply_regulates_below_its_limit() -> None:
    bench = Bench(case(world([resistor("R1", "A", "GND", 100.0)])))
    bench.feed(Feed("A", "GND", 5.0, 1.0))
    leads = bench._supply.leads
    # The name of a rail stands beside its first pad: a fraction of a milliohm lies between.
    assert bench.true_reading(Quantity.SUPPLY_AMPS, "A", "GND") == pytest.approx(5.0 / (100.0 + leads), rel=1e-4)
    assert bench.true_reading(Quantity.SUPPLY_VOLTS, "A", "GND") == pytest.approx(5.0, rel=1e-6)


def test_the_meters_own_resistance_pulls_on_a_weak_node() -> None:
    # 10 MΩ over 10 MΩ gives half; the meter's 10 MΩ across the lower one makes it a third.
    parts = [resistor("R1", "A", "M", 1e7), resistor("R2", "M", "GND", 1e7)]
    bench = Bench(case(world(parts, volts=3.0)))
    bench.feed(Feed("A", "GND", 3.0, 0.5))
    assert bench.true_reading(Quantity.VOLTS, "M", "GND") == pytest.approx(1.0, rel=1e-3)


def test_a_part_by_itself_is_read_with_its_own_fault_only() -> None:
    parts = [resistor("R1", "A", "GND", 50.0), diode("D1", "GND", "A", 0.5)]
    bench = Bench(case(world(parts), Fault("leak", "D1", "1", "2", 330.0), Fault("short", "R1", "1", "2", 1.0)))
    bench.take_off("D1")
    assert bench.true_reading(Quantity.PART_OHMS, "D1.2", "D1.1") == pytest.approx(330.0, rel=1e-3)
    with pytest.raises(ValueError, match="still on the board"):
        bench.read_loose("R1", "1", "2", Quantity.PART_OHMS)


def _random_network(seed: int, size: int) -> Network:
    luck = np.random.default_rng(seed)
    network = Network("g")
    for k in range(size):
        network.resist(f"n{k}", "g", float(10.0 ** luck.uniform(2, 6)))
        network.join("g", f"n{k}", float(luck.uniform(0.4, 0.7)), float(luck.uniform(1.0, 1.8)), 0.5)
        other = f"n{int(luck.integers(0, k))}" if k else "g"
        if luck.random() < 0.5:
            network.resist(f"n{k}", other, float(10.0 ** luck.uniform(-2, 5)))
        else:
            network.join(f"n{k}", other, float(luck.uniform(0.2, 0.7)), 1.1, 0.0)
    return network


@pytest.mark.parametrize("seed", range(4))
def test_the_third_solver_agrees_with_the_simulator(seed: int) -> None:
    network = _random_network(seed, 25)
    for push in (("g", "n7", 1e-3), ("n19", "n3", 1e-3)):
        one, other = simulator().volts(network, (push,)), newton.solve(network, (push,))
        # The simulator stops when no voltage and no current moves by more than a millionth: at the probe three
        # of them for both ends of a step; elsewhere 1 nA of the 1 mA may go astray, through 100 kΩ 0.1 mV.
        assert all(abs(one[node] - other[node]) < 3e-6 * abs(other[node]) + 1e-6 for node in push[:2])
        assert all(abs(one[node] - other[node]) < 1e-4 for node in one)


def test_each_rung_of_the_ladder_gives_the_same_answer() -> None:
    network = _random_network(9, 20)
    runner = Simulator()
    try:
        answers = [runner._point(network, rung, (("g", "n5", 1e-3),), ("n5",))["n5"] for rung in range(len(LADDER))]
    finally:
        runner.close()
    assert max(answers) - min(answers) < 2e-4


def test_what_no_rung_solves_goes_to_the_third_solver_and_is_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    from judge import spice

    def fails(*_: object) -> dict[str, float]:
        raise spice._Failed("planted")

    runner = Simulator()
    monkeypatch.setattr(runner, "_point", fails)
    network = Network("g", [("a", "g", 50.0)])
    assert runner.volts(network, (("g", "a", 1e-3),))["a"] == pytest.approx(0.05, rel=1e-6)
    assert len(runner.tally.leftovers) == 1
    assert runner.tally.share_left == 1.0


def test_a_dead_simulator_is_started_again() -> None:
    runner = Simulator()
    network = Network("g", [("a", "g", 50.0)])
    try:
        runner.volts(network, (("g", "a", 1e-3),))
        assert runner._child is not None
        runner._child.kill()
        runner._child.wait()
        assert runner.volts(network, (("g", "a", 2e-3),))["a"] == pytest.approx(0.1, rel=1e-6)
    finally:
        runner.close()
