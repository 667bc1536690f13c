"""A rail mapped from two photographs with nothing but a tester and the page's own questions, and its fault found."""

import json
import re
import time
from dataclasses import dataclass

import cv2
import pytest
from playwright.sync_api import expect
from tests.page.bench import Bench
from tests.page.conftest import AXE
from tests.page.person import Person, Photo, _with_all_pads, put_up, put_up_underside

from ohmwright.formats.board_json import read_board_json
from ohmwright.geometry.packages import pad_centres
from ohmwright.pictures.photo import PhotoRequest, photograph
from ohmwright.pictures.render import ScanRequest, board_picture
from ohmwright.practice.choice import boards

FAULT = {
    "format": "ohmwright-fault", "version": 1, "name": "shorted-output", "board": "pocket logger",
    "words": "Dead.", "defects": [{"part": "C18", "mode": "short", "ohms": 0.15, "looks": "crack", "seen": 0.0}],
}  # fmt: skip
PINS = "1 VIN P Input supply\n2 SW O Switch node\n3, EP GND G Ground\n4 BOOT I Bootstrap\n5 FB I Feedback\n"
PINS += "6-8 NC — Leave open\n"
STEPS, QUESTIONS = 60, 30
LONGEST = 150.0
"""For the hand, half of five minutes: what the machine takes is printed, not judged, as it hangs on the machine. [s]"""
HAND = 0.8
"""What a click of a newcomer's hand takes beyond what the browser needs. [s] a guess, for a slow hand"""


class Snapshot(Photo):
    """A photograph: askew, through a lens, unevenly lit."""

    def __init__(self, board, path, side="top"):
        scan = board_picture(board, ScanRequest(side=side, dots_per_inch=400.0, seed=5))
        asked = PhotoRequest(width_px=2600, height_px=1950, tilt_deg=6.0, turn_deg=4.0, roll_deg=2.0, blur_px=0.5)
        pixels, view = photograph(scan, asked)
        cv2.imwrite(str(path), pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])
        self.path = path
        self.height, self.width = pixels.shape[:2]
        self._view = view
        parts = [_with_all_pads(part) for part in board.parts]
        self._pads = {f"{pad.part}.{pad.pin}": pad.centre for part in parts for pad in pad_centres(part)}


@dataclass
class Found:
    page: object
    me: Person


@pytest.fixture(scope="module")
def photos(board, tmp_path_factory):
    folder = tmp_path_factory.mktemp("photos")
    return [Snapshot(board, folder / f"{side}.jpg", side) for side in ("top", "bottom")]


@pytest.fixture
def bench(tmp_path):
    file = tmp_path / "fault.json"
    file.write_text(json.dumps(FAULT))
    found = Bench("logger", str(file), 11)
    yield found
    found.close()


def begin(serve, visit, photos, bench, **context):
    served = serve("--own", "pocket logger")
    seen = visit(served.address, **context)
    put_up(seen.page, photos[0].path)
    return seen, Person(seen.page, photos[0], bench)


def lay_the_rail(me):
    me.nearer("L4.2", 5)
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
    me.press("Escape")
    me.click_pad("U4.1")
    me.paste_pins(PINS, 6)


def buzz(me, board):
    """Hold the tester where the page says, and answer by a key. The rail is short to ground: it beeps with it."""
    nets = {f"{p.name}.{q.number}": q.net for p in board.parts for q in p.pins}
    asked = me.page.get_by_role("group", name="Buzz next").locator(".big")
    count = 0
    while count < QUESTIONS and asked.count():
        sentence = asked.inner_text()
        first, second = re.match(r"Buzz (\S+) and (.+)\.$", sentence).groups()
        a, b = (board.ground if end == "GND" else me.point(end) for end in (first, second))
        known = {pad for pad, net in nets.items() if net} | {board.ground}
        heard = me.bench.read("ohms", a, b) if {a, b} <= known else "OL"
        me.press("y" if heard != "OL" and float(heard) < 30.0 else "n")
        count += 1
        expect(asked.filter(has_text=sentence)).to_have_count(0, timeout=10_000)
    return count


