"""Pages that lie on their side, stand on their head, or begin elsewhere than at the corner of the paper."""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest
from tests.datasheets.invented import PartTruth
from tests.datasheets.layouts import TUNED, datasheet
from tests.datasheets.measure import limits_found, pins_found

from ohmwright.datasheets import page_picture, read_sheet

TURNS = {
    90: lambda w, h: (0, 1, -1, 0, h, 0), 180: lambda w, h: (-1, 0, 0, -1, w, h), 270: lambda w, h: (0, -1, 1, 0, 0, w),
}  # fmt: skip
"""Matrices that turn what is written on a page counter-clockwise, and back into its corner (PDF 32000-1, 8.3.3)."""


def turned(path: Path, turn: int, said: int) -> PartTruth:
    """A datasheet whose writing is turned by one angle and whose pages are said to be turned by another."""
    truth = datasheet(path, TUNED[0], 3)
    document = pypdfium2.PdfDocument(path.read_bytes())
    for page in document:
        width, height = page.get_size()
        if turn:
            for found in page.get_objects(max_depth=1):
                found.transform(pypdfium2.PdfMatrix(*TURNS[turn](width, height)))
            if turn != 180:
                page.set_mediabox(0, 0, height, width)
            page.gen_content()
        page.set_rotation(said)
    document.save(path)
    return truth


@pytest.mark.parametrize(("turn", "said"), [(90, 90), (90, 0), (180, 180), (180, 0), (270, 270), (0, 90)])
def test_a_page_is_read_however_it_lies(turn: int, said: int, tmp_path: Path) -> None:
    truth = turned(tmp_path / "a.pdf", turn, said)
    sheet = read_sheet(tmp_path / "a.pdf")
    for found in (pins_found(sheet, truth), limits_found(sheet, truth)):
        assert found.precision > 0.97
        assert found.recall > 0.97
    _, width, height = sheet.sizes[0]
    assert height > width  # as it is read, upright
    picture = page_picture(tmp_path / "a.pdf", 1, width=200)
    across, down = (int.from_bytes(picture[k : k + 4], "big") for k in (16, 20))
    assert down / across == pytest.approx(height / width, rel=0.02)  # the places told fit the picture


def test_a_page_that_begins_elsewhere(tmp_path: Path) -> None:
    truth = datasheet(tmp_path / "a.pdf", TUNED[0], 3)
    straight = read_sheet(tmp_path / "a.pdf")
    document = pypdfium2.PdfDocument((tmp_path / "a.pdf").read_bytes())
    for page in document:
        width, height = page.get_size()
        page.set_cropbox(20, 30, width - 10, height - 5)
    document.save(tmp_path / "a.pdf")
    sheet = read_sheet(tmp_path / "a.pdf")
    assert pins_found(sheet, truth).recall == 1.0
    old, new = straight.pins[0].places[0].box, sheet.pins[0].places[0].box
    assert (new.x0 - old.x0, new.y0 - old.y0) == pytest.approx((-20.0, -5.0), abs=0.1)
