"""Datasheets that Chromium printed: another layout engine, other fonts, every cell's edge drawn by itself."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.datasheets.measure import limits_found, pins_found, words_found
from tests.datasheets.printed import STYLES, printed

from ohmwright.datasheets import read_sheet


# First run, when the reader was done on the fourteen layouts of our own writer: pins recall 1.00 with one package in
# the ruled styles, 0.32 to 0.49 with two or three (heads broken at a hyphen), 0.05 borderless; limits recall 0.00 to
# 1.00, mostly 0.00. What it showed was mended: sizes from boxes, edges of cells joined, heads of several lines.
# Two columns of text: descriptions 0.00 at first (two heads as close as words of a sentence).
@pytest.mark.slow
@pytest.mark.parametrize("style", list(STYLES))
@pytest.mark.parametrize("packages", [1, 2])
def test_printed_sheets(style: str, packages: int, tmp_path: Path) -> None:
    truth = printed(tmp_path / "a.pdf", style, 950 + packages, packages)
    sheet = read_sheet(tmp_path / "a.pdf")
    for found in (pins_found(sheet, truth), words_found(sheet, truth), limits_found(sheet, truth)):
        assert found.precision > 0.95
        assert found.recall > 0.95
