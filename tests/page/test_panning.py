"""While only the hand moves the board, nothing is painted anew and no canvas is copied: a canvas costs a copy of itself."""

import re

import pytest
from playwright.sync_api import expect

COUNT = """() => { const draw = CanvasRenderingContext2D.prototype.drawImage; window.copied = {};
    CanvasRenderingContext2D.prototype.drawImage = function (...what) {
        const kind = what[0].constructor.name; window.copied[kind] = (window.copied[kind] ?? 0) + 1;
        return draw.apply(this, what);
    }; }"""


@pytest.mark.slow
def test_panning_copies_one_picture_a_frame(serve, visit):
    page = visit(serve("--board", "logger", "--seed", "7", "--photo").address).page
    page.get_by_role("button", name=re.compile("use the photo of this board")).click()
    expect(page.get_by_role("button", name=re.compile("Back to testing"))).to_be_visible(timeout=60_000)
    box = page.locator("canvas").first.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.wheel(0, -120)
    page.wait_for_timeout(2500)  # tiles of this size come in
    page.mouse.down()
    page.mouse.move(x + 8, y + 8)
    page.wait_for_timeout(300)
    page.evaluate(COUNT)
    for n in range(20):
        page.mouse.move(x + 8 + 4 * n, y + 8 + 2 * n)
        page.wait_for_timeout(40)
    page.mouse.up()
    copied = page.evaluate("window.copied")
    assert set(copied) == {"ImageBitmap"}, copied
    assert 5 <= copied["ImageBitmap"] <= 25, copied  # one a frame: not its tiles, several a frame
