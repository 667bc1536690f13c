"""A rail of a board rebuilt from its photo alone, by mouse and keyboard, and its fault found."""

import json
import re
import time

import pytest
from playwright.sync_api import expect
from tests.page.bench import Bench
from tests.page.person import Person, Photo

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


@pytest.fixture
def bench(tmp_path):
    file = tmp_path / "fault.json"
    file.write_text(json.dumps(FAULT))
    found = Bench("logger", str(file), 11)
    yield found
    found.close()


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    return Photo(read_board_json(boards()["logger"]), tmp_path_factory.mktemp("photo") / "board.jpg")


def with_picture(page, photo) -> None:
    page.get_by_label("Choose the upper side").set_input_files(photo.path)
    expect(page.get_by_role("heading", name="The map")).to_be_visible(timeout=30_000)


@pytest.mark.slow
def test_a_rail_is_rebuilt_from_its_photo_and_its_fault_found(serve, visit, bench, photo):
    served = serve("--own", "pocket logger")
    seen = visit(served.address)
    with_picture(seen.page, photo)
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
