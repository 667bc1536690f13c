"""A newcomer with two photos held askew and no board file: a charger's rail mapped by mouse alone, by touch alone."""

import json
import re
import time

import cv2
import pytest
from playwright.sync_api import expect
from tests.page.bench import Bench
from tests.page.person import REACTION, WHEEL, Person, Photo, put_up, put_up_underside

from ohmwright.formats.board_json import read_board_json
from ohmwright.pictures.photo import PhotoRequest, photograph
from ohmwright.pictures.render import ScanRequest, board_picture
from ohmwright.practice.choice import boards

FAULT = {
    "format": "ohmwright-fault", "version": 1, "name": "shorted-system-rail", "board": "pocket logger",
    "words": "Dead.", "defects": [{"part": "C6", "mode": "short", "ohms": 0.2, "looks": "crack", "seen": 0.0}],
}  # fmt: skip
PINS = """PIN NAME TYPE DESCRIPTION
1 VBUS P Supply input
2 SW O Switch node
3 GND G Ground
4 SYS P System output
5 BAT P Battery
6 VDRV O Gate drive supply
7 BTST I Bootstrap
8 SDA I/O Data
9 SCL I Clock
"""
STEPS = 60
LONGEST = 150.0
"""What the rail may take of a hand's time, half of five minutes; what the machine takes is printed, not judged. [s]"""
HAND_S = 1.1
"""What it takes a hand to point and press, once it knows what. [s] S. K. Card, T. P. Moran and A. Newell, "The
keystroke-level model", CACM 23 (1980) 396-410: pointing 1.1 s; from memory"""
THINK_S = 1.35
"""What it takes to decide what to do next, once for each part and each net. [s] the same, from memory"""


class Askew(Photo):
    """A photo held by hand: perspective, the lens, uneven light."""

    def __init__(self, board, path, *, side="top", seed=3):
        super().__init__(board, path.with_suffix(".scan.jpg"), 60.0)
        source = board_picture(board, ScanRequest(side=side, dots_per_inch=600, seed=6))
        request = PhotoRequest(
            width_px=3200, height_px=2400, fill=0.82, tilt_deg=6.0, turn_deg=-4.0, roll_deg=2.0, k1=-0.06,
            k2=0.01, blur_px=0.7, noise=2.0, uneven=0.35, glare=0.1, seed=seed,
        )  # fmt: skip
        pixels, self.view = photograph(source, request)
        cv2.imwrite(str(path), pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 93])
        self.path = path
        self.height, self.width = pixels.shape[:2]

    def at(self, pad):
        point = self._pads[pad]
        return tuple(float(v) for v in self.view.pixels([[point.x_mm, point.y_mm]])[0])


class Newcomer(Person):
    """Does all by one kind of pointer; a key is an error."""

    def __init__(self, page, photo, bench, *, touch):
        super().__init__(page, photo, bench)
        self.touch, self.testing, self.joins = touch, False, 0
        self._line = page.context.new_cdp_session(page) if touch else None

    def press(self, key):
        """Figures of the meter are typed, once the map is drawn."""
        assert self.testing, f"the key {key} was pressed"
        super().press(key)

    def _point(self, x, y):
        self.clicks += 1
        if self.touch:
            self.page.touchscreen.tap(x, y)
        else:
            self.page.mouse.click(x, y)

    def click_place(self, pad):
        self._point(*self.seen(pad))

    def _rest_on(self, x, y):
        if not self.touch:
            super()._rest_on(x, y)

    def click(self, name):
        button = self.page.get_by_role("button", name=name).first
        button.scroll_into_view_if_needed()
        box = button.bounding_box()
        if self.touch:
            assert min(box["width"], box["height"]) >= 56.5, f"{name} is {box['width']:.0f} by {box['height']:.0f} px"
        self._point(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)

    def nearer(self, pad, notches):
        if not self.touch:
            super().nearer(pad, notches)
            return
        (x, y), box = self.seen(pad), self._box
        reach, grown = 30.0, WHEEL**notches
        tips = [[x - reach, y], [x + reach, y]]
        self._fingers("touchStart", tips)
        for step in range(1, 9):
            for n, sign in enumerate((-1, 1)):
                before = [list(tip) for tip in tips]
                tips[n] = [x + sign * reach * (1 + (grown - 1) * step / 8), y]
                self._fingers("touchMove", tips)
                self._pinched(before, tips, n, box)
        self._fingers("touchEnd", [])
        self.clicks += 1
        self.page.wait_for_timeout(REACTION)

    def _pinched(self, before, after, n, box):
        """What the page does with one finger that moved."""
        o = after[1 - n]
        u, v = (after[n][0] + o[0]) / 2 - box["x"], (after[n][1] + o[1]) / 2 - box["y"]
        self._x += (after[n][0] - before[n][0]) / 2
        self._y += (after[n][1] - before[n][1]) / 2
        k = abs(after[n][0] - o[0]) / abs(before[n][0] - o[0])
        self._scale *= k
        self._x, self._y = u - (u - self._x) * k, v - (v - self._y) * k

    def _fingers(self, what, tips):
        points = [{"x": x, "y": y, "id": n} for n, (x, y) in enumerate(tips)]
        self._line.send("Input.dispatchTouchEvent", {"type": what, "touchPoints": points})

    def lay(self, own, true, first="1", far="2"):
        self.click_place(f"{true}.{first}")
        self.click_place(f"{true}.{far}")
        self.true[own] = true
        expect(self.page.get_by_text(f"{own} put on the map").first).to_be_visible(timeout=40_000)

    def join(self, first, *others):
        self.click(re.compile("^Join pads that buzz"))
        self.click_pad(first)
        for other in others:
            assert float(self.bench.read("ohms", first, other)) < 2.0
            self.click_pad(other)
            self.joins += 1
            expect(self.page.get_by_text(re.compile("^e\\d+ same copper"))).to_have_count(self.joins)


