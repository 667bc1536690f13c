"""The part book beside the board, by mouse and keyboard."""

from __future__ import annotations

import json
import re
import sqlite3
import urllib.error
import urllib.request
from pathlib import Path

import cv2
import numpy as np
import pytest
from playwright.sync_api import Page, expect
from tests.datasheets.layouts import TUNED, datasheet, scanned
from tests.page.conftest import AXE, Served

from ohmwright.formats.board_json import read_board_json
from ohmwright.geometry.packages import pad_centres
from ohmwright.practice.choice import boards

SCREENS = [(1366, 768, "light"), (1920, 1080, "dark")]
PASTED = """PIN NAME TYPE DESCRIPTION
1 VIN P Input supply
2 SW O Switch node
3 GND G Ground
4 BOOT I Bootstrap
5 FB I Feedback
"""


class Shelved(Served):
    """A page on a practice board with a part book of its own; one for all tests here, since starting takes longest."""

    def __init__(self, home: Path) -> None:
        self.home = home
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("XDG_CACHE_HOME", str(home / "cache"))
            patch.setenv("XDG_DATA_HOME", str(home / "data"))
            super().__init__(home / "cases.sqlite", "--board", "logger", "--fault", "logger-no-core", "--seed", "11")


@pytest.fixture(scope="module")
def shelved(built_page, tmp_path_factory):
    served = Shelved(tmp_path_factory.mktemp("book"))
    yield served
    served.end()


@pytest.fixture
def page(shelved, visit):
    seen = visit(shelved.address)
    seen.page.set_default_timeout(15_000)
    expect(seen.page.get_by_role("heading", name="On the bench")).to_be_visible(timeout=30_000)
    seen.page.get_by_role("button", name="Part book").click(timeout=30_000)
    expect(seen.page.get_by_role("button", name="Around it")).to_be_visible()
    yield seen.page
    # A refused PDF is told on the page; the browser's own note of it is no complaint.
    assert not [text for text in seen.complaints if "422" not in text]
    assert not seen.abroad


def leaf(page: Page, name: str) -> None:
    page.get_by_role("navigation", name="Leaves of the part book").get_by_role("button", name=name).click()


def at_pad(page: Page, chip: str, pad: str) -> tuple[float, float]:
    """Where a pad is on the screen, once the picture has come to the chip: that it is there, the page itself says."""
    board = read_board_json(boards()["logger"])
    place = board.part(chip).place
    spot = next(p for part in board for p in pad_centres(part) if f"{p.part}.{p.pin}" == pad)
    canvas = page.locator("canvas[role=application]")
    box = canvas.bounding_box()
    scale = min(box["width"], box["height"]) / (2 * (max(place.width_mm, place.height_mm) * 1.4 + 4))
    x = box["x"] + box["width"] / 2 + scale * (spot.x_mm - place.x_mm)
    y = box["y"] + box["height"] / 2 + scale * (spot.y_mm - place.y_mm)
    page.mouse.move(x, y)
    expect(page.locator("span.name")).to_contain_text(pad)
    return x, y


def yellow(page: Page, at: tuple[float, float], reach: int = 40) -> int:
    """Pixels of the colour of lit things around a place of the picture, as they are seen."""
    page.mouse.move(at[0] + 3 * reach, at[1] + 3 * reach)
    x, y = at
    shot = page.screenshot(clip={"x": x - reach, "y": y - reach, "width": 2 * reach, "height": 2 * reach})
    pixels = cv2.imdecode(np.frombuffer(shot, np.uint8), cv2.IMREAD_COLOR).astype(int)
    return int((np.abs(pixels - (122, 211, 255)).max(axis=2) < 24).sum())


def test_a_long_contradiction_is_not_pressed_together_over_what_stands_below(serve, visit):
    page = visit(serve("--board", "greenhouse", "--seed", "7").address).page
    page.get_by_role("button", name="Part book").click(timeout=30_000)
    against = page.locator("button.against")
    expect(against.first).to_be_visible(timeout=20_000)
    assert against.evaluate_all("all => all.filter(e => e.scrollHeight > e.clientHeight + 1).length") == 0


