"""Eight layouts that another program set, as far as they are read now; what the first run gave is in the docs."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright
from tests.datasheets.fresh import LAYOUTS, fresh
from tests.datasheets.measure import limits_found, pins_found

from ohmwright.datasheets import read_sheet

UNREAD_LIMITS = {"dotted lines"}
"""Layouts whose limits are mostly not read; only their pins are asked for."""


@pytest.fixture(scope="module")
def printer():
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.mark.slow
@pytest.mark.parametrize("layout", list(LAYOUTS))
def test_fresh_layouts(printer, layout: str, tmp_path: Path) -> None:
    truth = fresh(printer, tmp_path / "a.pdf", layout, 1300)
    sheet = read_sheet(tmp_path / "a.pdf")
    pins, limits = pins_found(sheet, truth), limits_found(sheet, truth)
    assert pins.precision > 0.95
    assert pins.recall > 0.9
    assert layout in UNREAD_LIMITS or limits.recall > 0.8
