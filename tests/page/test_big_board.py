"""A board as large as a server's on the page: what is due is in sight by itself, and names are found.

The board is made here: rows of 0402 capacitors on a plate of 420 by 280 mm, about as large as a server's (SSI EEB: 305
by 330 mm, from memory), so that with the whole of it in sight a millimetre is about a pixel. Most sit on the underside.
"""

import json
import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.slow
ROWS, COLUMNS, PITCH = 8, 12, 35.0
"""Capacitors, and how far apart they sit. [1], [1], [mm]"""


def large_board() -> dict:
    """A map of that plate in the form of `docs/board-format.md`: 96 parts on 95 nets."""
    nets = [{"name": "GND"}, {"name": "P12V", "rail": True, "nominal": 12.0}]
    parts = []
    for n in range(ROWS * COLUMNS):
        net = "P12V" if n < 3 else f"N{n}"
        if n >= 3:
            nets.append({"name": net, "rail": True, "nominal": 3.3})
        x, y = 15.0 + PITCH * (n % COLUMNS), 15.0 + PITCH * (n // COLUMNS)
        place = {"x_mm": x, "y_mm": y, "side": "bottom" if n % 4 else "top", "angle_deg": 0.0}
        place |= {"width_mm": 1.0, "height_mm": 0.5}
        parts.append({"name": f"C{n + 1}", "kind": "capacitor", "value": 1e-7, "package": "0402", "place": place,
                      "pins": [{"number": "1", "net": net}, {"number": "2", "net": "GND"}]})  # fmt: skip
    return {"name": "large plate", "ground": "GND", "entries": ["P12V"], "nets": nets, "parts": parts}


@pytest.fixture
def large(serve, visit, tmp_path):
    """That board open in the page, its entry described, the first probe due."""
    (tmp_path / "board.json").write_text(json.dumps(large_board()))
    page = visit(serve("--file", str(tmp_path / "board.json")).address).page
    thought(page)
    page.get_by_label("Volts on its label").fill("12")
    page.get_by_label("I measured which contact is plus").check()
    page.get_by_label("The battery is out").check()
    page.get_by_role("button", name="Enter").click()
    expect(page.locator(".sentence")).to_have_text(re.compile("^(Probe|Try|Plug|See)"), timeout=60_000)
    if page.get_by_role("button", name="Still dead").count():
        page.get_by_role("button", name="Still dead").click()
    expect(page.locator(".sentence")).to_have_text(re.compile("^Probe"), timeout=60_000)
    return page


def thought(page) -> None:
    expect(page.locator(".sentence").first).not_to_have_text(re.compile("Working|Waiting"), timeout=60_000)


def in_the_middle(page) -> str:
    """What the page says lies under a mouse that rests in the middle of the picture."""
    box = page.locator("section.ground canvas").first.bounding_box()
    page.mouse.move(box["x"] + 3, box["y"] + box["height"] - 3)
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.wait_for_timeout(150)
    name = page.locator("main .picture .name")
    return name.inner_text().split(" · ")[0] if name.count() else ""


def due_pad(page) -> str:
    words = re.match("Probe (.+) with red, (.+) with black", page.locator(".sentence").inner_text().replace("\n", " "))
    return next(name.rstrip(".") for name in words.groups() if name != "GND")


def test_the_next_point_comes_into_sight_by_itself(large):
    assert in_the_middle(large) == due_pad(large)
    first = due_pad(large)
    large.get_by_role("button", name="Whole board").click()
    assert in_the_middle(large) != first  # a hand that wants to see all of it does
    for _ in range(2):  # with the view as it was left, and after somebody has looked closer elsewhere
        before = due_pad(large)
        large.keyboard.press("n")
        expect(large.locator(".sentence")).not_to_contain_text(before, timeout=60_000)
        thought(large)
        assert in_the_middle(large) == due_pad(large)
        box = large.locator("section.ground canvas").first.bounding_box()
        large.mouse.move(box["x"] + 20, box["y"] + 20)
        large.mouse.down()
        large.mouse.move(box["x"] + 500, box["y"] + 200, steps=4)
        large.mouse.up()


def test_a_part_or_a_net_is_found_by_its_name(large):
    large.keyboard.press("f")
    large.keyboard.type("c9")
    listed = large.get_by_role("listbox").get_by_role("option")
    expect(listed.first).to_contain_text("C9")
    assert all("9" in text for text in listed.all_inner_texts())
    large.keyboard.type("6")
    large.keyboard.press("Enter")
    large.wait_for_timeout(200)
    box = large.locator("section.ground canvas").first.bounding_box()
    large.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert re.match(r"C96\.\d", in_the_middle(large))
    large.get_by_role("button", name="Underside").click()
    large.wait_for_timeout(300)  # nothing turns it back
    expect(large.get_by_role("button", name="Underside")).to_have_attribute("aria-pressed", "true")
    large.keyboard.press("f")
    large.keyboard.type("no such thing")
    expect(large.get_by_text("Nothing of that name")).to_be_visible()
    large.keyboard.press("Escape")
    large.keyboard.press("f")
    large.keyboard.type("n50")
    large.keyboard.press("Enter")
    large.get_by_role("button", name="Read there").click()
    expect(large.locator(".sentence")).to_contain_text("Probe N50 with red, GND with black.")


def test_whoever_waits_is_told_how_long_and_what_to_read_meanwhile(large, visit):
    """Thinking about thousands of nets takes many seconds; here the page is only told that it goes on."""
    lines = []

    def between(line):
        lines.append(line)
        line.connect_to_server()

    large.route_web_socket(re.compile("/api/words"), between)
    large.reload()
    thought(large)
    case = large.evaluate("fetch('/api/case').then(r => r.json())")
    lines[-1].send(json.dumps(case | {"thinking": True, "due": None}))
    expect(large.locator(".sentence")).to_have_text("Working out what to do next.")
    expect(large.locator("[data-waited]")).to_have_text(re.compile(r"^[2-9] s so far"), timeout=6_000)
    spare = large.get_by_role("button", name=re.compile("W$"))
    expect(spare).to_be_visible()
    charged = case | {"thinking": True, "due": None, "bench": case["bench"] | {"discharged": False}}
    lines[-1].send(json.dumps(charged))
    expect(spare).to_have_count(0)  # ohms or diode mode on a charged board would harm meter and hand
    lines[-1].send(json.dumps(case | {"thinking": True, "due": None}))
    expect(spare).to_be_visible()
    large.keyboard.press("w")
    expect(large.get_by_text("a point of your own choosing")).to_be_visible()
    expect(large.get_by_label("The meter shows")).to_be_visible()


def test_what_is_typed_while_an_entry_is_written_down_is_not_lost(large):
    """The answer to the first entry is held back; the second stays in its box, and it is said why."""
    held = []
    large.route("**/api/do", lambda route: held.append(route))
    large.keyboard.type("0.41")
    large.keyboard.press("Enter")
    large.wait_for_timeout(200)
    large.keyboard.type("0.52")
    large.keyboard.press("Enter")
    expect(large.get_by_text("Not taken yet")).to_be_visible()
    expect(large.locator("#typed")).to_have_value("0.52")
    assert len(held) == 1
    held[0].continue_()
    expect(large.locator("section[aria-labelledby=known]")).to_contain_text("0.41", timeout=20_000)
