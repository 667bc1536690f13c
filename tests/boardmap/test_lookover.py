"""Fields of a lens over a board: how many there are, in which order they come, and what counts as seen."""

import itertools
import math

import pytest

from ohmwright.boardmap.lookover import Looked, field_mm, lens_fields, row_letters, seen_at

BOARD = (0.0, 0.0, 60.0, 40.0)


def test_a_field_is_the_square_in_the_round_field_of_the_lens():
    """Field number = field of view x objective magnification (Edmund Optics, glossary, "Field Number")."""
    diameter = 22.0 / 1.0  # ten-times eyepiece, objective 1x: 10 times in all
    assert field_mm(10.0) <= diameter / math.sqrt(2)
    assert field_mm(10.0) == pytest.approx(diameter / math.sqrt(2), rel=0.02)
    assert field_mm(20.0) == pytest.approx(field_mm(10.0) / 2)


def test_fields_cover_the_board_and_follow_each_other_side_by_side():
    fields = lens_fields(BOARD, 10.0, [])
    assert [one.name for one in fields] == ["A1", "A2", "A3", "A4", "B4", "B3", "B2", "B1", "C1", "C2", "C3", "C4"]
    assert sum(one.box[2] * one.box[3] for one in fields) == pytest.approx(2400.0)
    assert all(max(one.box[2:]) <= field_mm(10.0) + 1e-9 for one in fields)
    for one, after in itertools.pairwise(fields):
        away = math.dist(one.box[:2], after.box[:2])
        assert away == pytest.approx(max(one.box[2], one.box[3]), rel=0.2)
    assert all(one.seen == 0.0 for one in fields)


def test_a_field_is_seen_at_the_strongest_that_covers_it():
    whole, corner = Looked((-1.0, -1.0, 62.0, 42.0), 1.0), Looked((0.0, 0.0, 15.0, 13.4), 20.0)
    half = Looked((15.0, 0.0, 7.0, 13.4), 40.0)
    seen = {one.name: one.seen for one in lens_fields(BOARD, 10.0, [whole, corner, half])}
    assert seen["A1"] == 20.0
    assert seen["A2"] == 1.0, "half a field at forty times is no field at forty times"
    assert seen["C4"] == 1.0


def test_two_looks_that_meet_in_a_field_cover_it_at_the_weaker_of_them():
    left, right = Looked((0.0, 0.0, 5.0, 10.0), 40.0), Looked((5.0, 0.0, 5.0, 10.0), 20.0)
    assert seen_at((0.0, 0.0, 10.0, 10.0), [left, right]) == 20.0
    assert seen_at((0.0, 0.0, 10.0, 10.0), [left]) == 0.0


def test_nothing_and_too_much_are_borne():
    assert lens_fields((0.0, 0.0, 0.0, 10.0), 10.0, []) == ()
    assert len(lens_fields((0.0, 0.0, 500.0, 500.0), 1000.0, [])) <= 1300
    assert [row_letters(n) for n in (0, 25, 26, 27, 701, 702)] == ["A", "Z", "AA", "AB", "ZZ", "AAA"]