def test_a_tap_on_either_side_lights_its_place_on_the_other(page):
    page.get_by_label("Chip", exact=True).select_option("U3")
    leaf(page, "Side by side")
    boot = page.get_by_role("button", name=re.compile("^boot capacitor: C390"))
    expect(boot).to_have_attribute("aria-pressed", "false")
    there = at_pad(page, "U3", "C390.1")
    dark = yellow(page, there)
    boot.click()
    expect(boot).to_have_attribute("aria-pressed", "true")
    page.wait_for_timeout(200)
    assert yellow(page, there) > dark + 30, "the capacitor does not light on the board"
    expect(page.get_by_text("the upper switch would get no drive")).to_be_visible()
    # And from the board: a pin lights its row, a neighbour its place.
    page.mouse.click(*at_pad(page, "U3", "U3.2"))
    expect(page.get_by_role("button", name=re.compile("^switch pin"))).to_have_attribute("aria-pressed", "true")
    expect(boot).to_have_attribute("aria-pressed", "false")
    page.mouse.click(*at_pad(page, "U3", "C390.2"))
    expect(boot).to_have_attribute("aria-pressed", "true")
    # By keyboard too.
    coil = page.get_by_role("button", name=re.compile("^output coil: L3"))
    coil.focus()
    page.keyboard.press("Enter")
    expect(coil).to_have_attribute("aria-pressed", "true")


def test_a_datasheet_is_looked_over_line_by_line_before_it_is_taken(page, shelved, tmp_path):
    truth = datasheet(tmp_path / "made up.pdf", TUNED[0], 3)
    page.get_by_label("Chip", exact=True).select_option("U7")
    leaf(page, "Datasheet")
    page.get_by_label("Choose a PDF").set_input_files(tmp_path / "made up.pdf")
    lines = page.get_by_role("list", name="Pins to look over").get_by_role("listitem")
    expect(lines).to_have_count(len(truth.pins), timeout=30_000)
    expect(page.get_by_alt_text("Page 1 of made up.pdf")).to_be_visible()
    onto = page.get_by_role("button", name="Into my book, and onto U7")
    page.get_by_label("Part number").fill(truth.name)
    expect(onto).to_be_disabled()  # nothing is taken that nobody looked at
    first = page.get_by_label("Name of line 1", exact=True)
    first.click()
    expect(page.locator(".ring")).to_be_visible()  # the line's place on the page
    first.fill("RESET")  # put right by hand
    for _ in truth.pins:
        page.keyboard.press("Enter")
    expect(page.get_by_text(f"{len(truth.pins)} lines looked over")).to_be_visible()
    page.get_by_role("button", name=re.compile("^Limits")).click()
    page.get_by_role("list", name="Limits to look over").get_by_role("button").first.click()
    page.get_by_role("button", name="Back to the pins").click()
    onto.click()
    expect(page.get_by_text(f"{truth.name} is in your book, and U7 has its pins.")).to_be_visible()
    with sqlite3.connect(shelved.home / "data" / "ohmwright" / "partbook.sqlite") as book:
        source = book.execute("SELECT source FROM parts WHERE name = ?", (truth.name,)).fetchone()[0]
        first = book.execute("SELECT name FROM pins WHERE part = ? AND number = '1'", (truth.name,)).fetchone()[0]
        limits = book.execute("SELECT page FROM limits WHERE part = ?", (truth.name,)).fetchall()
    assert (source, first, len(limits)) == ("made up.pdf, page 1", "RESET", 1)
    page.get_by_role("button", name="Back").click()
    expect(page.get_by_text(f"U7: {truth.name} (made up.pdf, page 1)")).to_be_visible()  # on record, can be undone
    # Found again by its mark, badly read.
    page.keyboard.press("p")
    leaf(page, "Find it")
    page.get_by_label("Name or top mark").fill(truth.name.replace("0", "O"))
    found = page.get_by_role("list", name="Parts found").get_by_role("listitem").first
    expect(found).to_contain_text("made up.pdf, page 1")


