"""Opening a rail: what is offered, what it is expected to show, and where nothing comes apart."""

import math
from dataclasses import replace

import pytest
from tests.small_board import ENTRY, small_board, two

from ohmwright.circuit import Board, BoardState
from ohmwright.devices import METAL
from ohmwright.diagnosis.diagnose import diagnose
from ohmwright.facts import Facts, Quantity, Reading
from ohmwright.planning import TestKind as Kind
from ohmwright.planning.candidates import path_nets
from ohmwright.planning.foresight import expect_all, foresee
from ohmwright.planning.scene import Scene, scene_of
from ohmwright.planning.splitting import split_tests, splits
from ohmwright.planning.wording import as_test
from ohmwright.planning.worth import repairs_of, weigh_all

SHORT = tuple(
    Reading(quantity, *ends, value)
    for net in ("SW", "V33")
    for quantity, ends, value in ((Quantity.DIODE, ("GND", net), 0.006), (Quantity.OHMS, (net, "GND"), 6.0))
)
"""Six ohms on both sides of the coil."""


def scene(board: Board, readings: tuple[Reading, ...] = SHORT, state: BoardState | None = None) -> Scene:
    facts = Facts(readings=readings, entries=ENTRY)
    return scene_of(diagnose(board, facts if state is None else replace(facts, state=state))[0])


def test_the_coil_between_two_sides_that_read_alike_is_offered_with_both_readings() -> None:
    one = scene(small_board())
    (split,) = splits(one)
    assert split.parts == ("L1",)
    assert set(split.nets) == {"SW", "V33"}
    assert all(net in side for net, side in zip(split.nets, split.sides, strict=True))
    mass = path_nets(one.posterior)
    assert split.shares == pytest.approx(tuple(sum(mass.get(net, 0.0) for net in side) for side in split.sides))
    ((candidate, readings),) = split_tests(one)
    assert [step.act for step in candidate.steps if step.act != "discharge"] == ["take off", "read", "read"]
    assert all(reading.state.off == {"L1"} for reading in readings)
    assert not any(step.red.startswith("L1.") for step in candidate.steps if step.act == "read")


def test_a_side_that_was_not_read_before_is_read_first() -> None:
    one = scene(small_board(), SHORT[2:])
    ((candidate, _),) = split_tests(one)
    acts = [step.act for step in candidate.steps if step.act != "discharge"]
    assert acts == ["read", "take off", "read", "read"]


def test_parts_side_by_side_come_off_together_and_a_way_around_is_no_split() -> None:
    board = small_board()
    beside = replace(board, parts=(*board.parts, two("L2", "coil", "SW", "V33")))
    (split,) = splits(scene(beside))
    assert split.parts == ("L1", "L2")
    nets = (*board.nets, replace(board.nets[0], name="AROUND"))
    around = (two("L2", "ferrite", "SW", "AROUND"), two("L3", "ferrite", "AROUND", "V33"))
    assert splits(scene(replace(board, nets=nets, parts=(*board.parts, *around)))) == []


def test_where_all_belief_is_on_one_side_nothing_is_opened() -> None:
    """A rail behind a switch that reads low by itself: nothing of little resistance joins it to another."""
    low = (Reading(Quantity.DIODE, "GND", "VSW", 0.006), Reading(Quantity.OHMS, "VSW", "GND", 6.0))
    assert splits(scene(small_board(), low)) == []


def test_both_sides_are_expected_to_read_what_the_circuit_without_the_coil_would() -> None:
    """With the coil off, a path of six ohms shows on its own side and not on the other (Ohm's law, as no other part
    joins the sides by less than a kilohm)."""
    one = scene(small_board())
    view = foresee(one.posterior)
    ((_, readings),) = split_tests(one)
    (split,) = splits(one)
    expected = expect_all(view, readings)
    seen = set()
    for k, example in enumerate(view.examples):
        if len(example.faults) != 1 or "GND" not in example.faults[0].nets or example.faults[0].kind.value != "path":
            continue
        on = next((s for s, side in enumerate(split.sides) if side & set(example.faults[0].nets)), None)
        if on is None or view.belief.probabilities[k] < 0.02:
            continue
        seen.add(on)
        shown = [float(e.line.probe.unscaled(float(e.mean[k]))) for e in expected]
        assert shown[on] == pytest.approx(6.0, rel=0.5)
        assert shown[1 - on] > 100.0
    assert seen == {0, 1}


def test_opening_tells_more_than_any_reading_left_and_is_worth_its_minutes() -> None:
    one = scene(small_board(), SHORT[1::2])  # in ohms; diode mode is left to be read
    view = foresee(one.posterior)
    weighed = weigh_all(one, view, repairs_of(one, view))
    split = next(w for w in weighed if w.candidate.kind is Kind.SPLIT)
    cold = [w for w in weighed if w.candidate.reading is not None and w.candidate.feed is None]
    assert cold
    assert split.offer.bits > max(w.offer.bits for w in cold)
    assert split.offer.bits <= math.log2(split.outcomes.shape[1])
    shares = splits(one)[0].shares
    assert split.offer.bits >= 0.5 * -sum(s * math.log2(s) for s in (shares[0], 1.0 - shares[0]))
    told = as_test(one, view, split.candidate, None, split.outcomes, split.offer.bits, split.offer.saves)
    assert "hot work" in {caution.code for caution in told.cautions}
    assert sum(outcome.probability for outcome in told.outcomes) == pytest.approx(1.0, abs=0.03)
    assert {"SW stays as it is, V33 comes up", "V33 stays as it is, SW comes up"} <= {o.words for o in told.outcomes}


def test_a_part_that_is_off_already_is_not_taken_off_again() -> None:
    board = small_board()
    state = BoardState(off=frozenset({"L1"}))
    readings = tuple(replace(reading, state=state) for reading in SHORT)
    assert all("L1" not in split.parts for split in splits(scene(board, readings, state)))


def test_only_parts_of_little_resistance_pass() -> None:
    assert "resistor" not in METAL
    assert {"coil", "ferrite", "fuse"} <= METAL
