"""Several pictures of one board on the page: laid on each other, parts drawn onto their pads, differences shown."""

import re

import cv2
import numpy as np
import pytest
from playwright.sync_api import expect
from tests.page.person import Photo, began, dots_per_inch, sight

from ohmwright.formats.board_json import read_board_json
from ohmwright.pictures.photo import PhotoRequest, photograph
from ohmwright.pictures.render import ScanRequest, board_picture
from ohmwright.practice.choice import boards

MISSING = "C18"


@pytest.fixture(scope="module")
def askew(board, tmp_path_factory):
    """A photograph of another copy of the board, held askew, of which a part is missing; and its true view."""
    scan = board_picture(board, ScanRequest(seed=9, dots_per_inch=500, findings={MISSING: "missing"}))
    pixels, view = photograph(scan, PhotoRequest(width_px=2400, height_px=1800, seed=4))
    file = tmp_path_factory.mktemp("photo") / "askew.jpg"
    cv2.imwrite(str(file), np.ascontiguousarray(pixels[..., ::-1]), [cv2.IMWRITE_JPEG_QUALITY, 90])
    return file, view


def test_a_photo_held_askew_is_laid_on_the_scan_and_what_is_missing_stands_out(serve, visit, photo, askew, board):
    file, _ = askew
    seen, _ = began(serve, visit, photo)
    page = seen.page
    page.keyboard.press("k")
    page.get_by_label("Add a picture of the upper side").set_input_files(file)
    expect(page.get_by_text("lies in its place")).to_be_visible(timeout=60_000)
    row = page.get_by_role("group", name="Pictures").get_by_role("button", name="askew.jpg").first
    expect(row).to_contain_text("by a guessed scale")
    page.get_by_label("A scan at").fill("500")
    page.get_by_role("button", name="scan.jpg").first.click()
    page.get_by_role("button", name="Set", exact=True).click()
    expect(page.get_by_text("Scale: a scan at 500 dpi")).to_be_visible()
    row.click()
    page.get_by_role("button", name="Find where askew.jpg lies").click()
    expect(row).not_to_contain_text("by a guessed scale", timeout=60_000)
    expect(row).to_contain_text("matched to scan.jpg")
    told = float(re.search(r"([\d.]+) mm off at the median", row.inner_text())[1])
    assert told < 0.1
    # The straightened picture lies on the scan: a place of the board is at one place of the map in both.
    layers = sight(page)["layers"]
    origin = np.array(photo._view.millimetres(np.array([[0.0, 0.0]]))[0])
    place = next(p for p in board.parts if p.name == "L4").place
    there = (np.array([place.x_mm, place.y_mm]) - origin) @ np.eye(2)
    laid = layers[1]["to_board"]
    assert abs(laid[1]) < 1e-9
    assert abs(laid[3]) < 1e-9
    px = ((there[0] - laid[2]) / laid[0], (there[1] - laid[5]) / laid[4])
    assert 0 < px[0] < layers[1]["width"]
    page.get_by_role("button", name="What differs from scan.jpg").click()
    expect(page.get_by_text(re.compile(r"\d+ places? differ"))).to_be_visible(timeout=60_000)
    page.get_by_role("button", name="The next place").click()
    expect(page.get_by_text(re.compile("Place 1: "))).to_be_visible()
    page.keyboard.press("Backspace")
    expect(row).to_contain_text("by a guessed scale", timeout=10_000)
    for _ in range(2):  # the scale, and the place that was found when it was added
        page.keyboard.press("Backspace")
    expect(row).to_contain_text("not registered yet", timeout=10_000)
    assert not seen.complaints
    assert not seen.abroad


