"""Where an added picture is sought, in which order, and that what was found counts only while nothing was moved."""

from dataclasses import replace

import pytest

from ohmwright.bootstrap import desk_at
from ohmwright.errors import DataError
from ohmwright.geometry import similarity
from ohmwright.usecases import map_board, open_case
from ohmwright.usecases.desk import view_of
from ohmwright.usecases.seek_place import PlaceFound, others_to_try, place_sought, settle_place

CASE = "own lamp"
KEYS = {name: letter * 64 for name, letter in (("first", "a"), ("near", "b"), ("below", "c"), ("loose", "d"))}
THERE = similarity(0.01, 3.0, 7.0, 5.0)


class FakeEyes:
    """Eyes to which a picture registers only on those of `alike`."""

    def __init__(self, *alike):
        self.alike, self.tried = alike, []

    def registered(self, chart, layer, onto):
        self.tried.append(onto.name)
        if onto.name not in self.alike:
            raise DataError(f"This picture did not register: nothing in common with {onto.name}.", hint="mark points")
        return replace(layer, to_board=THERE, how=f"matched to {onto.name}, 0.02 mm off at the median")


@pytest.fixture
def desk():
    made = desk_at(memory=True)
    open_case(made, CASE, map_board.blank_board("lamp"))
    map_board.add_picture(made, CASE, KEYS["first"], "top", (4000, 3000), "first")
    return made


def added(desk, name, side):
    return map_board.add_picture(desk, CASE, KEYS[name], side, (2000, 1500), name)


def test_the_only_picture_has_nothing_to_be_laid_on(desk):
    found = place_sought(desk, CASE, FakeEyes(), KEYS["first"], "top")
    assert not found
    assert "no other picture" in found.why


def test_its_own_side_is_tried_first_and_the_other_when_that_fails(desk):
    added(desk, "loose", "bottom")
    added(desk, "below", "bottom")
    layers = {layer.name: layer for layer in view_of(desk, CASE).book.chart.layers}
    chart = view_of(desk, CASE).book.chart
    assert [one.name for one in others_to_try(chart, layers["below"])] == ["loose", "first"]
    eyes = FakeEyes("first")
    found = place_sought(desk, CASE, eyes, KEYS["below"], "bottom")
    assert isinstance(found, PlaceFound)
    assert eyes.tried == ["loose", "first"]
    assert settle_place(desk, CASE, found)
    laid = view_of(desk, CASE).book.chart.layer(KEYS["below"])
    assert laid.to_board == THERE
    assert laid.how.startswith("matched to first")


def test_what_registers_on_nothing_says_why_in_the_words_of_its_own_side(desk):
    added(desk, "below", "bottom")
    added(desk, "near", "top")
    before = view_of(desk, CASE).sequence
    found = place_sought(desk, CASE, FakeEyes(), KEYS["near"], "top")
    assert not found
    assert found.why.endswith("nothing in common with first.")
    assert found.hint == "mark points"
    assert view_of(desk, CASE).sequence == before, "seeking alone changes nothing"


def test_a_place_found_before_the_scale_was_told_is_not_taken(desk):
    added(desk, "near", "top")
    found = place_sought(desk, CASE, FakeEyes("first"), KEYS["near"], "top")
    view = map_board.set_scale(desk, CASE, KEYS["first"], (0.0, 0.0), (1000.0, 0.0), 30.0)
    assert not settle_place(desk, CASE, found)
    assert view_of(desk, CASE).sequence == view.sequence
    again = place_sought(desk, CASE, FakeEyes("first"), KEYS["near"], "top")
    assert settle_place(desk, CASE, again)
