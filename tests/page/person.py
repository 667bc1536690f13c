"""Somebody with a board, a photo of it, a mouse and a keyboard. They see the screen and the bench, nothing else."""

from __future__ import annotations

import json
import re
import time
from dataclasses import replace
from pathlib import Path

import cv2
from playwright.sync_api import Page, expect
from tests.page.bench import Bench

from ohmwright.circuit import Board, Part, Pin
from ohmwright.geometry.packages import pad_centres, part_pattern
from ohmwright.pictures.render import ScanRequest, board_picture

SUPPLY = r"Switch the supply on: ([\d.]+) V, at most ([\d.]+) A\. Plus on (.+), minus on (\S+)\."
REACTION = 150
"""How long it takes anybody to act on what they read, at the least. [ms]"""
BEEP = 30.0
"""What a continuity tester beeps below. [Ω] common practice, no source"""
WHEEL = 1.2
"""How much nearer one notch of the wheel brings the picture. [1]"""


def put_up(page: Page, file: Path) -> None:
    """Give the page its first picture, and wait until it is there: clicks and keys on nothing are lost.

    The picture itself comes over another line than the entry that tells of it, and a moment later.
    """
    page.get_by_label("Choose the upper side").set_input_files(file)
    expect(page.get_by_role("heading", name="The map")).to_be_visible(timeout=30_000)
    expect(page.get_by_text("picture of the upper side")).to_be_visible()
    expect(page.get_by_text("Add the underside")).to_be_visible()


def put_up_underside(page: Page, file: Path) -> None:
    """Add the underside, and wait until the page has heard of it: what is done on older news is refused."""
    page.get_by_label("Add the underside").set_input_files(file)
    expect(page.get_by_role("button", name="Underside", exact=True)).to_be_visible(timeout=30_000)
    expect(page.get_by_text("picture of the underside")).to_be_visible(timeout=30_000)


def began(serve, visit, photo: Photo, **context: object):
    """A board of one's own with its first picture up, and somebody before it; `context` is of the browser."""
    seen = visit(serve("--own", "pocket logger").address, **context)
    put_up(seen.page, photo.path)
    return seen, Person(seen.page, photo, None)


def sight(page: Page) -> dict[str, list]:
    """What the page has of pictures and pads. [mm]"""
    return json.loads(page.evaluate("fetch('/api/sight').then((a) => a.text())"))


def dots_per_inch(page: Page, dpi: int) -> None:
    """Say that the picture is a scan, and so how large a millimetre is."""
    page.keyboard.press("k")
    page.get_by_label("A scan at").fill(str(dpi))
    page.get_by_role("button", name="Set", exact=True).click()
    expect(page.get_by_text(f"Scale: a scan at {dpi} dpi")).to_be_visible()
    page.keyboard.press("k")


class Photo:
    """A picture of the board in a file; where something is on it, an eye sees."""

    def __init__(self, board: Board, path: Path, dots_per_inch: float = 500.0) -> None:
        picture = board_picture(board, ScanRequest(dots_per_inch=dots_per_inch, seed=5))
        cv2.imwrite(str(path), picture.pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])
        self.path = path
        self.height, self.width = picture.pixels.shape[:2]
        self._view = picture.view
        parts = [_with_all_pads(part) for part in board.parts]
        self._pads = {f"{pad.part}.{pad.pin}": pad.centre for part in parts for pad in pad_centres(part)}

    def at(self, pad: str) -> tuple[float, float]:
        """Where a pad is seen on it, in pixels."""
        point = self._view.picture_point(self._pads[pad])
        return point.x_px, point.y_px


def _with_all_pads(part: Part) -> Part:
    """A chip on the board has all its pads, also those that its description leaves out."""
    known = {pin.number for pin in part.pins}
    more = tuple(Pin(land.number) for land in part_pattern(part).lands if land.number not in known)
    return replace(part, pins=(*part.pins, *more)) if len(part.pins) > 2 else part