def test_a_picture_is_laid_by_marked_places_and_a_wrong_one_is_refused(serve, visit, photo, tmp_path):
    seen, me = began(serve, visit, photo)
    page = seen.page
    random = np.random.default_rng(1)
    cv2.imwrite(str(tmp_path / "sand.png"), random.integers(60, 190, (700, 900, 3), dtype=np.uint8))
    page.keyboard.press("k")
    page.get_by_label("Add a picture of the upper side").set_input_files(tmp_path / "sand.png")
    row = page.get_by_role("group", name="Pictures").get_by_role("button", name="sand.png").first
    expect(row).to_be_visible(timeout=30_000)
    row.click()
    page.get_by_role("button", name="Find where sand.png lies").click()
    expect(page.get_by_text("This picture did not register").last).to_be_visible(timeout=60_000)
    page.get_by_role("button", name="Mark the same places").last.click()
    for n, pad in enumerate(("L4.2", "C3.1")):
        expect(page.get_by_text(f"Click place {n + 1} in scan.jpg")).to_be_visible()
        page.mouse.click(*me.seen(pad))
        expect(page.get_by_text("Now click the same place in sand.png")).to_be_visible()
        page.mouse.click(*me.seen(pad))
    page.get_by_role("button", name="Lay it by these 2 places").click()
    expect(row).to_contain_text("by 2 pairs of points")
    assert all("422" in word for word in seen.complaints)  # the refusal, and nothing else


def test_pads_are_drawn_onto_what_the_picture_shows_and_a_row_is_laid_at_once(serve, visit, photo):
    seen, me = began(serve, visit, photo)
    page = seen.page
    dots_per_inch(page, 500)
    px = 500 / 25.4
    for name, away in (("C3", (0.15, -0.12)), ("C18", (-0.2, 0.1))):
        me.whole()
        me.nearer(f"{name}.1", 6)
        page.keyboard.press("c")
        for pad in ("1", "2"):
            x, y = me.seen(f"{name}.{pad}")
            page.mouse.click(x + away[0] * px * me._scale, y + away[1] * px * me._scale)
        expect(page.get_by_role("heading", name="The map")).to_contain_text("1 part" if name == "C3" else "2 parts")
    scale = sight(page)["layers"][0]["to_board"]
    points = {p["name"]: p for p in sight(page)["points"]}
    for own, true in (("C1", "C3"), ("C2", "C18")):
        for pad in ("1", "2"):
            x, y = photo.at(f"{true}.{pad}")
            at = (scale[0] * x + scale[2], scale[4] * y + scale[5])
            p = points[f"{own}.{pad}"]
            assert np.hypot(p["x"] - at[0], p["y"] - at[1]) < 0.1, (own, pad)
    parts = page.get_by_role("heading", name="The map")
    page.keyboard.press("=")
    expect(page.get_by_text("Click pin 1 of the last capacitor")).to_be_visible()
    page.get_by_label("How many in all").fill("3")
    x, y = me.seen("C18.1")
    page.mouse.click(x + 4.0 * px * me._scale, y)
    expect(parts).to_contain_text("4 parts")
    assert not seen.complaints


def test_a_chip_whose_package_nobody_knows_is_guessed_from_the_picture(serve, visit, tmp_path):
    greenhouse = read_board_json(boards()["greenhouse"])
    assert next(p for p in greenhouse.parts if p.name == "U1").package == "SO-8"
    seen, me = began(serve, visit, Photo(greenhouse, tmp_path / "scan.jpg"))
    page = seen.page
    dots_per_inch(page, 500)
    page.keyboard.press("u")
    page.get_by_label("Package").select_option("QFN")
    page.get_by_label("Package").blur()
    page.keyboard.press("q")
    expect(page.get_by_text("Click pin 1, then the pin farthest from it.")).to_be_visible()
    me.nearer("U1.1", 5)
    for pad in ("1", "5"):
        page.mouse.click(*me.seen(f"U1.{pad}"))
    expect(page.get_by_text("Which of these is it?")).to_be_visible(timeout=20_000)
    page.keyboard.press("1")
    expect(page.get_by_role("heading", name="The map")).to_contain_text("1 part")
    assert sum(p["name"].startswith("U1.") for p in sight(page)["points"]) == 8
    assert not seen.complaints
