"""What of a picture is board, and what is only what it lies on: against boards rendered with a known edge."""

import cv2
import numpy as np
import pytest
from tests.pictures.made_boards import made_board

from ohmwright.pictures.difference import changes
from ohmwright.pictures.extent import board_shown
from ohmwright.pictures.photo import PhotoRequest, photograph
from ohmwright.pictures.render import ScanRequest, board_outline, board_picture, part_box
from ohmwright.pictures.sheets import Sheet

ROOM_MM, GRID = 5.0, 10.0


def sheet(pixels):
    return Sheet.whole(np.ascontiguousarray(pixels[..., ::-1]))


def shares(edge, line):
    """Of the board, how much lies outside the line, and how much more the line takes in. [1]"""
    x, y, w, h = edge.left_mm, edge.top_mm, edge.width_mm, edge.height_mm
    true = np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])
    shape = (round((h + 2 * ROOM_MM) * GRID), round((w + 2 * ROOM_MM) * GRID))
    masks = []
    for corners in (true, line):
        mask = np.zeros(shape, np.uint8)
        cv2.fillPoly(mask, [np.round((corners - (x - ROOM_MM, y - ROOM_MM)) * GRID).astype(np.int32)], (1,))
        masks.append(mask.astype(bool))
    board, found = masks
    return (board & ~found).sum() / board.sum(), (found & ~board).sum() / board.sum()


@pytest.mark.parametrize("askew", [False, True])
@pytest.mark.parametrize("side", ["top", "bottom"])
@pytest.mark.parametrize("seed", [11, 12])
def test_the_line_round_a_board_is_where_its_edge_is(seed, side, askew):
    board = made_board(seed)
    scan = board_picture(board, ScanRequest(side=side, seed=seed, dots_per_inch=350))
    pixels, view = scan.pixels, scan.view
    if askew:
        pixels, view = photograph(scan, PhotoRequest(width_px=2000, height_px=1500, seed=seed))
    line = board_shown(sheet(pixels))
    assert line is not None
    missed, more = shares(board_outline(board), view.millimetres(line))
    assert missed < 0.03
    assert more < 0.01


@pytest.mark.parametrize("box", [(0.15, 0.15, 0.85, 0.85), (0.1, 0.0, 0.9, 1.0), (0.3, 0.2, 0.6, 0.7)])
def test_a_board_that_goes_on_beyond_the_picture_has_no_line(box):
    pixels = board_picture(made_board(13), ScanRequest(seed=3, dots_per_inch=350)).pixels
    high, wide = pixels.shape[:2]
    left, top, right, low = (int(share * size) for share, size in zip(box, (wide, high, wide, high), strict=True))
    assert board_shown(sheet(pixels[top:low, left:right])) is None


def test_a_board_of_another_shape_is_followed_and_a_heap_of_parts_is_none():
    random = np.random.default_rng(5)
    bench = np.full((600, 800, 3), (120, 130, 140), np.uint8)
    corners = np.array([[100, 80], [700, 80], [700, 300], [400, 300], [400, 520], [100, 520]])
    shown = bench.copy()
    cv2.fillPoly(shown, [corners], (40, 110, 30))
    noise = random.normal(0, 3, shown.shape)
    line = board_shown(Sheet.whole(np.clip(shown + noise, 0, 255).astype(np.uint8)))
    assert line is not None
    found = np.zeros(shown.shape[:2], np.uint8)
    cv2.fillPoly(found, [np.round(line).astype(np.int32)], (1,))
    assert found[200, 600] == found[450, 200] == 1
    assert found[450, 600] == 0, "the corner that is cut out is no board"
    heap = bench.copy()
    for _ in range(400):
        x, y = random.integers(150, 600), random.integers(120, 420)
        cv2.rectangle(heap, (int(x), int(y)), (int(x) + 40, int(y) + 30), random.integers(0, 255, 3).tolist(), -1)
    assert board_shown(Sheet.whole(heap)) is None


def test_what_the_board_lies_on_is_no_difference():
    """The same copy on a light and on a dark bench; one part is missing, and it alone stands out."""
    board = made_board(14)
    gone = next(part for part in board.parts if part.package in ("0603", "0805"))
    scan = board_picture(board, ScanRequest(seed=2, dots_per_inch=500))
    again = board_picture(board, ScanRequest(seed=2, dots_per_inch=500, findings={gone.name: "missing"}))
    bench = again.pixels.copy()
    edge = board_outline(board)
    x, y, w, h = edge.left_mm, edge.top_mm, edge.width_mm, edge.height_mm
    corners = again.view.pixels(np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]]))
    on_board = np.zeros(bench.shape[:2], np.uint8)
    cv2.fillPoly(on_board, [np.round(corners).astype(np.int32)], (1,))
    bench[on_board == 0] = (60, 45, 35)
    onto = scan.view.plane.inverse
    found = changes(sheet(scan.pixels), onto, sheet(bench), onto)
    print(found, part_box(gone))
    left, top, right, low = part_box(gone)
    middles = [(one.x_mm + one.width_mm / 2, one.y_mm + one.height_mm / 2) for one in found]
    assert any(left - 1 < u < right + 1 and top - 1 < v < low + 1 for u, v in middles)
    rim = [
        one for one in found
        if min(one.x_mm - x, one.y_mm - y, x + w - one.x_mm - one.width_mm, y + h - one.y_mm - one.height_mm) < 1.0
    ]  # fmt: skip
    assert not rim