def test_places_on_the_figure_are_marked_and_linked(page, tmp_path):
    truth = datasheet(tmp_path / "made up.pdf", TUNED[0], 3)
    page.get_by_label("Chip", exact=True).select_option("U3")
    leaf(page, "Datasheet")
    page.get_by_label("Choose a PDF").set_input_files(tmp_path / "made up.pdf")
    page.get_by_role("button", name=re.compile("^Typical circuit")).click(timeout=30_000)
    assert truth.packages
    picture = page.get_by_alt_text("Page 1 of made up.pdf")
    expect(picture).to_be_visible()
    page.wait_for_timeout(1500)  # the page is drawn, and scrolled to its figure
    # A pin of the figure that the chip on the board has too is linked by its name.
    page.get_by_role("button", name="VIN on the figure").first.click()
    expect(page.get_by_role("button", name=re.compile("^input, SYS"))).to_have_attribute("aria-pressed", "true")
    # A place marked by hand: then the part that stands for it is tapped on the board.
    page.get_by_role("button", name="Mark pins and parts").click()
    frame = page.locator(".frame").first.bounding_box()
    page.mouse.click(frame["x"] + frame["width"] * 0.8, frame["y"] + frame["height"] / 2)
    page.get_by_label("Name on the figure").fill("C9")
    page.mouse.click(*at_pad(page, "U3", "C390.1"))
    expect(page.get_by_label("Stands for")).to_have_value("boot capacitor")
    page.get_by_role("button", name="Mark it").click()
    mark = page.get_by_role("button", name="C9 on the figure")
    expect(mark).to_have_attribute("aria-pressed", "true")
    page.mouse.click(*at_pad(page, "U3", "U3.5"))
    expect(mark).to_have_attribute("aria-pressed", "false")
    page.mouse.click(*at_pad(page, "U3", "C390.1"))
    expect(mark).to_have_attribute("aria-pressed", "true")


def test_what_the_unmarked_neighbour_must_be_follows_what_is_seen_of_it(page):
    page.get_by_label("Chip", exact=True).select_option("U3")
    parts = page.get_by_role("list", name="Parts around U3")
    parts.get_by_role("button", name=re.compile("^X1")).click()
    says = re.compile("X1, between the input and ground of .* is most likely the input capacitor")
    expect(parts.get_by_text(says)).to_be_visible()
    bars = page.get_by_label("What X1 may be")
    before = bars.inner_text()
    page.get_by_role("group", name="How X1 looks").get_by_role("button", name="black, printed").click()
    expect(bars).not_to_have_text(before)
    expect(bars).to_contain_text(re.compile(r"resistor\s*\d\d %"))
    # The look is on record, and goes with an undo.
    page.keyboard.press("Escape")
    expect(page.get_by_text("X1: looks black-printed")).to_be_visible()


def test_pasted_pins_and_a_replacement_with_its_margins(page):
    page.get_by_label("Chip", exact=True).select_option("U3")
    leaf(page, "Type, paste")
    page.get_by_label("Copy the pin table").fill(PASTED)
    expect(page.get_by_role("list", name="Pins to look over").get_by_role("listitem")).to_have_count(5)
    page.get_by_role("button", name="All the rest are right").click()
    page.get_by_label("Part number").fill("QX77")
    page.get_by_role("button", name="Into my book", exact=True).click()
    expect(page.get_by_text("QX77 is in your book.")).to_be_visible()
    leaf(page, "Replace")
    page.get_by_label("A part at hand").fill("QX77")
    page.get_by_label("Where").fill("donor board 12")
    page.get_by_role("button", name="Note it").click()
    hand = page.get_by_role("list", name="Parts at hand")
    expect(hand).to_contain_text("QX77")
    expect(hand).to_contain_text("The same pin order.")
    page.mouse.click(*at_pad(page, "U3", "C390.1"))
    expect(page.get_by_text("In place of C390")).to_be_visible()
    rated = page.get_by_role("row", name=re.compile("rated volts"))
    page.get_by_label("Most volts across it").fill("20 V")
    page.keyboard.press("Enter")
    expect(rated).to_contain_text("at least 36 V")  # 20 V over 0.55, the trade's rule for class 2
    for name, volts in (("100n 16V", "16"), ("100n 50V", "50")):
        page.get_by_label("A part at hand").fill(name)
        page.get_by_label("Where").fill("drawer 3")
        page.get_by_label("rated volts", exact=True).fill(volts)
        page.get_by_role("button", name="Note it").click()
        expect(hand).to_contain_text(name)
    expect(hand.get_by_role("listitem").filter(has_text="100n 16V")).to_contain_text("must be at least 36 V")
    expect(hand.get_by_role("listitem").filter(has_text="100n 50V")).to_contain_text("fits, as far as it is known")


@pytest.mark.slow
def test_what_cannot_be_read_says_so(page, tmp_path):
    scanned(tmp_path / "scan.pdf")
    (tmp_path / "junk.pdf").write_bytes(b"%PDF-1.7\n" + b"\x00" * 2000)
    leaf(page, "Datasheet")
    page.get_by_label("Choose a PDF").set_input_files(tmp_path / "junk.pdf")
    expect(page.get_by_role("alert")).to_contain_text("PDF", timeout=30_000)
    page.get_by_label("Choose a PDF").set_input_files(tmp_path / "scan.pdf")
    expect(page.get_by_text("it seems to be scanned")).to_be_visible(timeout=30_000)


