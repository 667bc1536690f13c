"""What an act of the page waits for its answer, beside a bare question about the same case, in headless Chromium.

    PYTHONPATH=. python benchmarks/page_acts.py [--acts 40]

Run it with the test environment's Python, the page being built. An act is a typed reading, sent by the page itself to
a server on a practice bench and answered once it is on the disk; the thought about it goes on beside. The reference is
a look at the same case with nothing stored, before each act, so both find the machine alike; the ratio of the two is
what this program adds, whatever else the machine does. A trend to be watched, never a gate of a test.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from benchmarks.serving import served

CASE = ("--board", "logger", "--fault", "logger-no-core", "--seed", "7")
WANTED_MS = 100.0
"""In which an act feels answered at once. [ms] J. Nielsen, *Usability Engineering*, 1993, chapter 5; from memory"""
ACTS = """async acts => { const looks = [], took = [];
    const timed = async (into, words, order) => {
        const began = performance.now();
        const answer = await fetch(words, order);
        const found = await answer.json();
        if (!answer.ok) throw new Error(JSON.stringify(found));
        into.push(performance.now() - began);
        return found;
    };
    for (let n = 1; n <= acts; n++) {
        const c = await timed(looks, '/api/case');
        const order = {seen: c.sequence, quantity: 'ohms', red: c.board.parts[0].name + '.1', black: c.board.ground,
            figures: `${n}k`};
        await timed(took, '/api/reading',
            {method: 'POST', headers: {'content-type': 'application/json'}, body: JSON.stringify(order)});
    } return [looks, took]; }"""


def measured(address: str, acts: int) -> tuple[list[float], list[float]]:
    """The times of the looks, and of the acts. [ms]"""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1366, "height": 768})
        page.goto(address)
        page.locator(".sentence").wait_for()
        page.wait_for_function("() => !/Working out|Waiting/.test(document.querySelector('.sentence').innerText)")
        looks, took = page.evaluate(ACTS, acts)
        browser.close()
    return looks, took


def told(what: str, times: list[float]) -> float:
    """Print the spread; the median is given back. [ms]"""
    ordered = sorted(times)
    middle = statistics.median(ordered)
    print(f"{what:24} n = {len(times)}: median {middle:.1f}, p95 {ordered[int(0.95 * (len(ordered) - 1))]:.1f},"
          f" longest {ordered[-1]:.1f} ms")  # fmt: skip
    return middle


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--acts", type=int, default=40)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name, served(Path(name), *CASE) as address:
        looks, took = measured(address, asked.acts)
    look, act = told("a bare look at the case", looks), told("an act, stored", took)
    print(f"an act takes {act / look:.2f} times a look; load {os.getloadavg()[0]:.1f};"
          f" {WANTED_MS:.0f} ms {'reached' if act <= WANTED_MS else 'NOT REACHED'}")  # fmt: skip
    return 0 if act <= WANTED_MS else 1


if __name__ == "__main__":
    sys.exit(main())