class Person:
    """Counts what their hands do."""

    def __init__(self, page: Page, photo: Photo, bench: Bench | None) -> None:
        self.page, self.photo, self.bench = page, photo, bench
        self.clicks = self.keys = 0
        self.began = time.monotonic()
        page.set_default_timeout(10_000)
        self.entries = page.locator("section[aria-labelledby=known] li")
        self.true: dict[str, str] = {}
        self._fit()

    @property
    def _box(self) -> dict[str, float]:
        """Where the picture is on the screen at this moment: on a tablet the page can be pushed."""
        return self.page.locator("section.ground canvas").first.bounding_box()

    def _fit(self) -> None:
        """The whole picture is in sight, in the middle, as the page first shows it and keeps it until it is moved."""
        self._whole, box = True, self._box
        self._scale = min(box["width"] / self.photo.width, box["height"] / self.photo.height) * 0.98
        self._x = (box["width"] - self.photo.width * self._scale) / 2
        self._y = (box["height"] - self.photo.height * self._scale) / 2

    def seen(self, pad: str) -> tuple[float, float]:
        """Where a pad is on the screen."""
        if self._whole:
            self._fit()  # a tool that came or went has changed the room there is
        (x, y), box = self.photo.at(pad), self._box
        return box["x"] + self._x + (x + 0.5) * self._scale, box["y"] + self._y + (y + 0.5) * self._scale

    def whole(self) -> None:
        """The whole board again."""
        self.click("Whole board")
        self._fit()

    def nearer(self, pad: str, notches: int) -> None:
        (x, y), box = self.seen(pad), self._box
        self._whole = False
        self.page.mouse.move(x, y)
        for _ in range(notches):
            self.page.mouse.wheel(0, -120)
            self._scale *= WHEEL
            u, v = x - box["x"], y - box["y"]
            self._x, self._y = u - (u - self._x) * WHEEL, v - (v - self._y) * WHEEL
        self.page.wait_for_timeout(REACTION)
        # Then to the middle, where nothing lies over the picture.
        self.drag(box["x"] + box["width"] / 2 - x, box["y"] + box["height"] / 2 - y)

    def drag(self, dx: float, dy: float) -> None:
        """Pull the picture by so many pixels of the screen."""
        self._whole, box = False, self._box
        x, y = box["x"] + box["width"] / 2 - dx / 2, box["y"] + box["height"] / 2 - dy / 2
        self.page.mouse.move(x, y)
        self.page.mouse.down()
        self.page.mouse.move(x + dx / 2, y + dy / 2)
        self.page.mouse.move(x + dx, y + dy)
        self.page.mouse.up()
        self._x, self._y = self._x + dx, self._y + dy

    def click_place(self, pad: str) -> None:
        """Click where a pad is on the picture, drawn or not."""
        self.page.mouse.click(*self.seen(pad))
        self.clicks += 1

    def click_pad(self, pad: str) -> None:
        """Click a pad that is on the map."""
        self._rest_on(*self.seen(pad))
        self.click_place(pad)

    def _rest_on(self, x: float, y: float) -> None:
        """Hold the mouse there until the page names the pad: a part just laid shows its pads a moment later."""
        named = self.page.locator("main .picture .name")
        for _ in range(40):
            self.page.mouse.move(x + 1, y)
            self.page.mouse.move(x, y)
            if named.count():
                return
            self.page.wait_for_timeout(50)

    def click(self, name: str | re.Pattern[str]) -> None:
        self.page.get_by_role("button", name=name).first.click()
        self.clicks += 1

    def press(self, key: str) -> None:
        self.page.keyboard.press(key)
        self.keys += 1

    def type(self, text: str) -> None:
        self.page.keyboard.type(text)
        self.keys += len(text)

    # Drawing.

    def lay(self, key: str, own: str, true: str, first: str, far: str) -> None:
        """Lay a part by its key and two clicks; `own` is the name the page gives it."""
        if key:
            self.press(key)
        self.click_place(f"{true}.{first}")
        self.click_place(f"{true}.{far}")
        self.true[own] = true
        expect(self.page.get_by_text(f"{own} put on the map").first).to_be_visible(timeout=40_000)

    def choose(self, label: str, option: str) -> None:
        """From a list: a click to open it, another to choose."""
        self.page.get_by_role("combobox", name=label).select_option(option)
        self.clicks += 2

    def paste_pins(self, text: str, rows: int) -> None:
        """Paste a table from the datasheet, look it over, take it."""
        self.click("Paste its pin table")
        box = self.page.get_by_label(re.compile("paste it here"))
        box.click()
        self.page.keyboard.insert_text(text)
        self.clicks, self.keys = self.clicks + 1, self.keys + 1
        expect(self.page.locator("tbody tr")).to_have_count(rows)
        self.click(re.compile("These are right"))
        expect(self.page.locator("tbody tr")).to_have_count(0)

    def join(self, first: str, *others: str) -> None:
        """Buzz each against the first, and click those that beep."""
        self.click_pad(first)
        for other in others:
            if self.bench is not None:
                heard = self.bench.read("ohms", first, other)
                assert heard != "OL"
                assert float(heard) < 2.0, f"{first} and {other} do not buzz"
            self.click_pad(other)
            expect(self.page.get_by_text("same copper").first).to_be_visible()
        self.press("Escape")

    def mark_ground(self, *pads: str) -> None:
        """Click what is ground."""
        for pad in pads:
            self.click_pad(pad)

    def name_net(self, pad: str, name: str, volts: str) -> None:
        """Say what the copper at a pad is called, and its volts."""
        self.click_pad(pad)
        self.page.get_by_role("textbox", name="Name", exact=True).click()
        self.type(name)
        self.page.get_by_role("textbox", name="Volts when all is well").click()
        self.type(volts)
        self.press("Enter")
        self.clicks += 2
        expect(self.page.get_by_text(re.compile(f"copper at .*: {name}")).first).to_be_visible(timeout=10_000)

    def buzz(self, a: str, b: str) -> str:
        """What the tester shows; a pin that the bench does not describe is joined to nothing."""
        try:
            return self.bench.read("ohms", self.point(a), self.point(b))
        except AssertionError:
            return "OL"

    def point(self, own: str) -> str:
        """A point of the screen by its true name: a pad, a net by its own name, or one named for a pad of it."""
        if found := re.fullmatch(r"the (\S+) net", own):
            own = found[1]
        name, dot, pin = own.rpartition(".")
        return f"{self.true[name]}.{pin}" if dot else own

    # Testing.

    def due(self) -> str:
        sentence, text = self.page.locator(".sentence"), "Waiting"
        while re.search("Working out|Waiting", text):  # it may begin to think only after a look at it
            expect(sentence).not_to_have_text(re.compile("Working out|Waiting"), timeout=60_000)
            self.page.wait_for_timeout(REACTION)
            text = sentence.inner_text().replace("\u00a0", " ")
        return text

    def do(self, sentence: str) -> None:
        """Do at the bench what the sentence says, and tell the page what came of it."""
        if found := re.match(r"Probe (.+) with red, (.+) with black", sentence):
            self._read(found[1], found[2])
        elif "supply's own display" in sentence:
            self._enter(self.bench.shown("VOLT" if "volts" in sentence else "CURR"))
        elif found := re.match(SUPPLY, sentence):
            self.bench.feed(self.point(found[3]), self.point(found[4]), float(found[1]), float(found[2]))
            self.press("Space")
            self.press("Space")
        elif sentence.startswith("Switch the supply off"):
            self.bench.feed_off()
            self.press("Space")
        elif found := re.match(r"Buzz (\S+) and (.+): does it beep", sentence):
            heard = self.buzz(found[1], found[2])
            self.press("y" if heard != "OL" and float(heard) < BEEP else "n")
        elif sentence.startswith("Discharge"):
            self.bench.do("discharge")
            self.press("Space")
        elif sentence.startswith("Battery out"):
            self.page.get_by_label("The battery is out").check()
            self.clicks += 1
            self.click("Enter")
        elif "ook closely" in sentence or sentence.startswith("Feel"):
            self._sense("look" if "ook" in sentence else "heat")
        elif sentence.startswith("Try"):
            self.click("It works" if self.bench.do("try")["works"] else "Still dead")
        else:
            self._at_part(sentence)

    def _read(self, red: str, black: str) -> None:
        how = self.page.locator("p.why b").first.inner_text()
        mode = "diode" if "diode" in how else "ohms" if "ohms" in how else "volts"
        self._enter(self.bench.read(mode, self.point(red), self.point(black), loose="by itself" in how))

    def _enter(self, shown: str) -> None:
        if shown == "OL":
            self.press("o")
            return
        self.type(shown)
        self.press("Enter")

    def _sense(self, what: str) -> None:
        group = self.page.get_by_role("group", name="Which part")
        own = group.get_by_role("button").all_inner_texts() if group.count() else []
        if not own:
            words = self.page.locator("p.why b").last.inner_text()
            own = [name for name in self.true if re.search(rf"\b{name}\b", words)]
        back = {true: name for name, true in self.true.items()}
        answer = self.bench.do(what, parts=[self.true[name] for name in own])
        found = dict(answer["found"]) if what == "look" else dict.fromkeys(answer["parts"], "warm")
        if not found:
            self.click(re.compile("Nothing"))
            return
        part, finding = next(iter(found.items()))
        for name in [part] if what == "look" else found:
            if group.count():
                group.get_by_role("button", name=back[name], exact=True).click()
                self.clicks += 1
        words = {"crack": "cracked", "burn": "burnt", "corrosion": "corroded", "missing": "missing"}
        self.click(words[finding] if what == "look" else re.compile("warm$"))

    def _at_part(self, sentence: str) -> None:
        acts = (
            (r"Take (\S+) off", "take off"), (r"Put (\S+) back", "refit"), (r"Fit a new (\S+)\.", "replace"),
            (r"Clean around (.+)\.", "clean"), (r"Melt the joints of (\S+)", "reflow"),
        )  # fmt: skip
        for pattern, act in acts:
            if found := re.match(pattern, sentence):
                self.bench.do(act, target=self.true.get(found[1]) or self.point(found[1]))  # a net is cleaned along
                self.press("Space")
                return
        raise AssertionError(f"nobody told me what to do: {sentence!r}")
