"""Pictures come to lie where the known camera saw them, and pictures of other boards do not."""

import cv2
import numpy as np
import pytest
from tests.pictures.made_boards import made_board

from ohmwright.errors import DataError
from ohmwright.formats.board_json import read_board_json
from ohmwright.geometry import Homography, View, hand_held_view, similarity
from ohmwright.geometry.camera import Lens
from ohmwright.geometry.frames import Outline
from ohmwright.geometry.registration import residuals, view_from_pairs
from ohmwright.pictures.difference import changes
from ohmwright.pictures.matching import matched
from ohmwright.pictures.outline import laid_by_edge, straightened
from ohmwright.pictures.photo import PhotoRequest, photograph
from ohmwright.pictures.render import ScanRequest, board_picture, part_box
from ohmwright.pictures.sheets import Sheet
from ohmwright.practice.choice import boards

OUTLINE = Outline(0.0, 0.0, 50.0, 36.0)
GRID = np.stack(np.meshgrid(np.linspace(2, 48, 9), np.linspace(2, 34, 7)), -1).reshape(-1, 2)


def camera(side):
    lens = Lens(3800.0, 1999.5, 1499.5, -0.09, 0.03)
    return hand_held_view(OUTLINE, side, lens, distance_mm=70.0, tilt_deg=11.0, turn_deg=-7.0, roll_deg=20.0)


@pytest.mark.parametrize("side", ["top", "bottom"])
def test_a_camera_is_found_from_exact_pairs(side):
    """Lens and all: the known way through the camera comes back, between the pairs too."""
    true = camera(side)
    pixels = true.pixels(GRID)
    found = view_from_pairs(GRID.tolist(), pixels.tolist(), side, (4000, 3000), lens=True)
    between = GRID[:-1] + 1.7
    assert np.hypot(*(found.millimetres(true.pixels(between)) - between).T).max() < 2e-3
    assert residuals(found, GRID, pixels).worst_mm < 2e-3


def test_a_homography_agrees_with_opencvs():
    """Against cv2.findHomography on pairs with noise: two least-squares answers, alike to a fraction of the noise."""
    random = np.random.default_rng(2)
    true = Homography(((20.0, 1.5, 90.0), (-1.0, 21.0, 40.0), (2e-4, -1e-4, 1.0)))
    pixels = true.applied(GRID) + random.normal(0, 0.4, GRID.shape)
    ours = view_from_pairs(GRID.tolist(), pixels.tolist(), "top", (1200, 900)).pixels(GRID)
    theirs = Homography.of(cv2.findHomography(GRID, pixels, 0)[0]).applied(GRID)
    assert np.hypot(*(ours - theirs).T).max() < 0.15


def test_a_homography_agrees_with_scikit_images():
    """Figures of scikit-image 0.26.0, ProjectiveTransform.from_estimate on these pairs, run once beside ours."""
    theirs = Homography((
        (20.000990699039722, 1.4973214297638326, 90.02860992729725),
        (-0.9993416812637157, 20.998447708252446, 40.005104707508615),
        (0.00020185962813216955, -0.00010275353496162907, 1.0),
    ))  # fmt: skip
    k = np.arange(len(GRID))
    noise = np.column_stack([0.4 * np.sin(2.3 * k + 0.5), 0.4 * np.cos(3.7 * k + 1.1)])
    true = Homography(((20.0, 1.5, 90.0), (-1.0, 21.0, 40.0), (2e-4, -1e-4, 1.0)))
    pixels = true.applied(GRID) + noise
    ours = view_from_pairs(GRID.tolist(), pixels.tolist(), "top", (1200, 900)).pixels(GRID)
    assert np.hypot(*(ours - theirs.applied(GRID)).T).max() < 0.02
    assert np.hypot(*(true.applied(GRID) - theirs.applied(GRID)).T).max() > 0.02, "noise tells the two apart"


