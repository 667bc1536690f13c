"""The map by hand: pictures that find their place, parts righted and mirrored, fields of a lens, ground by name."""

import base64
import re

import cv2
import numpy as np
import pytest
from playwright.sync_api import expect
from tests.page.person import began, dots_per_inch, sight

from ohmwright.formats.board_json import read_board_json
from ohmwright.pictures.photo import PhotoRequest, photograph
from ohmwright.pictures.render import ScanRequest, board_outline, board_picture
from ohmwright.practice.choice import boards

PINS = "1 VIN P Input supply\n2 SW O Switch node\n3, EP GND G Ground\n4 BOOT I Bootstrap\n5 FB I Feedback\n"
PINS += "6-8 NC — Leave open\n"
WEDGE = (255, 253, 248)
"""Colour of the wedge at pin 1; its shape is what tells it. [1]"""


def written(pixels, path):
    cv2.imwrite(str(path), np.ascontiguousarray(pixels[..., ::-1]), [cv2.IMWRITE_JPEG_QUALITY, 90])
    return path


@pytest.fixture(scope="module")
def pictures(board, tmp_path_factory):
    """An upper side held askew, an underside as a scan, a close-up, and another board; and how each is truly seen."""
    folder = tmp_path_factory.mktemp("pictures")
    scan = board_picture(board, ScanRequest(seed=9, dots_per_inch=500))
    pixels, askew = photograph(scan, PhotoRequest(width_px=2400, height_px=1800, seed=4))
    below = board_picture(board, ScanRequest(side="bottom", seed=9, dots_per_inch=500))
    near = board_picture(board, ScanRequest(seed=3, dots_per_inch=900)).pixels
    high, wide = near.shape[:2]
    close = np.rot90(near[high // 3 : 2 * high // 3, wide // 4 : 2 * wide // 3], 1)
    strange = board_picture(read_board_json(boards()["greenhouse"]), ScanRequest(dots_per_inch=400, seed=2))
    files = {
        "askew": written(pixels, folder / "askew.jpg"), "below": written(below.pixels, folder / "below.jpg"),
        "close": written(close, folder / "close.jpg"), "strange": written(strange.pixels, folder / "strange.jpg"),
    }  # fmt: skip
    return files, {"askew": askew, "below": below.view}


def drop(page, *files):
    """Let files fall onto the picture, as from a folder of the desktop."""
    held = [{"name": f.name, "data": base64.b64encode(f.read_bytes()).decode()} for f in files]
    transfer = page.evaluate_handle(
        """held => { const all = new DataTransfer();
        for (const { name, data } of held)
          all.items.add(new File([Uint8Array.from(atob(data), c => c.charCodeAt(0))], name, { type: "image/jpeg" }));
        return all; }""",
        held,
    )
    page.dispatch_event("section.ground", "drop", {"dataTransfer": transfer})


def hairlines(png):
    """The strongest straight line, one pixel wide and upright or level, across the middle of a picture. [1] grey levels"""
    grey = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_GRAYSCALE).astype(float)
    high, wide = grey.shape
    middle = grey[high // 4 : -high // 4, wide // 4 : -wide // 4]
    worst = 0.0
    for part in (middle, middle.T):
        line = part[:, 2:-2] - (part[:, :-4] + part[:, 4:]) / 2
        worst = max(worst, float(np.abs(np.median(line, axis=0)).max()))
    print(f"strongest hairline {worst:.1f}")
    return worst


def layer_named(page, name):
    return next(layer for layer in sight(page)["layers"] if layer["name"] == name)


def truly(photo, at):
    """Where a place of the picture that made the frame lies on the board. [px], [mm]"""
    return photo._view.millimetres(np.array([at], dtype=float))[0]


def told_residual(page, name):
    line = page.locator(".one", has_text=name)
    expect(line).to_contain_text("lies in its place", timeout=90_000)
    return float(re.search(r"([\d.]+) mm off at the median", line.inner_text())[1])


def test_pictures_dropped_together_are_asked_for_their_side_and_find_their_place(serve, visit, photo, pictures, board):
    files, _ = pictures
    seen, me = began(serve, visit, photo)
    page = me.page
    dots_per_inch(page, 500)
    drop(page, files["askew"], files["below"], files["close"])
    sentence = page.locator(".sentence")
    expect(sentence).to_have_text("Which side does askew.jpg show?")
    page.keyboard.press("1")
    expect(sentence).to_have_text("Which side does below.jpg show?")
    # Nothing holds the hand up: a part is laid before the next one is answered.
    me.nearer("C18.1", 3)
    me.lay("c", "C1", "C18", "1", "2")
    page.keyboard.press("Escape")
    page.keyboard.press("2")
    expect(sentence).to_have_text("Which side does close.jpg show?")
    me.click(re.compile("^Upper side 1"))
    for name in ("askew.jpg", "below.jpg", "close.jpg"):
        told = told_residual(page, name)
        print(f"{name}: {told} mm off at the median")
        assert told < 0.1, "the eyes' own tests hold straightened pictures to a tenth of a millimetre"
    tops = page.locator("section.ground .tools > *").evaluate_all("all => all.map(e => e.offsetTop)")
    assert len(tops) >= 8
    assert len(set(tops)) == 1, "the picture's tools keep to one line at 1366 px"
    origin = truly(photo, (0.0, 0.0))
    for name, side in (("askew.jpg", "top"), ("below.jpg", "bottom")):
        layer = layer_named(page, name)
        assert layer["side"] == side
        assert layer["to_board"][0] * (1 if side == "top" else -1) > 0, "an underside lies mirrored"
    # The corner of the board as the underside's own scan sees it lies where the upper side's does.
    below = layer_named(page, "below.jpg")["to_board"]
    places = [(p.place.x_mm, p.place.y_mm) for p in board.parts if p.place and p.place.side == "bottom"]
    places = places or [(10.0, 10.0), (25.0, 15.0)]
    view = pictures[1]["below"]
    for x, y in places[:6]:
        u, v = view.pixels(np.array([[x, y]]))[0]
        at = np.array([below[0] * u + below[1] * v + below[2], below[3] * u + below[4] * v + below[5]])
        assert np.hypot(*(at - (np.array([x, y]) - origin))) < 0.2
    # It lies a little turned: where its tiles meet no hairline may show, which would look like a scratch.
    page.keyboard.press("Escape")
    me.click(re.compile("^Underside$"))
    me.click("Whole board")
    page.mouse.move(5, 5)
    page.wait_for_timeout(1500)
    assert hairlines(page.locator("section.ground canvas").first.screenshot()) < 5.0
    assert not seen.complaints


def test_what_does_not_register_is_said_with_what_to_do(serve, visit, photo, pictures):
    files, _ = pictures
    seen, me = began(serve, visit, photo)
    page = me.page
    drop(page, files["strange"])
    page.keyboard.press("1")
    line = page.get_by_role("alert").filter(has_text="strange.jpg")
    expect(line).to_contain_text("This picture did not register", timeout=90_000)
    expect(line).to_contain_text("Mark four points or more")
    assert layer_named(page, "strange.jpg")["how"] == ""
    line.get_by_role("button", name="Mark the same places").click()
    expect(page.locator(".sentence")).to_contain_text("Click place 1 in scan.jpg")
    page.keyboard.press("Escape")
    # The same file again is refused in words, and a leftover question is left out by its key.
    drop(page, files["strange"], files["close"])
    page.keyboard.press("1")
    page.keyboard.press("0")
    expect(page.get_by_role("alert").filter(has_text="on the map already")).to_be_visible(timeout=30_000)
    assert [layer["name"] for layer in sight(page)["layers"]] == ["scan.jpg", "strange.jpg"]
    assert not [one for one in seen.complaints if "422" not in one]


def pad_at(page, name):
    return next((p["x"], p["y"]) for p in sight(page)["points"] if p["name"] == name)


def wedge_pixels(page, me, pad, reach=26):
    """How many pixels about a pad have the colour of the wedge, less those of its outline's anti-aliasing. [1]"""
    x, y = me.seen(pad)
    box = {"x": x - reach, "y": y - reach, "width": 2 * reach, "height": 2 * reach}
    picture = cv2.imdecode(np.frombuffer(page.screenshot(clip=box), np.uint8), cv2.IMREAD_COLOR)[..., ::-1]
    mask = np.all(np.abs(picture.astype(int) - WEDGE) <= 2, axis=-1).astype(np.uint8)
    return int(cv2.erode(mask, np.ones((3, 3), np.uint8)).sum())  # lines are thinner than a wedge


def lay_u1(me):
    me.press("u")
    me.choose("Package", "DFN")
    me.choose("Pins", "8")
    me.lay("", "U1", "U4", "1", "5")
    me.press("Escape")


def test_a_part_is_mirrored_by_key_and_button_and_pin_one_stands_out_at_any_zoom(serve, visit, photo):
    seen, me = began(serve, visit, photo)
    page = me.page
    dots_per_inch(page, 500)
    me.nearer("U4.1", 4)
    lay_u1(me)
    me.click_pad("U4.4")
    page.mouse.move(5, 5)
    one, eight = pad_at(page, "U1.1"), pad_at(page, "U1.8")
    assert wedge_pixels(page, me, "U4.1") >= 9
    page.keyboard.press("/")
    expect(page.get_by_text("U1 put on the map")).to_have_count(2)
    assert pad_at(page, "U1.1") == pytest.approx(eight, abs=0.02)
    assert pad_at(page, "U1.8") == pytest.approx(one, abs=0.02)
    page.wait_for_timeout(300)
    assert wedge_pixels(page, me, "U4.8") >= 9
    me.click(re.compile("^Mirror"))
    expect(page.get_by_text("U1 put on the map")).to_have_count(3)
    assert pad_at(page, "U1.1") == pytest.approx(one, abs=0.02)
    page.keyboard.press("Backspace")
    page.wait_for_timeout(600)
    assert pad_at(page, "U1.1") == pytest.approx(eight, abs=0.02)
    page.keyboard.press("Backspace")
    me.whole()
    page.mouse.move(5, 5)
    page.wait_for_timeout(600)
    assert wedge_pixels(page, me, "U4.1", 16) >= 9, "with the whole board in sight too"
    assert not seen.complaints


def test_fields_of_the_lens_are_walked_by_keys_kept_and_taken_back(serve, visit, photo, board):
    seen, me = began(serve, visit, photo)
    page = me.page
    dots_per_inch(page, 500)
    sentence = page.locator(".sentence")
    page.keyboard.press("w")
    expect(sentence).to_have_text("Go to the first field.")
    fields = page.evaluate("fetch('/api/map/fields?side=top&magnification=10').then(r => r.json())")["fields"]
    assert [one["name"] for one in fields[:2]] == ["A1", "A2"]
    # They cover the board, and not what it lies on: the scan shows some of that all around.
    edge, origin = board_outline(board), truly(photo, (0.0, 0.0))
    corner = np.array([edge.left_mm, edge.top_mm]) - origin
    low = np.min([one["box"][:2] for one in fields], axis=0)
    high = np.max([np.add(one["box"][:2], one["box"][2:]) for one in fields], axis=0)
    assert np.abs(low - corner).max() < 1.0
    assert np.abs(high - corner - (edge.width_mm, edge.height_mm)).max() < 1.0
    page.keyboard.press("n")
    expect(sentence).to_have_text("Look at field A1.")
    page.keyboard.press("e")
    expect(sentence).to_have_text("Look at field A2.")
    expect(page.get_by_text(f"1 of {len(fields)} fields of the upper side")).to_be_visible()
    page.keyboard.press("e")
    expect(page.get_by_text(f"2 of {len(fields)} fields of the upper side")).to_be_visible()
    page.keyboard.press("ArrowLeft")
    expect(sentence).to_have_text("Look at field A2, seen already.")
    page.keyboard.press("Backspace")
    expect(sentence).to_have_text("Look at field A2.")
    expect(page.get_by_text(f"1 of {len(fields)} fields of the upper side")).to_be_visible()
    page.keyboard.press("a")
    expect(page.get_by_role("button", name="20×")).to_have_attribute("aria-pressed", "true")
    expect(page.get_by_text(re.compile("0 of .* seen at 20× or closer|.*at 10×"))).to_be_visible()
    for name in ("5×", "1×"):
        me.click(name)
    expect(page.get_by_text("0 of 1 fields of the upper side")).to_be_visible()
    page.keyboard.press("n")
    page.keyboard.press("e")
    expect(sentence).to_have_text("Every field of the upper side has been looked at.")
    page.reload()  # it is in the case, not in the page
    expect(page.get_by_role("button", name="Draw the map")).to_be_visible(timeout=20_000)
    page.keyboard.press("m")
    page.keyboard.press("w")
    expect(page.get_by_text(f"1 of {len(fields)} fields of the upper side")).to_be_visible(timeout=20_000)
    assert not seen.complaints


def test_ground_by_name_is_offered_and_a_ground_pin_that_is_silent_is_doubted(serve, visit, photo):
    seen, me = began(serve, visit, photo)
    page = me.page
    dots_per_inch(page, 500)
    me.nearer("U4.1", 4)
    lay_u1(me)
    me.lay("c", "C1", "C18", "1", "2")
    me.press("Escape")
    me.click_pad("U4.2")
    me.paste_pins(PINS, 6)
    offer = page.get_by_role("group", name="Ground by name")
    expect(offer).to_contain_text("U1.3, U1.9 are ground by their names, if U1 lies right")
    page.keyboard.press("e")
    expect(offer).to_have_count(0)
    net = "pad => fetch('/api/map/pad?pad=' + pad).then(r => r.json()).then(s => s.net)"
    assert page.evaluate(net, "U1.3") == page.evaluate(net, "U1.9") == "GND"
    page.keyboard.press("Backspace")
    page.keyboard.press("Backspace")
    expect(offer).to_be_visible()
    # The tester says otherwise: pin 3 is silent against ground, and where pin 7 lies is ground.
    me.press("g")
    me.press("s")
    me.click_pad("U4.3")
    expect(page.get_by_text("silent between U1.3 and GND")).to_be_visible()
    doubt = page.get_by_role("status").filter(has_text="U1 may lie the wrong way round")
    expect(doubt).to_be_visible()
    expect(offer).to_have_count(0)
    me.press("Escape")
    me.press("g")
    me.click_pad("U4.7")
    expect(doubt).to_contain_text("it would be if U1 lay turned half round")
    me.press("Escape")
    seven = pad_at(page, "U1.7")
    me.click("Turn U1 half round")
    expect(doubt).to_have_count(0)
    assert pad_at(page, "U1.3") == pytest.approx(seven, abs=0.02)
    assert page.evaluate(net, "U1.3") == "GND"
    assert not seen.complaints