def asked(served, path: str, body: object = None, kind: str = "application/json") -> tuple[int, dict]:
    data = None if body is None else body if isinstance(body, bytes) else json.dumps(body).encode()
    request = urllib.request.Request(f"{served.address}api/book{path}", data, {"Content-Type": kind})
    try:
        with urllib.request.urlopen(request, timeout=60) as answer:
            return answer.status, json.loads(answer.read())
    except urllib.error.HTTPError as error:
        return error.code, json.loads(error.read())


PART = {"number": "QX9", "source": "made up.pdf, page 1", "rows": [{"pins": ["1"], "name": "VIN"}]}


def test_the_doors_of_the_book(shelved, tmp_path):
    truth = datasheet(tmp_path / "a.pdf", TUNED[0], 4)
    status, told = asked(shelved, "/paper?name=..%2F..%2Fa.pdf", (tmp_path / "a.pdf").read_bytes(), "application/pdf")
    assert status == 200
    assert told["name"] == "a.pdf"  # no folders from outside
    assert len(told["sheet"]["pins"][0]["rows"]) == len(truth.pins)
    assert all(place["page"] == 1 for place in told["sheet"]["pins"][0]["places"])
    found = asked(shelved, "/find?name=" + truth.name)[1]["parts"]
    assert truth.name not in [part["name"] for part in found]  # read, but not taken
    key = told["key"]
    with urllib.request.urlopen(f"{shelved.address}api/book/paper/{key}/page/1?width=300", timeout=60) as picture:
        assert picture.read(8) == b"\x89PNG\r\n\x1a\n"
    wrong = [
        ("/paper", b"no pdf", "application/pdf", 422), ("/paper", b"%PDF-1.4", "application/json", 415),
        ("/keep", {**PART, "rows": []}, "application/json", 422),
        ("/keep", {**PART, "source": ""}, "application/json", 422),
        ("/keep", {**PART, "rows": [*PART["rows"], *PART["rows"]]}, "application/json", 422),
        ("/spot", {"paper": key, "page": 1, "name": "C1", "x": 1.5, "y": 0.1}, "application/json", 422),
        ("/spot", {"paper": "0" * 32, "page": 1, "name": "C1", "x": 0.5, "y": 0.1}, "application/json", 422),
        ("/stock", {"name": "a", "where": "b", "kind": "capacitor", "properties": {"rated volts": "much"}},
         "application/json", 422),
        ("/replace", {"part": "C9999"}, "application/json", 422),
    ]  # fmt: skip
    for path, body, kind, expected in wrong:
        status, answer = asked(shelved, path, body, kind)
        assert status == expected, (path, body, answer)
        assert answer["message"]
    for path in ("/paper/..%2F..", "/paper/" + "0" * 32, f"/paper/{key}/page/99", "/around?part=U999", "/find?name="):
        assert asked(shelved, path)[0] in (404, 422), path
    assert asked(shelved, "/keep", PART)[0] == 200
    found = asked(shelved, "/find?name=QX9")[1]
    assert found["parts"][0]["source"] == "made up.pdf, page 1"
    assert asked(shelved, "/drop", {"number": "QX9"})[0] == 200
    assert "QX9" not in [part["name"] for part in asked(shelved, "/find?name=QX9")[1]["parts"]]


@pytest.mark.slow
@pytest.mark.parametrize(("width", "height", "look"), SCREENS)
def test_every_leaf_is_whole_and_passes_axe(shelved, visit, tmp_path, width, height, look):
    page = visit(shelved.address, color_scheme=look).page
    page.set_viewport_size({"width": width, "height": height})
    datasheet(tmp_path / "made up.pdf", TUNED[0], 3)
    page.get_by_role("button", name="Part book").click()
    page.evaluate(AXE.read_text(encoding="utf-8"))
    for name in ("Around it", "Side by side", "Find it", "Datasheet", "Type, paste", "Replace"):
        leaf(page, name)
        if name == "Datasheet":
            page.get_by_label("Choose a PDF").set_input_files(tmp_path / "made up.pdf")
            expect(page.get_by_alt_text("Page 1 of made up.pdf")).to_be_visible(timeout=30_000)
        page.wait_for_timeout(400)
        found = page.evaluate("() => axe.run({ runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa'] })")
        assert not found["violations"], (name, json.dumps(found["violations"], indent=1)[:1500])
        wide = page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide <= 0, name
