"""What a person with both hands busy has to see is in sight: on small windows, at double size, with long names.

The sizes are those of `page.md`: a sentence of at least 28 px and a live value of at least 64 px; 1366 by 768 is the
smallest full layout, and at double size it is 683 by 384.
"""

import json
import re

import pytest
from playwright.sync_api import expect

from ohmwright.practice.choice import boards

DOUBLE = {"width": 683, "height": 384}
WITHIN = "(e) => e.scrollWidth <= e.clientWidth && e.getBoundingClientRect().right <= innerWidth"


def thought(page) -> None:
    expect(page.locator(".sentence").first).not_to_have_text(re.compile("Working|Waiting"), timeout=90_000)


def renamed(thing, longer):
    """A board file with other names of rails."""
    if isinstance(thing, dict):
        return {longer.get(key, key): renamed(value, longer) for key, value in thing.items()}
    if isinstance(thing, list):
        return [renamed(value, longer) for value in thing]
    return longer.get(thing, thing) if isinstance(thing, str) else thing


@pytest.mark.slow
def test_names_of_forty_letters_are_read_to_their_end(serve, visit, tmp_path):
    board = json.loads(boards()["greenhouse"].read_text())
    rails = [net["name"] for net in board["nets"] if net.get("rail")]
    longer = {name: f"{name}_OF_THE_RADIO_AND_DISPLAY_DOMAIN_TWO_X"[:40] for name in rails}
    (tmp_path / "board.json").write_text(json.dumps(renamed(board, longer)))
    served = serve("--file", str(tmp_path / "board.json"))
    page = visit(served.address).page
    thought(page)
    name = longer[board["entries"][0]]
    assert len(name) == 40
    expect(page.locator(".sentence")).to_contain_text(name)
    assert page.locator(".sentence").evaluate(WITHIN)
    expect(page.get_by_role("application")).to_have_attribute("aria-label", re.compile("is ringed"))  # no probe is due
    page.get_by_label("Volts on its label").fill("24")
    page.get_by_label("I measured which contact is plus").check()
    page.get_by_label("The battery is out").check()
    page.get_by_role("button", name="Enter").click()
    undo = page.get_by_role("button", name=re.compile("^Undo"))
    expect(undo).to_be_visible(timeout=20_000)
    known = page.locator(".known .sheet").bounding_box()
    box = undo.bounding_box()
    assert box["x"] + box["width"] <= known["x"] + known["width"]
    page.get_by_role("button", name="Supply", exact=True).click()
    expect(page.locator(".sentence")).to_contain_text(name, timeout=60_000)
    assert page.locator(".sentence").evaluate(WITHIN)


@pytest.mark.slow
def test_at_double_size_the_value_stands_beside_the_picture(serve, visit):
    served = serve("--board", "greenhouse", "--seed", "7")
    page = visit(served.address).page
    thought(page)
    strip = page.locator(".bench").bounding_box()["height"]
    for _ in range(6):
        if page.locator(".sentence").inner_text().startswith("Probe"):
            break
        page.keyboard.press("Space")
        page.wait_for_timeout(400)
        thought(page)
    assert page.locator(".bench").bounding_box()["height"] == strip  # nothing below it jumps when its words change
    assert page.locator("#typed").evaluate("(e) => e.scrollWidth <= e.clientWidth")
    page.set_viewport_size(DOUBLE)
    value = page.get_by_label("Meter")
    for seen in (page.locator(".sentence"), value, page.locator("canvas")):
        box = seen.bounding_box()
        assert box["y"] >= 0
        assert box["y"] + min(box["height"], 64) <= DOUBLE["height"]
    assert value.evaluate("(e) => parseFloat(getComputedStyle(e).fontSize)") >= 64
    page.mouse.wheel(0, 2000)
    page.wait_for_timeout(300)
    assert page.evaluate("document.scrollingElement.scrollTop + document.body.scrollTop") > 0
    assert page.locator(".bench").bounding_box()["y"] == 0  # fed or not never scrolls away
