"""Pads laid by clicks that miss lie on the true pads; where the picture shows none they stay, and it is said."""

import numpy as np
import pytest
from tests.pictures.made_boards import made_board

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
