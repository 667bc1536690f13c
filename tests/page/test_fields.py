"""Heat pictures and millivolts in the browser, with a real mouse."""

import re
import time

import numpy as np
import pytest
from playwright.sync_api import expect
from tests.page.bench import Bench

from ohmwright.bootstrap import desk_at
from ohmwright.casebook.events import EntryDescribed, FeedSet, ReadingRecorded
from ohmwright.circuit import Feed
from ohmwright.facts import CopperShape, Quantity
from ohmwright.fields.layout import layout_of
from ohmwright.fields.plate import Plate
from ohmwright.formats.board_json import read_board_json
from ohmwright.practice.choice import boards
from ohmwright.usecases.desk import record, view_of
from ohmwright.usecases.open_case import open_case
from ohmwright.usecases.skip import skip

pytestmark = pytest.mark.slow
FIELD = 'svg[role="application"]'
PX = 0.5  # millimetres per pixel of the invented camera


def post(page, name, body):
    """An order sent as the page sends it."""
    return page.evaluate(
        "([name, body]) => fetch('/api/' + name, {method: 'POST', headers: {'content-type': 'application/json'},"
        " body: JSON.stringify(body)}).then((a) => a.json())",
        [name, body],
    )


def case(page):
    return page.evaluate("fetch('/api/case').then((a) => a.json())")


def sight(page):
    return page.evaluate("fetch('/api/sight').then((a) => a.json())")


def click_mm(page, x, y):
    """The mouse goes to a place of the board, in millimetres, and clicks."""
    at = page.evaluate(
        "([x, y]) => { const g = document.querySelector('svg[role=application] > g');"
        " const p = new DOMPoint(x, y).matrixTransform(g.getScreenCTM()); return [p.x, p.y]; }",
        [x, y],
    )
    page.mouse.click(*at)


def fed(page):
    """Say what the label says, as the page asks first, and put half a volt on a rail."""
    page.get_by_role("button", name="Do it").click()
    given_up = time.monotonic() + 30.0
    while (state := case(page))["sequence"] <= 2:  # a condition as text is refused by the page's own policy
        assert time.monotonic() < given_up
        page.wait_for_timeout(50)
    answer = post(page, "supply", {
        "seen": state["sequence"], "act": "feed", "plus": "V5", "minus": state["board"]["ground"], "volts": 0.5,
        "limit": 1.0, "reason": "a test of the page",
    })  # fmt: skip
    assert answer.get("ok"), answer
    return "V5"


@pytest.fixture
def fields(serve, visit):
    served = serve("--board", "greenhouse", "--seed", "7")
    seen = visit(served.address)
    seen.page.wait_for_selector("text=label")
    yield seen
    assert seen.complaints == []
    assert seen.abroad == []


