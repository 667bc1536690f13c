"""Make the README's pictures of the page: probing, a dangerous step, and the proof.

Run it with the test environment's Python: ``python scripts/screenshots.py``. It works a practice case by keyboard.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Page, expect, sync_playwright

ROOT = Path(__file__).resolve().parent.parent
INTO = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "docs" / "pictures"
WORKING = re.compile("Working out|Waiting")


def main() -> None:
    INTO.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as home:
        command = [sys.executable, "-m", "ohmwright.web", "--no-browser", "--seed", "8"]
        command += ["--cases", f"{home}/cases.sqlite"]
        environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as server:
            try:
                address = re.search(r"http://\S+", server.stdout.readline())[0]
                with sync_playwright() as playwright:
                    chromium = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
                    page = chromium.new_page(viewport={"width": 1366, "height": 768})
                    page.goto(address)
                    work(page)
            finally:
                server.terminate()


def work(page: Page) -> None:
    began, wanted = time.monotonic(), {"danger", "probing"}
    page.wait_for_timeout(20_000)  # the picture of the board takes its time
    for keys in range(150):
        expect(page.locator(".sentence")).not_to_have_text(WORKING, timeout=60_000)
        if page.locator("[data-state=proven]").count() or page.get_by_text("Stop here").count():
            break
        words = page.locator(".sentence").inner_text()
        print(f"{time.monotonic() - began:5.0f} s {keys:3} {words}", flush=True)
        alarm = page.locator(".bench.danger").count() > 0
        name = "danger" if alarm else "probing" if keys > 4 and "Probe" in words else ""
        if name in wanted:
            wanted.discard(name)
            page.wait_for_timeout(900)
            page.screenshot(path=INTO / f"{name}.png")
        page.keyboard.press("Space")
        if page.locator("button.armed").count():
            page.keyboard.press("Space")
        page.wait_for_timeout(250)
    page.wait_for_timeout(900)
    page.locator("summary").first.click()
    page.screenshot(path=INTO / "proof.png")


if __name__ == "__main__":
    main()