@pytest.mark.slow
def test_a_newcomer_maps_a_rail_by_buzzing_and_the_fault_is_found(serve, visit, photos, bench, board):
    seen, me = begin(serve, visit, photos, bench)
    page = me.page
    put_up_underside(page, photos[1].path)
    lay_the_rail(me)
    me.press("b")
    questions = buzz(me, board)
    # whichever capacitor was asked about first; it has to be one that the short truly bridges
    short = re.compile(r"though (C\d) lies between: it or its rail may be short")
    expect(page.get_by_text(short).first).to_be_visible()
    named = short.search(page.get_by_text(short).first.inner_text())[1]
    assert float(me.bench.read("ohms", me.point(f"{named}.1"), me.point(f"{named}.2"))) < 30.0
    me.press("b")
    me.press("Escape")
    me.press("v")
    for chain in (("L4.2", "C18.1", "C19.1", "R491.1"), ("U4.2", "L4.1", "C490.2")):
        me.join(*chain)
    me.press("g")
    me.mark_ground("C18.2", "C19.2", "C17.2", "R492.2")
    me.press("Escape")
    me.name_net("L4.2", "V12", "1.2")
    me.name_net("U4.1", "SYS", "4.2")
    took, clicks, keys = time.monotonic() - me.began, me.clicks, me.keys
    by_hand = HAND * (clicks + questions)
    print(
        f"map: {clicks} clicks, {keys} keys, {questions} questions, {took:.0f} s here and {by_hand:.0f} s of a slow hand"
    )
    nets = {own: page.evaluate("pad => fetch('/api/map/pad?pad=' + pad).then(r => r.json()).then(s => s.net)", own)
            for own in (f"{name}.{pin}" for name in ("L1", "C1", "C2", "U1") for pin in ("1", "2"))}  # fmt: skip
    true = {own: board.net_at(me.point(own)) for own in nets}
    wrong = [(a, b) for a in nets for b in nets if nets[a] and nets[a] == nets[b] and true[a] != true[b]]
    assert not wrong, "no two coppers were taken for one, though the rail is short to ground"
    assert by_hand < LONGEST
    me.press("m")
    for _ in range(STEPS):
        sentence = me.due()
        print(f"{time.monotonic() - me.began:5.0f} s {sentence}")
        if page.locator("[data-state=proven]").count() or "Stop here" in sentence:
            break
        count = me.entries.count()
        me.do(sentence)
        expect(me.entries, f"nothing came of {sentence!r}").not_to_have_count(count, timeout=20_000)
    print(f"all: {me.clicks} clicks, {me.keys} keys, {time.monotonic() - me.began:.0f} s")
    own = next(name for name, true in me.true.items() if true == "C18")
    expect(page.locator("[data-state=proven]")).to_contain_text(own)
    assert bench.do("truth")["parts"] == ["C18"]
    assert not seen.complaints


def test_what_is_asked_stays_until_it_is_answered(serve, visit, photos):
    """A thought that comes in late makes another pair worth more: the tester is on its way to this one already."""
    seen, me = begin(serve, visit, photos, None)
    page = me.page
    me.nearer("L4.2", 5)
    for key, own, true in (("l", "L1", "L4"), ("c", "C1", "C18"), ("", "C2", "C19")):
        me.lay(key, own, true, "1", "2")
    me.press("Escape")
    me.press("b")
    asked = page.get_by_role("group", name="Buzz next").locator(".big")
    first = asked.inner_text()

    def turned_round(route):
        told = route.fetch().json()
        route.fulfill(json={**told, "next": told["next"][::-1]})

    page.route("**/api/map/nets", turned_round)
    with page.expect_response("**/api/map/nets"):
        me.click_pad("C18.1")
    with page.expect_response("**/api/map/nets"):
        me.click_pad("C19.1")
    page.wait_for_timeout(200)
    assert asked.inner_text() == first
    page.unroute_all(behavior="wait")
    a, b = re.match(r"Buzz (\S+) and (\S+)\.", first).groups()
    me.press("n")
    expect(page.get_by_text(f"silent between {a} and {b}")).to_be_visible()
    expect(asked).not_to_have_text(first)
    assert not seen.complaints


def test_what_disagrees_is_shown_and_taken_back(serve, visit, photos, bench):
    seen, me = begin(serve, visit, photos, None)
    page = me.page
    me.nearer("L4.2", 5)
    me.lay("l", "L1", "L4", "1", "2")
    me.lay("c", "C1", "C18", "1", "2")
    me.press("j")
    me.join("L4.2", "C18.1")
    me.press("s")
    me.click_pad("L4.2")
    me.click_pad("C18.1")
    expect(page.get_by_text("silent between C1.1 and L1.2")).to_be_visible()
    me.press("Escape")
    me.press("Escape")
    me.press("b")
    me.click_pad("C18.1")
    expect(page.get_by_text("both cannot be")).to_be_visible()
    page.get_by_role("button", name="Take back").first.click()
    expect(page.get_by_text("both cannot be")).to_have_count(0)
    assert not seen.complaints