def test_millivolts_point_to_a_pad_and_move_the_suspects(fields):
    page = fields.page
    rail = fed(page)
    on = {f"{p['name']}.{q['number']}" for p in case(page)["board"]["parts"] for q in p["pins"] if q["net"] == rail}
    pads = [p for p in sight(page)["points"] if p["name"] in on and p["side"] == "top"]
    target, source, black = pads[-1], pads[0], pads[1]
    corners = [(1.0, 1.0), (76.0, 1.0), (76.0, 29.0), (1.0, 29.0)]
    page.get_by_role("button", name="Millivolts", exact=True).click()
    page.get_by_label("Copper of").select_option(rail)
    page.get_by_label("Meter steps").select_option("0.00001")
    page.get_by_label("Current").fill("3")
    page.wait_for_selector(f"{FIELD} rect.own")
    for x, y in corners:
        click_mm(page, x, y)
    page.get_by_role("button", name="Close it").click()
    click_mm(page, source["x"], source["y"])
    click_mm(page, black["x"], black["y"])
    reds = [(10.0, 14.0), (25.0, 4.0), (25.0, 25.0), (45.0, 14.5), (65.0, 5.0), (70.0, 25.0)]
    for x, y in reds:
        click_mm(page, x, y)
    rows = page.locator("tbody tr")
    assert rows.count() == len(reds)
    # What a meter would show, where the page says that red is.
    cells = [rows.nth(n).locator("td").nth(1).inner_text() for n in range(len(reds))]
    where = [tuple(float(w) for w in text.split(",")) for text in cells]
    sheet = layout_of(CopperShape(outline=tuple(corners)))
    seen = sheet.seen_from(np.array([[source["x"], source["y"]], [target["x"], target["y"]]]))
    rise = np.subtract(*seen.response(np.array([*where, (black["x"], black["y"])])))
    for n, squares in enumerate(rise[:-1] - rise[-1]):
        page.get_by_label(f"Millivolts at point {n + 1}").fill(f"{3.0 * 0.5e-3 * squares * 1e3:.2f}")
    page.get_by_role("button", name="Where does it point?").click()
    page.wait_for_selector("[data-mark=error]")
    mark = page.locator("[data-mark=error]").first
    off = np.hypot(float(mark.get_attribute("cx")) - target["x"], float(mark.get_attribute("cy")) - target["y"])
    assert off < 3.0
    told = page.locator(".told").inner_text()
    assert target["name"].rpartition(".")[0] in told
    assert "Next best" in told
    assert page.get_by_text("Never raise the limit to burn a short out").is_visible()
    page.get_by_role("button", name="Take it into the case").click()
    page.wait_for_selector("text=On record.")
    assert any("millivolts along" in k["text"] for k in case(page)["known"])


def test_thermal_pictures_dropped_marked_and_taken(fields, tmp_path):
    page = fields.page
    fed(page)
    places = {p["name"]: p["place"] for p in case(page)["board"]["parts"] if p["place"] and p["place"]["side"] == "top"}
    name = sorted(places)[5]
    hot = places[name]
    noise = np.random.default_rng(1)
    y, x = np.mgrid[0:64, 0:160]
    for role in ("before", "during", "after"):
        celsius = 24.0 + noise.normal(0.0, 0.05, x.shape)
        if role == "during":
            r = np.hypot(x * PX - hot["x_mm"], y * PX - hot["y_mm"]) * 1e-3
            celsius = celsius + 0.4 + Plate().rise(0.3, r)
        lines = [";".join(f"{v:.2f}" for v in row) for row in celsius]
        (tmp_path / f"{role}.csv").write_text("\n".join(lines))
    page.get_by_role("button", name="Heat", exact=True).click()
    (tmp_path / "x.csv").write_bytes(b"\x00\x01\x02" * 400)
    page.get_by_label("Supply off", exact=True).set_input_files(tmp_path / "x.csv")
    page.wait_for_selector("text=This thermal file cannot be taken.")
    fields.complaints.clear()  # the browser itself notes the refused order
    for role, words in (("before", "Supply off"), ("during", "Supply on"), ("after", "Off again")):
        page.get_by_label(words, exact=True).set_input_files(tmp_path / f"{role}.csv")
        page.wait_for_selector(f'.file.have:has(input[aria-label="{words}"])')
    for u, v in ((4, 4), (150, 4), (150, 56), (4, 56)):
        box = page.locator("button.thermal").bounding_box()
        page.mouse.click(box["x"] + (u + 0.5) / 160 * box["width"], box["y"] + (v + 0.5) / 64 * box["height"])
        # A little beside the pads, else the mark would go to them.
        click_mm(page, u * PX, v * PX)
    page.get_by_label("Fed").fill("0.3")
    page.get_by_role("button", name="What did the feed warm?").click()
    page.wait_for_selector("[data-mark=spot]")
    told = page.locator(".told").inner_text()
    assert name in told.split("\n")[0]
    assert "as good as all of it" in told
    assert page.get_by_text("No solvent near a warm or fed board").is_visible()
    page.get_by_role("button", name="Take spot 1").click()
    page.wait_for_selector("text=Spot 1 is on record.")
    assert any("warm (camera" in k["text"] for k in case(page)["known"])


