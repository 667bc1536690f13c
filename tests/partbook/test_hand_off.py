"""With what the part book knows, the engine sees into chips of which only the pins' names were typed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from benchmarks.hand_off import faults_of, survey, told, typed

from ohmwright import bootstrap
from ohmwright.circuit import Board, Net, Part, Pin
from ohmwright.facts import Facts, Quantity, Reading
from ohmwright.formats.board_json import read_board_json
from ohmwright.partbook.informed import informed
from ohmwright.practice.choice import boards
from ohmwright.usecases.part_book import opened_up
from ohmwright.usecases.typical_circuit import seen_so_far, typical_circuit


@pytest.mark.parametrize(("fault", "least"), [("U5 IN-OUT", 0.9), ("U3 SW-GND", 0.2)])
def test_a_short_inside_a_chip_is_better_decided_with_the_hand_off(fault: str, least: float) -> None:
    """The whole set, 44 shorts inside chips, is `benchmarks/hand_off.py`; the readings come from the practice bench."""
    board = read_board_json(boards()["logger"])
    wrong = next(f for f in faults_of(board) if f.name == fault)
    facts = survey(board, wrong, 3)
    plain = typed(board)
    assert all(part.kind == "ic" for part in plain if part.name in ("U2", "U3", "U5"))
    without, given = told(plain, facts, wrong), told(opened_up(plain), facts, wrong)
    assert given.pins > without.pins + 0.15
    assert given.pins >= least


def test_the_desk_hands_the_engine_what_the_book_knows() -> None:
    plain = typed(read_board_json(boards()["logger"]))
    thought = bootstrap.desk_at(memory=True).engine.think(plain, Facts())
    inside = [s.words for s in thought.diagnosis.suspects if s.part == "U3"]
    assert any("buck regulator" in words for words in inside)


def unmarked() -> Board:
    """An invented buck with an unmarked part from boot to switch node and one from output to a connector."""
    nets = ("GND", "VIN", "SW", "BOOT", "OUT", "FB", "LINE")
    chip = Part(
        "U1", "ic", tuple(Pin(str(k), net, name=name) for k, (net, name) in enumerate(
            (("VIN", "VIN"), ("SW", "SW"), ("GND", "GND"), ("BOOT", "BST"), ("FB", "FB")), 1)),
    )  # fmt: skip
    pair = [("L1", "coil", "SW", "OUT"), ("C1", "capacitor", "OUT", "GND"), ("C2", "capacitor", "VIN", "GND"),
            ("R1", "resistor", "OUT", "FB"), ("R2", "resistor", "FB", "GND"), ("X1", "unknown-two-pads", "BOOT", "SW"),
            ("X2", "unknown-two-pads", "OUT", "LINE")]  # fmt: skip
    parts = tuple(Part(name, kind, (Pin("1", a), Pin("2", b))) for name, kind, a, b in pair)
    far = Part("J1", "connector", (Pin("1", "LINE"), Pin("2", "GND")))
    return Board("made up", "GND", tuple(Net(n, rail=n in ("VIN", "OUT")) for n in nets), (chip, *parts, far))


def test_the_unmarked_part_between_boot_and_switch_is_said_to_be_its_capacitor() -> None:
    board = unmarked()
    told = typical_circuit(board, "U1")
    x1 = next(p for p in told["parts"] if p["part"] == "X1")
    assert x1["kinds"][0][0] == "capacitor"
    assert x1["kinds"][0][1] > 0.9
    assert "between the boot pin and the switch pin" in x1["says"]
    assert "100 nF" in x1["says"]
    assert "upper switch" in x1["shorted"]
    assert "no rail is pulled to ground" in x1["shorted"]
    kinds = dict(informed(board).part("X1").could_be)
    assert kinds["capacitor"] > 0.9
    assert kinds["resistor"] >= 0.003  # what it can seldom be keeps a little until it is off
    points = {p["name"]: p for p in told["points"]}
    assert points["SW"]["pins"] == [{"number": "2", "name": "SW"}]
    assert points["OUT"]["pins"] == []  # no pin: it is behind the coil
    assert points["OUT"]["nets"] == ["OUT"]


def test_looks_go_to_the_engine_and_ohms_only_to_the_person() -> None:
    """The engine weighs readings itself: told twice they would count twice. To ground a shorted rail misleads."""
    board = unmarked()
    across = Reading(Quantity.OHMS, "OUT", "LINE", 0.3, Facts().state)
    to_ground = Reading(Quantity.OHMS, "OUT", "GND", 0.2, Facts().state)
    facts = Facts(readings=(across, to_ground))
    seen = {entry.part: entry.joined for entry in seen_so_far(board, facts)}
    assert seen == {"X2": True}
    clear = board.with_part(replace(board.part("X2"), look="black-printed"))
    before, after = dict(informed(board).part("X2").could_be), dict(informed(clear).part("X2").could_be)
    assert after["resistor"] > before["resistor"]


def test_what_somebody_said_an_unmarked_part_could_be_stays() -> None:
    board = unmarked()
    said = (("resistor", 0.9), ("link", 0.1))
    board = board.with_part(replace(board.part("X1"), could_be=said))
    assert informed(board).part("X1").could_be == said
