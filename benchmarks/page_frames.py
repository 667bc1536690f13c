"""Frames a second while a board with 20,000 pins and 400 labels is panned, in headless Chromium without a GPU.

Run it with the test environment's Python, the page being built: ``PYTHONPATH=. python benchmarks/page_frames.py``. The
mouse is real (sent through the browser's own input), and a frame counts only when the board was painted anew in it.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import re
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np
from playwright.async_api import Page, async_playwright

from benchmarks.serving import served

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "src")]

from ohmwright.boardmap import PAIR, Layer, seated  # noqa: E402 (after the path is set)
from ohmwright.bootstrap import desk_at, picture_shelf  # noqa: E402 (after the path is set)
from ohmwright.casebook.events import PartMapped  # noqa: E402 (after the path is set)
from ohmwright.geometry import PicturePoint  # noqa: E402 (after the path is set)
from ohmwright.geometry.lands import LandPattern  # noqa: E402 (after the path is set)
from ohmwright.usecases import map_board, open_case  # noqa: E402 (after the path is set)
from ohmwright.usecases.desk import book_of, record  # noqa: E402 (after the path is set)

Corner = tuple[float, float]
SIZE = (6400, 4800)
"""Of the picture. [px]"""
CHIPS, LEADS = 400, 48
PAIRS = 200
"""Chips of so many pins and a pad below, and two-pad parts: 20,000 pins in all; each chip has its label."""
SECONDS = 4.0
"""How long each kind of movement goes on. [s]"""
HAND = 125.0
"""Moves of the mouse that are sent a second. [1/s]"""
WANTED = 40.0
"""Frames a second that panning has to reach at working zoom. [1/s]"""
WANTED_WHOLE = 25.0
"""With the whole board in sight. [1/s]"""
COUNT = """() => {
    const fill = CanvasRenderingContext2D.prototype.fillRect;
    window.painted = 0; window.frames = 0; window.fresh = false;
    CanvasRenderingContext2D.prototype.fillRect = function (x, y, w, h) {
        if (x === 0 && y === 0 && w === this.canvas.width && h === this.canvas.height) window.fresh = true;
        return fill.call(this, x, y, w, h);
    };
    const tick = () => {
        window.frames++;
        if (window.fresh) { window.painted++; window.fresh = false; }
        requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
}"""


def photo(path: Path) -> None:
    """A picture with as much detail as a scan: solder, silk, and the noise of a sensor."""
    rng = np.random.default_rng(3)
    width, height = SIZE
    base = cv2.resize(rng.integers(40, 110, (height // 8, width // 8, 3), dtype=np.uint8), SIZE)
    base = base + rng.integers(0, 18, base.shape, dtype=np.uint8)  # 127 at most
    for x, y in rng.integers(0, (width, height), (3000, 2)):
        cv2.rectangle(base, (int(x), int(y)), (int(x) + 40, int(y) + 22), (170, 175, 180), -1)
    cv2.imwrite(str(path), base, [cv2.IMWRITE_JPEG_QUALITY, 92])


def case(home: Path) -> None:
    """A case with the picture and all the pins on it."""
    desk, shelf = desk_at(home / "cases.sqlite"), picture_shelf(home / "cases.sqlite")
    photo(home / "board.jpg")
    began = time.monotonic()
    kept = shelf.take(home / "board.jpg")
    print(f"picture {SIZE[0] * SIZE[1] / 1e6:.0f} MP taken in and cut in {time.monotonic() - began:.1f} s")
    name = "own bench 1"
    open_case(desk, name, map_board.blank_board("bench"), note="own")
    map_board.add_picture(desk, name, kept.key, "top", SIZE, "board.jpg")
    width, height = SIZE
    sheet = book_of(desk, name).chart.layer(kept.key)
    entries = []
    quad, pair = map_board.pattern_of("QFN", LEADS), PAIR
    for n in range(CHIPS):
        x, y = 120 + (n % 25) * (width - 360) / 24, 150 + (n // 25) * (height - 450) / 15
        entries.append(mapped(f"U{n + 1}", "ic", "QFN", quad, sheet, (x, y), (x + 130, y + 130)))
    for n in range(PAIRS):
        x, y = 60 + (n % 20) * (width - 200) / 19, 75 + (n // 20) * (height - 200) / 9
        entries.append(mapped(f"C{n + 1}", "capacitor", "", pair, sheet, (x, y), (x + 40, y)))
    record(desk, name, *entries)
    print(f"{CHIPS * (LEADS + 1) + 2 * PAIRS} pins on the map, {len(desk.store.events(name))} events")


def mapped(
    name: str, kind: str, package: str, pattern: LandPattern, sheet: Layer, first: Corner, far: Corner
) -> PartMapped:
    """The event that lays a part. [px]"""
    seating = seated(name, pattern, sheet, PicturePoint(*first), PicturePoint(*far))
    return PartMapped(map_board.mapped_part(name, kind, package, "", seating), seating.pads)


def browser_seconds() -> float:
    """CPU time of the browser's processes so far, whatever else the machine does. Linux only. [s]"""
    parents, spent = {}, {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            name, _, rest = stat.read_text().partition("(")[2].rpartition(")")
        except OSError:  # it ended meanwhile
            continue
        fields = rest.split()
        parents[int(stat.parent.name)] = int(fields[1])
        if name.startswith("chrom"):
            spent[int(stat.parent.name)] = (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    return sum(seconds for one, seconds in spent.items() if _ours(one, parents))


def _ours(process: int, parents: dict[int, int]) -> bool:
    while process > 1:
        process = parents.get(process, 0)
        if process == os.getpid():
            return True
    return False


async def measured(page: Page, what: str, notches: int, *, drawing: bool) -> float:
    """Pan to and fro at a zoom for a while. [1/s]"""
    box = await page.locator("canvas").bounding_box()
    assert box is not None, "the board is not in sight"
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    await page.get_by_role("button", name="Whole board").click()
    await page.mouse.move(x, y)
    for _ in range(notches):
        await page.mouse.wheel(0, -120)
    await page.wait_for_timeout(1500)
    await page.evaluate("() => { window.painted = 0; window.frames = 0; }")
    moves: list[asyncio.Future[None]] = []
    began, before = time.monotonic(), browser_seconds()
    await page.mouse.down()
    while time.monotonic() - began < SECONDS:
        at = time.monotonic() - began
        # Not waited for: the browser answers a move only with its next frame, and a hand does not wait for that.
        moves.append(asyncio.ensure_future(page.mouse.move(x + 150 * np.sin(3 * at), y + 90 * np.cos(2.4 * at))))
        await asyncio.sleep(1 / HAND)
    spent, busy = time.monotonic() - began, browser_seconds() - before
    painted = float(await page.evaluate("window.painted")) / spent
    beats = await page.evaluate("window.frames") / spent
    await asyncio.gather(*moves)
    await page.mouse.up()
    print(
        f"{what:32} {'map' if drawing else 'test':5} {painted:5.1f} frames/s of {beats:5.1f},"
        f" {1000 * busy / max(1.0, painted * spent):4.1f} ms of CPU a frame, load {os.getloadavg()[0]:.1f}"
    )
    return painted


async def watched(address: str, picture: str) -> tuple[float, float]:
    """The worst with the whole board in sight, and the worst nearer. [1/s]"""
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        page = await browser.new_page(viewport={"width": 1366, "height": 768})
        await page.goto(address)
        draw = page.get_by_role("button", name=re.compile("Draw the map"))
        await draw.wait_for()
        await page.wait_for_timeout(6000)  # the first thoughts about so many parts
        await page.evaluate(COUNT)
        found = [await measured(page, "whole board, photo alone", 0, drawing=False)]
        await draw.click()
        for what, notches in (("whole board, every pin", 0), ("half zoom", 6), ("working zoom, numbered pins", 12)):
            found.append(await measured(page, what, notches, drawing=True))
            if picture:
                await page.screenshot(path=f"{picture}-{notches}.png")
        await browser.close()
    return min(found[:2]), min(found[2:])


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--picture", default="", help="also save a screenshot there")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        home = Path(name)
        case(home)
        with served(home, "--resume") as address:
            whole, near = asyncio.run(watched(address, asked.picture))
    good = near >= WANTED and whole >= WANTED_WHOLE
    print(
        f"whole board {whole:.1f} frames/s, wanted {WANTED_WHOLE:.0f}; nearer {near:.1f}, wanted {WANTED:.0f}:"
        f" {'reached' if good else 'NOT REACHED'}"
    )
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
