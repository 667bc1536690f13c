"""A rail of a board rebuilt from its photo alone, by mouse and keyboard, and its fault found."""

import json
import re
import time

import pytest
from playwright.sync_api import expect
from tests.page.bench import Bench
from tests.page.conftest import AXE
from tests.page.person import Person, Photo, put_up

from ohmwright.formats.board_json import read_board_json
from ohmwright.practice.choice import boards

FAULT = {
    "format": "ohmwright-fault", "version": 1, "name": "shorted-output", "board": "pocket logger",
    "words": "Dead.", "defects": [{"part": "C18", "mode": "short", "ohms": 0.15, "looks": "crack", "seen": 0.0}],
}  # fmt: skip
PINS = """PIN NAME TYPE DESCRIPTION
1 VIN P Input supply. Bypass with
10 µF close to the pin.
2 SW O Switch node
3, EP GND G Ground
4 BOOT I Bootstrap
5 FB I Feedback
6-8 NC — Leave open
"""
STEPS = 60
SCREENS = [(1366, 768, "light"), (1920, 1080, "dark"), (1024, 768, "light")]


@pytest.fixture
def bench(tmp_path):
    file = tmp_path / "fault.json"
    file.write_text(json.dumps(FAULT))
    found = Bench("logger", str(file), 11)
    yield found
    found.close()


@pytest.mark.slow
def test_a_rail_is_rebuilt_from_its_photo_and_its_fault_found(serve, visit, bench, photo):
    served = serve("--own", "pocket logger")
    seen = visit(served.address)
    put_up(seen.page, photo.path)
    me = Person(seen.page, photo, bench)
    me.nearer("L4.2", 5)
    draw_the_rail(me)
    drawn = time.monotonic() - me.began
    clicks, keys = me.clicks, me.keys
    print(f"map: {clicks} clicks, {keys} keys, {drawn:.0f} s")
    me.press("m")
    for _ in range(STEPS):
        sentence = me.due()
        print(f"{time.monotonic() - me.began:5.0f} s {sentence}")
        if seen.page.locator("[data-state=proven]").count() or "Stop here" in sentence:
            break
        count = me.entries.count()
        me.do(sentence)
        expect(me.entries, f"nothing came of {sentence!r}").not_to_have_count(count, timeout=20_000)
    print(f"all: {me.clicks} clicks, {me.keys} keys, {time.monotonic() - me.began:.0f} s")
    proven = seen.page.locator("[data-state=proven]")
    expect(proven).to_be_visible()
    own = next(name for name, true in me.true.items() if true == "C18")
    assert re.search(rf"\b{own}\b", proven.inner_text())
    assert bench.do("truth")["parts"] == ["C18"]
    assert not seen.complaints
    assert not seen.abroad


@pytest.mark.slow
def test_on_a_practice_photo_the_meter_reads_what_lies_at_the_place(serve, visit, tmp_path):
    """Parts have names of the hand's own; the needle moves all the same, and one key takes each step to the end."""
    file = tmp_path / "fault.json"
    file.write_text(json.dumps(FAULT))
    served = serve("--photo", "--board", "logger", "--fault", str(file), "--seed", "11")
    seen = visit(served.address)
    page = seen.page
    page.get_by_role("button", name="Practice: use the photo").click()
    expect(page.get_by_role("heading", name="The map")).to_be_visible(timeout=60_000)
    me = Person(page, Photo(read_board_json(boards()["logger"]), tmp_path / "board.jpg", 600.0), None)
    me.nearer("L4.2", 5)
    draw_the_rail(me)
    me.press("m")
    shown = 0
    for _ in range(STEPS):
        sentence = me.due()
        if page.locator("[data-state=proven]").count() or "Stop here" in sentence:
            break
        if sentence.startswith("Probe"):
            expect(page.get_by_label("Meter")).to_contain_text(re.compile(r"\d|OL"), timeout=10_000)
            shown += 1
        count = me.entries.count()
        me.press("Space")
        if page.locator("button.armed").count():
            me.press("Space")
        expect(me.entries, f"nothing came of {sentence!r}").not_to_have_count(count, timeout=20_000)
    assert shown >= 3
    own = next(name for name, true in me.true.items() if true == "C18")
    expect(page.locator("[data-state=proven]")).to_contain_text(own)
    page.get_by_role("button", name="what was truly wrong").click()
    expect(page.locator("p[role=status] b")).to_contain_text(f"{own} (C18")
    assert not seen.complaints


def test_a_map_survives_a_reload_and_a_killed_server(serve, visit, bench, photo):
    served = serve("--own", "pocket logger")
    page = visit(served.address).page
    put_up(page, photo.path)
    me = Person(page, photo, bench)
    me.nearer("L4.2", 5)
    me.lay("l", "L1", "L4", "1", "2")
    me.lay("c", "C1", "C18", "1", "2")
    me.press("j")
    me.join("L4.2", "C18.1")
    page.reload()
    expect(page.get_by_text("C1 put on the map")).to_be_visible()
    served.end(hard=True)
    expect(page.get_by_text("The program does not answer").first).to_be_visible(timeout=10_000)
    serve("--resume", "--port", str(served.port))
    expect(page.get_by_text("The case is where it was")).to_be_visible(timeout=20_000)
    page.get_by_role("button", name="Draw the map").click()
    expect(page.get_by_role("heading", name="2 parts, 1 net")).to_be_visible()
    page.keyboard.press("Backspace")
    expect(page.get_by_role("heading", name="2 parts, 0 nets")).to_be_visible()


