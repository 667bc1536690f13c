"""Two pads of no known size found about clicks that miss; where the picture leaves it open, that is said."""

import numpy as np
import pytest
from tests.pictures.made_boards import made_board

from ohmwright.geometry import land_pattern, pad_centres, part_pattern, similarity, similarity_from_pairs
from ohmwright.pictures.pairs import Found, away, pair_found, shapes
from ohmwright.pictures.render import ScanRequest, board_picture
from ohmwright.pictures.sheets import Sheet

ENDS = [(-0.5, 0.0), (0.5, 0.0)]
PX = 600 / 25.4


def ends(on):
    return np.array([on.at(*end) for end in ENDS])


@pytest.fixture(scope="module")
def case():
    """Small parts of a board of known geometry, and where they lie on its picture."""
    board = made_board(57, width=40.0, height=30.0, large=3, small=14)
    scan = board_picture(board, ScanRequest(dots_per_inch=600))
    sheet = Sheet.whole(np.ascontiguousarray(scan.pixels[..., ::-1]))
    parts = [part for part in board if len(part_pattern(part).lands) == 2]
    return sheet, [
        np.array([scan.view.pixels(np.array([[pad.x_mm, pad.y_mm]]))[0] for pad in pad_centres(part)]) for part in parts
    ]


def test_pads_lie_on_the_true_ones(case):
    """Clicks off by sd 0.3 mm along both axes, neither size nor scale known."""
    sheet, parts = case
    random = np.random.default_rng(8)
    before, after, silent = [], [], 0
    for truth in parts:
        clicks = truth + random.normal(0, 0.3 * PX, (2, 2))
        clicked = similarity_from_pairs(ENDS, [tuple(at) for at in clicks])
        snap = pair_found(sheet, clicked)
        unit = np.hypot(*(truth[0] - truth[1]))
        off = np.hypot(*(ends(snap.on_picture) - truth).T) / unit
        before += list(np.hypot(*(clicks - truth).T) / unit)
        after += list(off)
        silent += bool(off.max() > 0.2 and not snap.doubt)
    assert np.median(after) < 0.1
    assert np.median(before) > 2 * np.median(after)
    assert silent <= 1


def test_where_nothing_is_the_pads_stay_and_it_is_said():
    bare = np.full((300, 300, 3), (70, 110, 40), np.uint8)
    bare = np.clip(bare + np.random.default_rng(1).normal(0, 3, bare.shape), 0, 255).astype(np.uint8)
    on = similarity(40.0, 0.0, 150.0, 150.0)
    snap = pair_found(Sheet.whole(bare), on)
    assert snap.doubt
    assert snap.on_picture == on


def drawn(*at, px=30.0):
    """0402 capacitors side by side on a plain board, by KiCad's land pattern."""
    picture = np.full((300, 300, 3), (60, 90, 30), np.uint8)
    pattern = land_pattern("C0402", ["1", "2"])
    for y in at:
        for x, width, height, colour in (
            (0.0, 2 * pattern.lands[1].x_mm, pattern.body_mm[1], (96, 132, 168)),
            *((land.x_mm, land.width_mm, land.height_mm, (180, 180, 180)) for land in pattern.lands),
        ):
            rows = slice(round(y - height / 2 * px), round(y + height / 2 * px))
            picture[rows, round(150 + (x - width / 2) * px) : round(150 + (x + width / 2) * px)] = colour
    return Sheet.whole(picture), 2 * pattern.lands[1].x_mm * px


def test_clicks_between_two_parts_are_a_doubt_until_one_is_laid():
    sheet, apart = drawn(135.0, 165.0)
    clicked = similarity(apart, 0.0, 150.0, 150.0)
    first = pair_found(sheet, clicked)
    assert "two places" in first.doubt
    there = ends(first.on_picture)
    corners = np.array([[-0.3, -0.35], [0.3, -0.35], [0.3, 0.35], [-0.3, 0.35]])
    taken = [first.on_picture.applied(corners + end) for end in ENDS]
    again = ends(pair_found(sheet, clicked, taken).on_picture)
    assert {round(float(at[:, 1].mean()) / 5) * 5 for at in (there, again)} == {135, 165}


def test_clicks_across_a_part_leave_pin_one_unsure():
    sheet, apart = drawn(150.0)
    snap = pair_found(sheet, similarity(0.6 * apart, 85.0, 150.0, 150.0))
    assert np.hypot(*(ends(snap.on_picture)[1] - ends(snap.on_picture)[0])) == pytest.approx(apart, rel=0.1)
    assert "pin 1" in snap.doubt


def test_a_place_turned_by_half_is_the_same_place():
    one, *_ = shapes()
    assert away(Found(0.1, 0.0, 80.0, 1.0, one, 0.5), Found(0.1, 0.0, -100.0, 1.0, one, 0.5)) == pytest.approx(0.0)


@pytest.mark.parametrize("apart", [1.1, 2.1, 3.0])
def test_clicks_a_few_pixels_apart_are_laid_or_doubted_without_fail(case, apart):
    clicked = similarity_from_pairs(ENDS, [(300.0, 300.0), (300.0 + apart, 300.0)])
    snap = pair_found(case[0], clicked)
    assert snap.doubt or snap.score > 0.2


def test_a_picture_of_one_colour_is_said_to_show_nothing():
    on = similarity(40.0, 0.0, 100.0, 100.0)
    snap = pair_found(Sheet.whole(np.full((200, 200, 3), 90, np.uint8)), on)
    assert snap.doubt
    assert snap.on_picture == on
