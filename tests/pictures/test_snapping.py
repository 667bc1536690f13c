"""Pads laid by clicks that miss lie on the true pads; where the picture shows none they stay, and it is said."""

import numpy as np
import pytest
from tests.pictures.made_boards import made_board

from ohmwright.boardmap import PAIR
from ohmwright.geometry import land_pattern, pad_centres, part_pattern, similarity, similarity_from_pairs
from ohmwright.pictures.render import ScanRequest, board_picture
from ohmwright.pictures.sheets import Sheet
from ohmwright.pictures.snapping import far_lands, pitch_of, sized, snapped


@pytest.fixture(scope="module")
def case():
    board = made_board(31, width=50.0, height=36.0, large=7, small=12)
    scan = board_picture(board, ScanRequest(dots_per_inch=600))
    return board, scan.view, Sheet.whole(np.ascontiguousarray(scan.pixels[..., ::-1]))


def test_pins_lie_on_the_pads(case):
    """Clicks off by sd 0.3 mm along both axes; the median under 0.1 of the pitch, 95 % under 0.2."""
    board, view, sheet = case
    random, px = np.random.default_rng(5), 600 / 25.4
    before, after = [], []
    for part in board:
        pattern = part_pattern(part)
        true = {pad.pin: view.pixels(np.array([[pad.x_mm, pad.y_mm]]))[0] for pad in pad_centres(part)}
        first, far = far_lands(pattern)
        a, b = (true[land.number] + random.normal(0, 0.3 * px, 2) for land in (first, far))
        clicked = sized(
            similarity_from_pairs([(first.x_mm, first.y_mm), (far.x_mm, far.y_mm)], [tuple(a), tuple(b)]), px
        )
        snap = snapped(sheet, pattern, clicked, scale_known=True)
        unit = px * pitch_of(pattern)
        for on, out in ((clicked, before), (snap.on_picture, after)):
            out += [np.hypot(*(np.array(on.at(n.x_mm, n.y_mm)) - true[n.number])) / unit for n in pattern.lands]
    assert np.median(after) < 0.1
    assert np.quantile(after, 0.95) < 0.2
    assert np.median(before) > 2 * np.median(after)


def test_where_nothing_is_the_pads_stay_and_it_is_said():
    bare = np.full((300, 300, 3), (70, 110, 40), np.uint8)
    bare = np.clip(bare + np.random.default_rng(1).normal(0, 3, bare.shape), 0, 255).astype(np.uint8)
    on = similarity(20.0, 0.0, 150.0, 150.0)
    snap = snapped(Sheet.whole(bare), land_pattern("SOIC-8", [str(n + 1) for n in range(8)]), on, scale_known=True)
    assert snap.doubt
    assert snap.on_picture == on


def test_a_pattern_keeps_off_the_pads_of_another_part():
    """Two 0402 side by side; clicks half a pitch toward the one that is laid already are drawn to the other."""
    picture = np.full((240, 240, 3), (60, 90, 30), np.uint8)
    px, at = 30.0, (100.0, 130.0)
    pattern = land_pattern("R0402", ["1", "2"])
    for y in at:
        for x0, x1, colour in (
            (-0.75, 0.75, (40, 40, 40)),
            (-0.75, -0.2, (180, 180, 180)),
            (0.2, 0.75, (180, 180, 180)),
        ):
            rows = slice(round(y - 0.3 * px), round(y + 0.3 * px))
            picture[rows, round(120 + x0 * px) : round(120 + x1 * px)] = colour
    clicked = similarity(px, 0.0, 120.0, at[0] + 0.4 * px)
    first = snapped(Sheet.whole(picture), pattern, clicked, scale_known=True)
    there = first.on_picture.at(0.0, 0.0)[1]
    corners = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
    taken = [first.on_picture.applied(corners * (n.width_mm, n.height_mm) + (n.x_mm, n.y_mm)) for n in pattern.lands]
    again = snapped(Sheet.whole(picture), pattern, clicked, scale_known=True, taken=taken).on_picture.at(0.0, 0.0)[1]
    assert {min(at, key=lambda y: abs(y - there)), min(at, key=lambda y: abs(y - again))} == set(at)
    assert min(abs(y - again) for y in at) < 0.1 * px


@pytest.mark.parametrize("apart", [1.1, 2.1, 3.0])
def test_two_pads_a_few_pixels_apart_are_laid_or_doubted_without_fail(case, apart):
    clicked = similarity_from_pairs([(-0.5, 0.0), (0.5, 0.0)], [(300.0, 300.0), (300.0 + apart, 300.0)])
    snap = snapped(case[2], PAIR, clicked, scale_known=False)
    assert snap.doubt or snap.score > 0.2