def test_few_pairs_give_what_they_can_and_a_mirrored_one_is_refused():
    scan = View("bottom", similarity(20.0, 3.0, 1100.0, 30.0, mirrored=True))
    for n in (2, 3):
        pick = GRID[[0, 40, 8][:n]]
        found = view_from_pairs(pick.tolist(), scan.pixels(pick).tolist(), "bottom", (1200, 900))
        assert np.allclose(found.pixels(GRID), scan.pixels(GRID), atol=1e-6)
    with pytest.raises(DataError, match="mirror"):
        view_from_pairs(GRID[::7].tolist(), scan.pixels(GRID[::7]).tolist(), "top", (1200, 900))


@pytest.fixture(scope="module")
def scan():
    return board_picture(made_board(21, width=50.0, height=36.0, large=6, small=24), ScanRequest(dots_per_inch=450))


def sheet(pixels):
    return Sheet.whole(np.ascontiguousarray(pixels[..., ::-1]))


def off(found, true, outline):
    grid = GRID + np.array([outline.left_mm, outline.top_mm])
    return np.hypot(*(found.millimetres(true.pixels(grid)) - grid).T)


def test_a_photo_lies_on_the_scan_and_what_is_missing_stands_out(scan):
    board = made_board(21, width=50.0, height=36.0, large=6, small=24)
    gone = next(part for part in board if part.package.startswith("QFN") or part.name.startswith("U"))
    other = board_picture(board, ScanRequest(dots_per_inch=500, seed=8, findings={gone.name: "missing"}))
    pixels, true = photograph(other, PhotoRequest(width_px=1800, height_px=1350, seed=3))
    onto = scan.view.plane.inverse
    match = matched(sheet(scan.pixels), onto, sheet(pixels), "top")
    assert np.quantile(off(match.view, true, scan.outline), 0.95) < 0.08
    edge = scan.outline
    box = (edge.left_mm, edge.top_mm, edge.left_mm + edge.width_mm, edge.top_mm + edge.height_mm)
    flat = straightened(sheet(pixels), match.view, box, 16.0)
    at = similarity(1 / 16.0, 0.0, box[0] + 0.5 / 16, box[1] + 0.5 / 16)
    found = changes(sheet(scan.pixels), onto, flat, at)
    left, top, right, bottom = part_box(gone)
    hit = [c for c in found if c.x_mm < right and c.x_mm + c.width_mm > left and c.y_mm < bottom
           and c.y_mm + c.height_mm > top]  # fmt: skip
    assert hit
    assert len(found) <= len(hit) + 3


def test_an_underside_lies_by_the_edge_and_what_goes_through():
    board = read_board_json(boards()["greenhouse"])
    above = board_picture(board, ScanRequest(dots_per_inch=450))
    below = board_picture(board, ScanRequest(side="bottom", dots_per_inch=500, seed=4))
    pixels, true = photograph(below, PhotoRequest(width_px=2200, height_px=1650, seed=5, fill=0.8))
    match = laid_by_edge(sheet(above.pixels), above.view.plane.inverse, "top", sheet(pixels), "bottom")
    assert np.quantile(off(match.view, true, above.outline), 0.95) < 0.15


def test_an_underside_through_which_too_little_goes_is_not_guessed(scan):
    plain = np.full((900, 1300, 3), (118, 104, 88), np.uint8)
    plain[120:780, 180:1100] = (40, 90, 60)
    noise = np.random.default_rng(1).normal(0, 3, plain.shape)
    picture = np.clip(plain + noise, 0, 255).astype(np.uint8)
    with pytest.raises(DataError, match="which way round"):
        laid_by_edge(sheet(scan.pixels), scan.view.plane.inverse, "top", sheet(picture), "bottom")


def test_another_board_does_not_register(scan):
    other = board_picture(made_board(22, width=50.0, height=36.0, large=6, small=24), ScanRequest(dots_per_inch=450))
    with pytest.raises(DataError, match="did not register"):
        matched(sheet(scan.pixels), scan.view.plane.inverse, sheet(other.pixels), "top")
