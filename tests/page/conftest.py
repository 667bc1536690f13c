"""A page on a practice bench in a process of its own, and a browser before it."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright
from tests.page.person import Photo

from ohmwright.formats.board_json import read_board_json
from ohmwright.practice.choice import boards

ROOT = Path(__file__).resolve().parents[2]
STATIC = ROOT / "src" / "ohmwright" / "web" / "static"
AXE = ROOT / "page" / "node_modules" / "axe-core" / "axe.min.js"


class Served:
    """A running page. It is a real process: it can be killed."""

    def __init__(self, cases: Path, *words: str) -> None:
        self.cases = cases
        command = [sys.executable, "-m", "ohmwright.web", "--no-browser", "--cases", str(cases), *words]
        environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment)
        line = self.process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)/", line)
        assert found, f"the page did not start: {line!r}"
        self.address, self.port = found[0], int(found[1])

    def end(self, *, hard: bool = False) -> None:
        if self.process.poll() is None:
            self.process.kill() if hard else self.process.terminate()
        self.process.wait(15)
        self.process.stdout.close()


@pytest.fixture(scope="session")
def built_page() -> None:
    index = STATIC / "index.html"
    newest = max(path.stat().st_mtime for path in (ROOT / "page" / "src").rglob("*") if path.is_file())
    if not index.exists() or not AXE.exists() or index.stat().st_mtime < newest:
        subprocess.run([sys.executable, ROOT / "scripts" / "build_page.py"], check=True, stdout=subprocess.DEVNULL)


@pytest.fixture
def serve(built_page, tmp_path):
    running = []

    def start(*words: str) -> Served:
        served = Served(tmp_path / "cases.sqlite", *words)
        running.append(served)
        return served

    yield start
    for served in running:
        served.end()


@pytest.fixture(scope="session")
def browsers():
    """Starts browsers; a process can hold only one of these, so whoever wants a browser of its own asks it."""
    with sync_playwright() as playwright:
        yield playwright.chromium


@pytest.fixture(scope="session")
def browser(browsers):
    chromium = browsers.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
    yield chromium
    chromium.close()


class Visit:
    """A page in the browser that minds what it should not do."""

    def __init__(self, browser, address: str, **context) -> None:
        self.context = browser.new_context(viewport={"width": 1366, "height": 768}, **context)
        self.page = self.context.new_page()
        self.complaints: list[str] = []
        self.abroad: list[str] = []
        self.page.on("console", lambda m: self.complaints.append(m.text) if m.type in ("error", "warning") else None)
        self.page.on("pageerror", lambda e: self.complaints.append(str(e)))
        self.page.on("request", lambda r: None if r.url.startswith((address, "data:")) else self.abroad.append(r.url))
        self.page.goto(address)


@pytest.fixture
def visit(browser):
    visits = []

    def go(address: str, **context) -> Visit:
        visits.append(Visit(browser, address, **context))
        return visits[-1]

    yield go
    for one in visits:
        one.context.close()


@pytest.fixture(scope="session")
def board():
    """The practice board that most tests draw on."""
    return read_board_json(boards()["logger"])


@pytest.fixture(scope="session")
def photo(board, tmp_path_factory):
    """A scan of its upper side, without a tilt."""
    return Photo(board, tmp_path_factory.mktemp("scan") / "scan.jpg")