@pytest.fixture(scope="module")
def photos(tmp_path_factory):
    board, room = read_board_json(boards()["logger"]), tmp_path_factory.mktemp("photos")
    return Askew(board, room / "top.jpg"), Askew(board, room / "under.jpg", side="bottom", seed=4)


@pytest.fixture
def bench(tmp_path):
    file = tmp_path / "fault.json"
    file.write_text(json.dumps(FAULT))
    found = Bench("logger", str(file), 11)
    yield found
    found.close()


def map_the_rail(me):
    """A charger, its coil, and the capacitors about it; what belongs together, and ground."""
    me.nearer("L1.2", 6)
    me.choose("Another kind", "charger")
    me.choose("Package", "QFN")
    me.choose("Pins", "16")
    me.lay("U1", "U1", "1", "9")
    me.click(re.compile("^Coil"))
    me.lay("L1", "L1")
    me.click(re.compile("^Capacitor"))
    for own, true in enumerate(("C5", "C6", "C7", "C3", "C4", "C8", "C2"), 1):
        me.lay(f"C{own}", true)
    me.join("L1.2", "C5.1", "C6.1", "C7.1", "U1.4")
    me.paste_pins(PINS, 9)
    me.join("L1.1", "U1.2", "C3.2")
    me.join("C3.1", "U1.7")
    me.join("C4.1", "U1.6")
    me.join("C8.1", "U1.5")
    me.join("C2.1", "U1.1")
    me.click(re.compile("^Mark ground"))
    me.mark_ground("U1.3", "C5.2", "C6.2", "C7.2", "C4.2", "C8.2", "C2.2")


def say_where_power_comes_in(me):
    """The label at the socket says 5 V; the meter says which contact is plus."""
    place = me.page.get_by_label("Power comes in at")
    place.select_option("the C7.1 net")  # the capacitor at the charger's input
    me.page.get_by_label("Volts on its label").fill("5")
    me.page.get_by_label("I measured which contact is plus").check()
    me.page.get_by_label("The battery is out").check()
    me.clicks, me.keys = me.clicks + 5, me.keys + 1
    me.click("Enter")


def find_the_fault(me):
    for _ in range(STEPS):
        sentence = me.due()
        print(f"{time.monotonic() - me.began:5.0f} s {sentence}")
        if me.page.locator("[data-state=proven]").count() or "Stop here" in sentence:
            break
        count = me.entries.count()
        if sentence.startswith("Battery out"):
            say_where_power_comes_in(me)
        else:
            me.do(sentence)
        expect(me.entries, f"nothing came of {sentence!r}").not_to_have_count(count, timeout=20_000)


@pytest.mark.slow
@pytest.mark.parametrize("touch", [False, True], ids=["mouse", "touch"])
def test_a_rail_is_mapped_from_two_photos_by_one_pointer(serve, visit, bench, photos, touch):
    served = serve("--own", "pocket logger")
    seen = visit(served.address, **({"has_touch": True} if touch else {}))
    page, (top, under) = seen.page, photos
    put_up(page, top.path)
    put_up_underside(page, under.path)
    me = Newcomer(page, top, bench, touch=touch)
    me.clicks += 4  # two files, two presses each
    me.click(re.compile("^Pictures"))
    me.click(re.compile("^under.jpg"))
    me.click(re.compile("^Find where under.jpg lies"))
    laid = page.get_by_text(re.compile(r"by its edge to top\.jpg, [\d.]+ mm off|did not register"))
    expect(laid.first).to_be_visible(timeout=60_000)
    print(laid.first.inner_text())
    me.click("Upper side")
    me.click(re.compile("^Pictures"))
    map_the_rail(me)
    took = time.monotonic() - me.began
    hand = me.clicks * HAND_S + THINK_S * 14
    print(
        f"{'touch' if touch else 'mouse'}: {me.clicks} presses, {me.keys} keys (one paste), machine {took:.0f} s,"
        f" a hand's time {hand:.0f} s"
    )
    assert hand < LONGEST
    assert not seen.complaints
    if touch:  # the bench is the same for both
        return
    me.click(re.compile("^Test with this map"))
    me.testing = True
    find_the_fault(me)
    own = next(name for name, true in me.true.items() if true == "C6")
    expect(page.locator("[data-state=proven]")).to_contain_text(own)
    assert not seen.complaints