def test_looks_both_sides_and_the_figure_by_mouse(serve, visit, photos):
    seen, me = begin(serve, visit, photos, None)
    page = me.page
    put_up_underside(page, photos[1].path)
    me.nearer("L4.2", 5)
    me.lay("c", "C1", "C18", "1", "2")
    me.press("Escape")
    me.click(re.compile("^Looking"))
    me.click("40×")
    me.click("What is in sight shows nothing")
    expect(page.get_by_text(re.compile("looked over .* at 40 times"))).to_be_visible(timeout=20_000)
    me.click_pad("C18.1")
    me.click(re.compile("cracked"))
    expect(page.get_by_text("looked at C1: crack")).to_be_visible()
    for kind, begins in (("SVG", b"<svg"), ("PNG", b"\x89PNG\r\n\x1a\n")):
        with page.expect_download() as download:
            me.click(f"Save as {kind}")
        data = download.value.path().read_bytes()
        assert data.startswith(begins)
        assert len(data) > 20_000
    me.click("Both sides")
    expect(page.get_by_role("img", name=re.compile("underside"))).to_be_visible()
    assert not seen.complaints
    assert not seen.abroad


def test_a_board_file_is_laid_by_clicks(serve, visit, photos, board, tmp_path):
    """The practice board's own netlist with places, as a test file: marked in four places, it lies on the photo."""
    nets = {f"{p.name}.{q.number}": q.net for p in board.parts for q in p.pins}
    lines = ["P  UNITS CUST 1"]
    for pad in (pad for part in board.parts if part.place for pad in pad_centres(part)):
        net = nets.get(f"{pad.part}.{pad.pin}")
        layer = 2 if pad.side == "bottom" else 1
        x, y, w, h = (round(1000 * v) for v in (pad.x_mm, -pad.y_mm, pad.width_mm, pad.height_mm))
        place = f"A{layer:02d}X{x:>7}Y{y:>7}X{w:>4}Y{h:>4}R  0"
        lines.append(f"327{(net or 'N/C')[:14]:<14}   {pad.part:<6}-{pad.pin:<4}       {place}")
    file = tmp_path / "logger.ipc"
    file.write_text("\n".join([*lines, "999"]) + "\n")
    seen, me = begin(serve, visit, photos, None)
    page = me.page
    me.press("o")
    page.get_by_label("Choose a board file").set_input_files(file)
    expect(page.get_by_text("IPC-D-356 test file")).to_be_visible()
    for _ in range(6):
        told = page.locator("p.big").inner_text()
        if not (found := re.match(r"Click (\S+) on", told)):
            break
        me.click_pad(found[1])
        expect(page.locator("p.big")).not_to_have_text(told)
    expect(page.get_by_text(re.compile("^It fits: .*mm off"))).to_be_visible()
    print(page.get_by_text(re.compile("^It fits")).inner_text())
    me.click("Lay it on the picture")
    expect(page.get_by_text("board laid on the picture")).to_be_visible(timeout=20_000)
    points = page.evaluate("fetch('/api/sight').then(r => r.json())")
    layer = points["layers"][0]["to_board"]
    scale = (layer[0] ** 2 + layer[3] ** 2) ** 0.5
    off = []
    for point in points["points"]:
        x, y = photos[0].at(point["name"])
        if point["side"] == "top":
            off.append(((layer[0] * x + layer[1] * y + layer[2] - point["x"]) ** 2
                        + (layer[3] * x + layer[4] * y + layer[5] - point["y"]) ** 2) ** 0.5 / scale)  # fmt: skip
    off.sort()
    print(f"pads off: median {off[len(off) // 2]:.1f} px, 19 of 20 under {off[int(0.95 * len(off))]:.1f} px")
    assert off[len(off) // 2] < 8.0, "a lens bends more than six points can tell; the photo has 38 px to the millimetre"
    assert not seen.complaints


@pytest.mark.parametrize(
    ("width", "height", "scheme"), [(1366, 768, "light"), (1024, 768, "dark")]
)
def test_the_leaves_are_accessible(serve, visit, photos, width, height, scheme):
    _, me = begin(serve, visit, photos, None, color_scheme=scheme, bypass_csp=True)
    page = me.page
    page.set_viewport_size({"width": width, "height": height})
    page.keyboard.press("c")
    box = page.locator("canvas").first.bounding_box()
    for dx in (0, 60):
        page.mouse.click(box["x"] + box["width"] / 2 + dx, box["y"] + box["height"] / 2)
    expect(page.get_by_text("C1 put on the map")).to_be_visible(timeout=30_000)
    page.keyboard.press("Escape")
    for key, words in (("b", "Buzz next"), ("w", "Magnification"), ("o", "Choose a board file")):
        page.keyboard.press(key)
        expect(page.get_by_label(words).first).to_be_visible()
        page.add_script_tag(path=AXE)
        broken = page.evaluate(
            "axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']}).then(r => "
            "r.violations.map(v => v.id + ': ' + v.nodes.map(n => n.html.slice(0, 140)).join(' | ')))"
        )
        assert broken == []
    leaves = page.get_by_role("group", name="Leaves of the map").get_by_role("button")
    sizes = leaves.evaluate_all("all => all.map(e => [e.offsetWidth, e.offsetHeight])")
    assert min(min(size) for size in sizes) >= 57, "15 mm at 96 px an inch"