def test_from_a_feed_of_a_shorted_rail_to_its_millivolts(serve, visit, tmp_path):
    """Where a rail reads next to nothing, the step that feeds it leads to the drop along its copper."""
    desk = desk_at(tmp_path / "cases.sqlite")
    open_case(desk, "own logger", read_board_json(boards()["logger"]), note="file")
    record(desk, "own logger", EntryDescribed("V5IN", 5.0, True, True))
    for quantity, value in ((Quantity.DIODE, 0.002), (Quantity.OHMS, 0.35)):
        record(desk, "own logger", ReadingRecorded(quantity, "VDRV", "GND", value, desk.meter, ""))
    for _ in range(8):
        first = view_of(desk, "own logger").advice.tests[0]
        if first.steps[0].act == "feed":
            break
        skip(desk, "own logger", first.title)
    assert first.steps[0].feed.plus == "VDRV"
    page = visit(serve("--resume").address).page
    page.get_by_role("button", name="Trace the millivolts along VDRV").click(timeout=20_000)
    assert page.get_by_label("Copper of").input_value() == "VDRV"
    assert page.get_by_label("Current").input_value() == f"{first.steps[0].feed.limit:g}"


def test_a_pedal_takes_millivolts_point_by_point(serve, visit, tmp_path):
    """A joined meter fills the newest point, the next best one is set, and every step can be taken back."""
    bench = Bench("logger", "logger-driver-down", 5)
    try:
        desk = desk_at(tmp_path / "cases.sqlite")
        open_case(desk, "own logger", read_board_json(boards()["logger"]), note="file")
        record(desk, "own logger", EntryDescribed("V5IN", 5.0, True, True), FeedSet(Feed("VDRV", "GND", 0.5, 1.0)))
        page = visit(serve("--resume", "--meter", bench.address("meter")).address).page
        bench.feed("VDRV", "GND", 0.5, 1.0)
        page.get_by_role("button", name="Millivolts", exact=True).click(timeout=60_000)
        page.get_by_label("Copper of").select_option("VDRV")
        page.wait_for_selector(f"{FIELD} rect.own")
        for x, y in ((2.0, 2.0), (40.0, 2.0), (2.0, 30.0)):
            click_mm(page, x, y)
        page.keyboard.press("b")  # a corner too soon
        for x, y in ((40.0, 30.0), (2.0, 30.0)):
            click_mm(page, x, y)
        page.get_by_role("button", name="Close it").click()
        click_mm(page, 4.0, 4.0)
        click_mm(page, 38.0, 28.0)
        box = page.get_by_label("Millivolts at point 1")
        click_mm(page, 20.0, 10.0)
        bench.do("probe", red="VDRV", black="GND")
        box.press("Space")
        expect(box).to_have_value(re.compile(r"^4\d\d|^5\d\d"), timeout=20_000)
        click_mm(page, 30.0, 6.0)
        page.get_by_label("Millivolts at point 2").press("Space")
        expect(page.locator(".told")).to_be_visible(timeout=60_000)
        expect(page.get_by_label("Millivolts at point 3")).to_have_value("")
        many = page.locator("tbody tr").count()
        page.get_by_role("button", name=re.compile("Step back")).click()
        expect(page.locator("tbody tr")).to_have_count(many - 1)
        page.get_by_role("button", name="Begin anew").click()
        expect(page.locator("tbody tr")).to_have_count(0)
        page.keyboard.press("b")
        expect(page.locator("tbody tr")).to_have_count(many - 1)
    finally:
        bench.close()


def test_red_beside_the_copper_is_named(fields):
    page = fields.page
    rail = fed(page)
    answer = post(page, "millivolts/look", {
        "seen": case(page)["sequence"], "net": rail, "source": [5.0, 5.0], "black": [70.0, 25.0], "current": 3.0,
        "step": 1e-5, "copper": {"outline": [[1.0, 1.0], [76.0, 1.0], [76.0, 29.0], [1.0, 29.0]]},
        "points": [{"x": 20.0, "y": 5.0, "millivolts": 1.0}, {"x": 20.0, "y": 45.0, "millivolts": 1.0}],
    })  # fmt: skip
    assert answer["message"] == "Red 2 lies 16 mm off the copper as drawn."
    fields.complaints.clear()
