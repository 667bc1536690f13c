"""A chip laid the wrong way round is told by ground pins that are not ground, or by a twin that reads otherwise."""

import pytest

from ohmwright.boardmap.orientation import orientation_doubts, ways_round
from ohmwright.circuit import Board, Net, Part, Pin

NAMES = ("BOOT", "VIN", "EN", "GND", "FB", "COMP", "PG", "SW")


def chip(name, nets, names=NAMES):
    return Part(name, "ic", tuple(Pin(str(i + 1), n, "", names[i]) for i, n in enumerate(nets)), package="SOIC-8")


def board(*parts):
    return Board("b", "GND", (Net("GND"), Net("V5", rail=True, nominal=5.0), Net("N")), parts)


def on_board(order):
    """Nets of the pads as they come when the chip is laid so that pad i has the copper of pin order[i]."""
    true = [None, "V5", None, "GND", None, None, None, "N"]
    return [true[k] for k in order]


def test_a_chip_that_lies_right_raises_no_doubt():
    assert orientation_doubts(board(chip("U1", on_board(range(8)))), {}) == ()


@pytest.mark.parametrize("way", list(ways_round(8)))
def test_a_chip_laid_the_wrong_way_is_told_by_a_reading(way):
    """The wrong pad called ground reads 400 ohm; the true one is on ground."""
    back = [ways_round(8)[way].index(i) for i in range(8)]
    laid = chip("U1", on_board(back))
    found = orientation_doubts(board(laid), {"U1.4": 400.0})
    assert [doubt.part for doubt in found] == ["U1"]
    assert "U1.4" in found[0].words
    assert found[0].turn == way


def test_pins_are_counted_around_whatever_order_they_were_laid_in():
    """A land pattern may list its rows one after the other: 1 2 3 4, then 8 7 6 5."""
    back = [ways_round(8)["turned half round"].index(i) for i in range(8)]
    laid = chip("U1", on_board(back))
    shuffled = Part("U1", "ic", (*laid.pins[:4], *laid.pins[:3:-1]), package="SOIC-8")
    found = orientation_doubts(board(shuffled), {"U1.4": 400.0})
    assert found[0].turn == "turned half round"


def test_a_rail_under_a_ground_pin_is_a_doubt_even_where_no_turn_explains_it():
    found = orientation_doubts(board(chip("U1", [None, None, None, "V5", None, None, None, None])), {})
    assert found[0].turn == ""
    assert "should be ground" in found[0].words


def test_twins_that_read_alike_only_turned_are_told():
    plain = ("",) * 8
    ohms = (120.0, 8000.0, 33.0, 0.2, 950.0, 4.0, 71000.0, 510.0)
    order = ways_round(8)["turned half round"]
    read = {f"U1.{i + 1}": v for i, v in enumerate(ohms)} | {f"U2.{i + 1}": ohms[order[i]] for i in range(8)}
    found = orientation_doubts(board(chip("U1", [None] * 8, plain), chip("U2", [None] * 8, plain)), read)
    assert [(doubt.part, doubt.turn) for doubt in found] == [("U2", "turned half round")]
    alike = {f"{u}.{i + 1}": v * k for u, k in (("U1", 1.0), ("U2", 1.05)) for i, v in enumerate(ohms)}
    assert orientation_doubts(board(chip("U1", [None] * 8, plain), chip("U2", [None] * 8, plain)), alike) == ()
