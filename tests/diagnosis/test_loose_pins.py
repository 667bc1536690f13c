"""A pin that touches its pad no more. That a chip's pin shows a junction from ground is common practice, no source."""

from __future__ import annotations

from dataclasses import replace

from tests.small_board import ENTRY, small_board, two

from ohmwright.circuit import Board, BoardState, Net, Part, Pin
from ohmwright.diagnosis import diagnose
from ohmwright.evidence import Column, Forward, probe_of
from ohmwright.facts import Act, Deed, Facts, Quantity, Reading
from ohmwright.faults import Defect, Prior, hypotheses_of
from ohmwright.operation import wiring_of
from ohmwright.planning import work
from ohmwright.planning.scene import scene_of
from ohmwright.solver import THERMAL_VOLTAGE

LINES = ("LANE1", "LANE2", "LANE3", "LANE4")


def with_chip() -> Board:
    """The small board with a chip of four signals on its rail."""
    plain = small_board()
    pins = (Pin("1", "V33", "VDD"), Pin("2", "GND", "GND"), *(Pin(str(3 + k), n, "IO") for k, n in enumerate(LINES)))
    return replace(
        plain, parts=(*plain.parts, Part("U9", "ic", pins)), nets=(*plain.nets, *(Net(name) for name in LINES))
    )


def loose(board: Board, pin: str) -> list[Defect]:
    return [h.defects[0] for h in hypotheses_of(board, Prior()) if h.parts == ("U9",) and h.defects[0].pin == pin]


def read(board: Board, defects: tuple[Defect, ...], net: str, state: BoardState | None = None) -> float:
    reading = Reading(Quantity.DIODE, "GND", net, 0.0, state or BoardState())
    probe = probe_of(board, reading)
    found = Forward(wiring_of(board)).predict(probe, [Column(reading.state, defects)])
    return float(probe.unscaled(found.y[0]))


def test_a_loose_pin_shows_nothing_and_its_neighbours_what_they_did() -> None:
    board = with_chip()
    clean = loose(board, "4")[1]
    assert clean.joint
    assert read(board, (clean,), "LANE2") > 2.0
    assert read(board, (), "LANE2") < 0.8
    assert abs(read(board, (clean,), "LANE3") - read(board, (), "LANE3")) < 1e-6


def test_a_poor_contact_adds_what_ohms_law_says() -> None:
    """100 ohm in series with a junction at 1 mA, less what the law of the junction takes back at that current."""
    board = with_chip()
    coarse = next(d for d in loose(board, "4") if d.severity is not None and d.severity.low < 10.0)
    assert coarse.severity is not None
    added = read(board, (coarse,), "LANE2") - read(board, (), "LANE2")
    assert 0.4 * coarse.severity.median * 6e-4 < added < 2.5 * coarse.severity.median * 6e-4 + THERMAL_VOLTAGE


def test_the_pin_to_ground_cuts_off_all_the_others() -> None:
    board = with_chip()
    clean = loose(board, "2")[1]
    assert clean.nets[0] == "GND"
    assert clean.nets[1] != "GND"
    assert read(board, (clean,), "LANE2") > 1.5 * read(board, (), "LANE2")


def test_power_pins_with_a_second_pad_have_no_such_fault() -> None:
    board = with_chip()
    pins = (*board.part("U9").pins, Pin("9", "V33", "VDD"))
    twice = replace(board, parts=tuple(replace(p, pins=pins) if p.name == "U9" else p for p in board.parts))
    assert loose(board, "1")
    assert not loose(twice, "1")
    assert not loose(twice, "9")


def test_the_pin_that_shows_nothing_is_suspected_and_reflowed() -> None:
    board = with_chip()
    readings = tuple(
        Reading(Quantity.DIODE, "GND", net, None if net == "LANE2" else 0.6, key=f"e{k}")
        for k, net in enumerate(("LANE1", "LANE2", "LANE3", "LANE4"))
    )
    facts = Facts(readings=readings, entries=ENTRY)
    posterior, found = diagnose(board, facts)
    assert found.suspects[0].part == "U9"
    assert "pin 4" in found.suspects[0].words
    chip = work.Spot("U9", "GND", "LANE2", Quantity.DIODE)
    (reflow,) = work.cures(scene_of(posterior), [chip], [])
    read_again = [step.quantity for step in reflow.steps if step.act == "read"]
    assert read_again == [Quantity.DIODE.value]
    assert reflow.steps[-1].act == "try"


def test_a_trial_is_judged_by_how_the_board_stood_then() -> None:
    """Two faults of which one was repaired before the trial: taking the other off later asks for no third."""
    plain = small_board()
    board = replace(
        plain, parts=(*plain.parts, two("R9", "resistor", "V33", "TP9", 1e3)), nets=(*plain.nets, Net("TP9"))
    )
    repaired = BoardState(replaced=frozenset({"C3"}))
    both = BoardState(replaced=frozenset({"C3"}), off=frozenset({"R9"}))
    readings = (
        Reading(Quantity.OHMS, "V33", "GND", 0.4, key="e1"),
        Reading(Quantity.PART_OHMS, "C3.1", "C3.2", 0.4, BoardState(off=frozenset({"C3"})), key="e2"),
        Reading(Quantity.OHMS, "V33", "TP9", None, repaired, key="e3"),
        Reading(Quantity.PART_OHMS, "R9.1", "R9.2", None, both, key="e4"),
    )
    acts = (
        Act(Deed.REPLACED, "C3", "a1", 3, repaired),
        Act(Deed.STILL_DEAD, "", "a2", 4, repaired),
        Act(Deed.TOOK_OFF, "R9", "a3", 6, both),
    )
    posterior, found = diagnose(board, Facts(readings=readings, acts=acts, entries=ENTRY, state=both))
    assert found.suspects[0].part == "C3+R9"
    assert max(len(h.defects) for h in posterior.hypotheses) == 2
