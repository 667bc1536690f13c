"""A camera at the meter's display: Chromium plays a rendered display as its camera, and the reading goes on record."""

import re

import cv2
import numpy as np
import pytest
from playwright.sync_api import expect
from tests.casebook.boards import two_capacitors
from tests.displays.rendered import Light, Panel, Shown, drawn, photographed
from tests.page.conftest import Visit

from ohmwright.bootstrap import desk_at
from ohmwright.casebook.events import EntryDescribed
from ohmwright.usecases.desk import record, view_of
from ohmwright.usecases.open_case import open_case
from ohmwright.usecases.skip import skip

SHOWN = {"diode": ("0.512", "V", ("diode",)), "ohms": ("4.231", "kΩ", ("AUTO",))}


PLAIN = Panel(slant_deg=4.0, unit_high=0.45, words_high=0.26)
ODD = Panel(dots="C", slant_deg=0.0, face=0, unit_high=0.45, words_high=0.26)
"""Dots of a make that the reader was not trained on."""


def film(path, quantity: str, look: Panel = PLAIN) -> None:
    """A display in a case on a dark bench, 640 by 480, as an uncompressed film (YUV4MPEG2, 4:2:0)."""
    rng = np.random.default_rng(8)
    ink = drawn(look, Shown(*SHOWN[quantity]))
    with path.open("wb") as file:
        file.write(b"YUV4MPEG2 W640 H480 F15:1 Ip A1:1 C420\n")
        for _ in range(12):
            how = Light(contrast=0.75, bright=0.8, slope=0.1, wide_px=420, blur_px=0.7, noise=0.008)
            grey, _ = photographed(ink, look, how, rng)
            frame = np.full((480, 640), 40, np.uint8)
            top, left = (480 - grey.shape[0]) // 2, (640 - grey.shape[1]) // 2
            frame[top : top + grey.shape[0], left : left + grey.shape[1]] = grey
            yuv = cv2.cvtColor(cv2.cvtColor(frame, cv2.COLOR_GRAY2BGR), cv2.COLOR_BGR2YUV_I420)
            file.write(b"FRAME\n" + yuv.tobytes())


def own_case(file) -> str:
    """A case on a bench of one's own, at a step that is a reading; the quantity it asks for."""
    desk = desk_at(file)
    board = two_capacitors()
    open_case(desk, "own logger", board, note="own")
    record(desk, "own logger", EntryDescribed("VIN", 5.0, True, True))
    for _ in range(12):
        first = view_of(desk, "own logger").advice.tests[0]
        if first.steps[0].act == "read":
            return first.steps[0].quantity
        skip(desk, "own logger", first.title)
    return ""


@pytest.mark.slow
def test_the_display_is_found_read_and_taken_with_one_key(serve, browsers, tmp_path):
    quantity = own_case(tmp_path / "cases.sqlite")
    assert quantity in SHOWN, "the first thing to do on this board is a reading"
    film(tmp_path / "display.y4m", quantity)
    served = serve("--resume")
    flags = [
        "--no-sandbox", "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-video-capture={tmp_path / 'display.y4m'}",
    ]  # fmt: skip
    chromium = browsers.launch(executable_path="/usr/bin/chromium", args=flags)
    seen = Visit(chromium, served.address, permissions=["camera"])
    page = seen.page
    expect(page.locator(".do")).to_contain_text("Probe", timeout=90_000)
    page.get_by_role("button", name="Settings").click()
    page.get_by_role("button", name="Camera at the meter").click()
    page.get_by_role("button", name="Use the camera").click()
    said = page.locator("[data-believed]")
    expect(said).to_have_attribute("data-believed", "yes", timeout=20_000)
    text, unit, _ = SHOWN[quantity]
    expect(said).to_contain_text(f"{text} {unit}")
    page.screenshot(path=str(tmp_path / "eye.png"))
    page.set_viewport_size({"width": 1920, "height": 1080})
    page.screenshot(path=str(tmp_path / "eye-large.png"))
    before = page.locator(".known li").count()
    page.locator("body").click(position={"x": 5, "y": 5})
    page.keyboard.press(" ")
    expect(page.locator(".known li")).not_to_have_count(before, timeout=20_000)
    assert re.search(r"0\.512|512|4\.231|4231", page.locator(".known").inner_text())
    assert not [c for c in seen.complaints if "Permissions" in c or "Content Security" in c]
    assert not seen.abroad
    chromium.close()


@pytest.mark.slow
def test_what_it_cannot_read_is_told_once_and_believed_while_it_stands(serve, browsers, tmp_path):
    quantity = own_case(tmp_path / "cases.sqlite")
    film(tmp_path / "display.y4m", quantity, ODD)
    served = serve("--resume")
    flags = [
        "--no-sandbox", "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-video-capture={tmp_path / 'display.y4m'}",
    ]  # fmt: skip
    chromium = browsers.launch(executable_path="/usr/bin/chromium", args=flags)
    page = Visit(chromium, served.address, permissions=["camera"]).page
    expect(page.locator(".do")).to_contain_text("Probe", timeout=90_000)
    page.get_by_role("button", name="Settings").click()
    page.get_by_role("button", name="Camera at the meter").click()
    page.get_by_role("button", name="Use the camera").click()
    said = page.locator("[data-believed]")
    # It may be told of a picture only once it has looked at one: until then there is no such button.
    page.get_by_role("button", name="Tell it what it shows").click(timeout=20_000)
    assert said.get_attribute("data-believed") == "no"
    text, unit, words = SHOWN[quantity]
    page.get_by_label("Figures as they stand").fill("12.3.4")
    page.get_by_label("Unit").select_option(label="diode, V" if "diode" in words else unit)
    page.screenshot(path=str(tmp_path / "telling.png"))
    page.get_by_role("button", name="It shows that").click()
    expect(page.get_by_text("No display shows '12.3.4'")).to_be_visible()
    page.get_by_label("Figures as they stand").fill(text)
    page.get_by_role("button", name="It shows that").click()
    expect(said).to_have_attribute("data-believed", "yes", timeout=20_000)
    expect(said).to_contain_text(f"{text} {unit}")
    page.screenshot(path=str(tmp_path / "told.png"))
    chromium.close()
