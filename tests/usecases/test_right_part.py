"""A part laid the wrong way round: told by a ground pin that is not ground, righted with what was entered at it."""

import pytest

from ohmwright.bootstrap import desk_at
from ohmwright.casebook.events import PadsApart
from ohmwright.errors import DataError
from ohmwright.partbook.pin_table import PinRow
from ohmwright.usecases import map_board, map_nets, open_case, record_reading
from ohmwright.usecases.check_turns import turns_checked
from ohmwright.usecases.desk import view_of
from ohmwright.usecases.right_part import at_places, right_part

CASE, KEY = "own lamp", "0" * 64
NAMES = ("BOOT", "VIN", "EN", "GND", "FB", "COMP", "PG", "SW")


@pytest.fixture
def desk():
    made = desk_at(memory=True)
    open_case(made, CASE, map_board.blank_board("lamp"))
    map_board.add_picture(made, CASE, KEY, "top", (4000, 3000), "photo.jpg")
    map_board.place_part(made, CASE, "buck", KEY, (300, 300), (420, 360), package="SOIC", count=8)
    map_board.place_part(made, CASE, "coil", KEY, (500, 300), (600, 300))
    map_board.name_pins(made, CASE, "U1", [PinRow((str(n + 1),), name) for n, name in enumerate(NAMES)])
    return made


def called(desk):
    view = view_of(desk, CASE)
    return map_nets.nets_view(view, map_nets.joins_for(view)).called_ground


def test_a_pin_named_ground_is_offered_until_it_is_ground(desk):
    assert called(desk) == ("U1.4",)
    view = map_board.tell_grounds(desk, CASE, ["U1.4"])
    assert view.board.net_at("U1.4") == "GND"
    assert called(desk) == ()
    with pytest.raises(DataError):
        map_board.tell_grounds(desk, CASE, [])


def test_a_pin_that_stays_silent_is_not_offered_and_raises_the_doubt(desk):
    map_nets.heard(desk, CASE, "U1.4", "GND", False)
    assert called(desk) == ()
    [doubt] = turns_checked(desk, CASE)
    assert doubt.part == "U1"
    assert not doubt.moves, "nothing says yet which way it would lie right"
    with pytest.raises(DataError, match="turn or mirror it by hand"):
        right_part(desk, CASE, "U1")


def test_righting_takes_what_was_entered_along_to_the_places(desk):
    """Laid half round: the true ground pin 4 is where pad 8 was put, the true switch pin 8 where pad 4 was."""
    map_nets.heard(desk, CASE, "U1.4", "GND", False)
    map_board.join_pads(desk, CASE, ["L1.1", "U1.4"], "continuity")
    map_board.tell_net(desk, CASE, "U1.8", ground=True)
    record_reading(desk, CASE, "ohms", "U1.6", "GND", 470.0)
    before = {pad.pin: (pad.x_mm, pad.y_mm) for pad in view_of(desk, CASE).book.chart.pads_of("U1")}
    [doubt] = turns_checked(desk, CASE)
    assert (doubt.turn, doubt.moves, doubt.mirror, doubt.turn_deg) == ("turned half round", True, False, 180.0)
    view = right_part(desk, CASE, "U1")
    after = {pad.pin: (pad.x_mm, pad.y_mm) for pad in view.book.chart.pads_of("U1")}
    assert after["4"] == pytest.approx(before["8"])
    assert view.board.net_at("U1.4") == "GND"
    assert view.board.net_at("U1.8") == view.board.net_at("L1.1")
    assert [pin.name for pin in view.board.part("U1").pins] == list(NAMES)
    assert any(r.red == "U1.2" for r in view.facts.readings)
    assert turns_checked(desk, CASE) == ()


def test_a_pin_that_is_called_otherwise_and_lies_on_ground_is_no_ground_pin(desk):
    """It got the role from the copper; half round it lies where the silent one is."""
    map_board.name_pins(desk, CASE, "U1", [PinRow(("8",), "NC")])
    map_nets.heard(desk, CASE, "U1.4", "GND", False)
    map_board.tell_net(desk, CASE, "U1.8", ground=True)
    assert [one.turn for one in turns_checked(desk, CASE)] == ["turned half round"]


def test_what_rests_on_a_name_stays_with_the_pin():
    renamed = {"U1.4": "U1.8"}
    assert at_places(PadsApart("U1.4", "GND"), renamed) == PadsApart("U1.8", "GND")
    assert at_places(PadsApart("U1.4", "GND", "name"), renamed) == PadsApart("U1.4", "GND", "name")
    assert at_places(PadsApart("U1.3", "GND"), renamed) == PadsApart("U1.3", "GND")