def test_parts_are_laid_moved_and_erased_by_keyboard_alone(serve, visit, photo):
    served = serve("--own", "pocket logger")
    seen = visit(served.address)
    page = seen.page
    put_up(page, photo.path)
    page.locator("canvas").focus()
    page.keyboard.press("c")
    expect(page.get_by_text("Click one pad of the capacitor, then the other.")).to_be_visible()
    expect(page.locator("canvas")).to_be_focused()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    expect(page.get_by_text("C1 put on the map")).to_be_visible()
    page.keyboard.press("Escape")
    page.keyboard.press("j")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowLeft")
    expect(page.get_by_text("C1.2", exact=True)).to_be_visible()  # the cross is on it
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="C1 · Capacitor")).to_be_visible()
    page.keyboard.press("Escape")
    page.keyboard.press("Escape")
    page.locator("canvas").evaluate("canvas => canvas.blur()")
    page.keyboard.press(",")
    expect(page.get_by_text("C1 put on the map")).to_have_count(2)
    page.keyboard.press("ArrowUp")
    expect(page.get_by_text("C1 put on the map")).to_have_count(3)
    page.keyboard.press("Delete")
    expect(page.get_by_text("C1 taken from the map")).to_be_visible()
    assert not seen.complaints


def test_what_is_no_picture_is_refused_with_the_reason(serve, visit, tmp_path):
    served = serve("--own", "pocket logger")
    page = visit(served.address).page
    file = tmp_path / "notes.jpg"
    file.write_text("not a picture")
    page.get_by_label("Choose the upper side").set_input_files(file)
    expect(page.get_by_role("alert")).to_contain_text("no picture that can be read")
    expect(page.get_by_role("heading", name="No picture of this board yet")).to_be_visible()


@pytest.mark.parametrize(("width", "height", "scheme"), SCREENS)
def test_the_map_is_accessible(serve, visit, photo, width, height, scheme):
    served = serve("--own", "pocket logger")
    seen = visit(served.address, color_scheme=scheme, bypass_csp=True)
    page = seen.page
    page.set_viewport_size({"width": width, "height": height})
    assert axe(page) == []
    put_up(page, photo.path)
    page.keyboard.press("u")
    assert axe(page) == []
    kinds = page.get_by_role("group", name="What to lay on the picture").get_by_role("button")
    sizes = kinds.evaluate_all("all => all.map(e => [e.offsetWidth, e.offsetHeight])")
    assert min(min(size) for size in sizes) >= 57, "15 mm at 96 px an inch"
    box = page.locator("canvas").bounding_box()
    for dx in (0, 60):
        page.mouse.click(box["x"] + box["width"] / 2 + dx, box["y"] + box["height"] / 2)
    expect(page.get_by_text("U1 put on the map")).to_be_visible()
    page.keyboard.press("j")
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    for n in range(100):  # until the picture has its pads
        page.mouse.move(x + n % 2, y)
        if page.locator(".name").count():
            break
        page.wait_for_timeout(100)
    page.mouse.click(x, y)
    page.get_by_role("button", name="Paste its pin table").click()
    page.get_by_label(re.compile("paste it here")).fill(PINS)
    expect(page.locator("tbody tr")).to_have_count(6)
    assert axe(page) == []


def axe(page) -> list[str]:
    """WCAG 2.2 AA as far as a machine can check it."""
    page.add_script_tag(path=AXE)
    return page.evaluate(
        "axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']}).then(r => "
        "r.violations.map(v => v.id + ': ' + v.nodes.map(n => n.html.slice(0, 140)).join(' | ')))"
    )


def draw_the_rail(me: Person) -> None:
    """The rail of 1.2 V: its regulator, coil, capacitors and divider."""
    me.press("u")
    me.choose("Package", "DFN")
    me.choose("Pins", "8")
    me.lay("", "U1", "U4", "1", "5")
    me.lay("l", "L1", "L4", "1", "2")
    me.lay("c", "C1", "C18", "1", "2")
    me.lay("", "C2", "C19", "1", "2")
    me.lay("", "C3", "C17", "1", "2")
    me.lay("", "C4", "C490", "1", "2")
    me.lay("r", "R1", "R491", "1", "2")
    me.lay("", "R2", "R492", "1", "2")
    me.whole()
    me.nearer("U8.1", 4)
    me.press("i")
    me.choose("Package", "QFN")
    me.choose("Pins", "48")
    me.lay("", "U2", "U8", "1", "25")
    me.whole()
    me.nearer("L4.2", 5)
    me.press("Escape")
    me.click_pad("U4.1")
    me.paste_pins(PINS, 6)
    me.press("j")
    for chain in (
        ("L4.2", "C18.1", "C19.1", "R491.1"), ("U4.2", "L4.1", "C490.2"), ("U4.4", "C490.1"),
        ("U4.5", "R491.2", "R492.1"), ("U4.1", "C17.1"),
    ):  # fmt: skip
        me.join(*chain)
    me.press("g")
    me.mark_ground("U4.3", "C18.2", "C19.2", "C17.2", "R492.2")
    me.press("Escape")
    me.name_net("L4.2", "V12", "1.2")
    me.name_net("U4.1", "SYS", "4.2")
    me.whole()
    me.nearer("U8.1", 4)
    me.name_net("U8.1", "V12", "1.2")
    me.press("g")
    me.mark_ground("U8.4")
    me.press("Escape")
