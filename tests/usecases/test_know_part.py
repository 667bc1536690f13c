"""On a board drawn from its photo: a chip of unknown make is looked up, and the engine then sees into it."""

from __future__ import annotations

import pytest

from ohmwright.bootstrap import case_as_json, case_from_file, desk_at
from ohmwright.errors import DataError, UnknownNameError
from ohmwright.usecases import map_board, open_case, undo, view_of
from ohmwright.usecases.know_part import know_part, tell_look
from ohmwright.usecases.part_book import opened_up
from ohmwright.usecases.pasted_pins import PinRow
from ohmwright.usecases.typical_circuit import typical_circuit

CASE = "own lamp"
KEY = "0" * 64
NAMES = {"1": "VIN", "2": "SW", "3": "GND", "4": "BST", "5": "FB"}


@pytest.fixture
def desk():
    """A plain chip of eight pins, a coil, a capacitor at the output, and an unmarked part from pin 4 to the coil."""
    made = desk_at(memory=True)
    open_case(made, CASE, map_board.blank_board("lamp"))
    map_board.add_picture(made, CASE, KEY, "top", (4000, 3000), "photo.jpg")
    map_board.place_part(made, CASE, "ic", KEY, (300, 300), (420, 360), package="DFN", count=8)
    map_board.place_part(made, CASE, "coil", KEY, (500, 300), (600, 300))
    map_board.place_part(made, CASE, "capacitor", KEY, (500, 400), (540, 400), value="22u")
    map_board.place_part(made, CASE, "unknown-two-pads", KEY, (460, 380), (480, 380))
    for pads in (["U1.2", "L1.1"], ["L1.2", "C1.1"], ["U1.4", "X1.1"], ["X1.2", "L1.1"]):
        map_board.join_pads(made, CASE, pads, "continuity")
    for pad in ("C1.2", "U1.3"):
        map_board.tell_net(made, CASE, pad, ground=True)
    map_board.tell_net(made, CASE, "C1.1", "V12", nominal=1.2)
    map_board.tell_net(made, CASE, "U1.1", "VIN5", nominal=5.0)
    return made


ROWS = [PinRow((number,), name) for number, name in NAMES.items()]


def test_a_chip_looked_up_is_opened_for_the_engine_and_an_undo_closes_it(desk) -> None:
    before = view_of(desk, CASE).board
    assert opened_up(before).part("U1").kind == "ic"
    assert "buck" not in [family["name"] for family in typical_circuit(before, "U1")["families"]]
    view = know_part(desk, CASE, "U1", ROWS, "QX77", "made up.pdf, page 3")
    part = view.board.part("U1")
    assert (part.marking, part.source) == ("QX77", "made up.pdf, page 3")
    assert {pin.number: pin.name for pin in part.pins if pin.name} == NAMES
    known = opened_up(view.board)
    assert known.part("U1").kind == "buck"
    assert dict(known.part("X1").could_be)["capacitor"] > 0.9
    told = next(p for p in typical_circuit(view.board, "U1")["parts"] if p["part"] == "X1")
    assert told["role"] == "boot capacitor"
    # Moved on the picture, it stays what it is.
    moved = map_board.move_part(desk, CASE, "U1", 0.1, 0.0, 0.0).board.part("U1")
    assert (moved.marking, moved.source) == (part.marking, part.source)
    saved = case_from_file(case_as_json(view_of(desk, CASE))).board.part("U1")
    assert saved.marking == "QX77"
    for _ in range(len(NAMES) + 2):
        undo(desk, CASE)
    assert opened_up(view_of(desk, CASE).board).part("U1").kind == "ic"


def test_a_look_goes_on_record_and_an_unknown_one_is_refused(desk) -> None:
    know_part(desk, CASE, "U1", ROWS, "QX77", "made up.pdf, page 3")
    plain = dict(opened_up(view_of(desk, CASE).board).part("X1").could_be)
    view = tell_look(desk, CASE, "X1", "black-printed")
    assert view.board.part("X1").look == "black-printed"
    assert dict(opened_up(view.board).part("X1").could_be)["resistor"] > plain["resistor"]
    with pytest.raises(UnknownNameError, match="shiny"):
        tell_look(desk, CASE, "X1", "shiny")
    with pytest.raises(DataError):
        know_part(desk, CASE, "U1", [PinRow(("99",), "VIN")], "QX77", "here")
