"""Files that are no datasheets, scanned ones, locked, broken and malicious ones: each gets an answer in time."""

from __future__ import annotations

import random
import zlib
from pathlib import Path

import pytest
from tests.datasheets.layouts import RULED, datasheet, scanned
from tests.datasheets.pdf_writer import Page, write_pdf

from ohmwright.datasheets import page_picture, read_paper, read_sheet
from ohmwright.errors import DataError, FileFormatError


def test_a_scanned_sheet_is_said_to_be_so(tmp_path: Path) -> None:
    scanned(tmp_path / "scan.pdf")
    sheet = read_sheet(tmp_path / "scan.pdf")
    assert sheet.pins == ()
    assert "scanned" in sheet.notes[0]
    assert read_paper(tmp_path / "scan.pdf").pages[0].pictures > 0.8
    assert page_picture(tmp_path / "scan.pdf", 1, width=300).startswith(b"\x89PNG")


def test_everything_found_has_a_page_and_a_place_on_it(tmp_path: Path) -> None:
    datasheet(tmp_path / "a.pdf", RULED, 5)
    sheet = read_sheet(tmp_path / "a.pdf")
    places = [found.at for found in (*sheet.pins, *sheet.ratings)] + [figure.at for figure in sheet.circuits]
    assert places
    assert all(
        1 <= at.page <= sheet.pages and at.box.x1 > at.box.x0 and 0 <= at.box.y0 < at.box.y1 < 842 for at in places
    )


def test_the_pins_of_the_drawing_are_found_where_they_stand(tmp_path: Path) -> None:
    truth = datasheet(tmp_path / "a.pdf", RULED, 5)
    figure = read_sheet(tmp_path / "a.pdf").circuits[0]
    assert {name for name, _ in figure.pins} == {pin.name for pin in truth.pins[:6]}
    assert all(figure.box.y0 - 20 <= box.y0 and box.y1 <= figure.at.box.y0 for _, box in figure.pins)


@pytest.mark.parametrize(
    ("name", "body", "words"),
    [
        ("empty.pdf", b"", "not a PDF"),
        ("text.pdf", b"nothing of the kind", "not a PDF"),
        ("cut.pdf", b"%PDF-1.7\n1 0 obj << /Type /Catalog", "damaged"),
    ],
)
def test_what_is_no_pdf_is_refused_with_the_reason(tmp_path: Path, name: str, body: bytes, words: str) -> None:
    (tmp_path / name).write_bytes(body)
    with pytest.raises(FileFormatError, match=words):
        read_sheet(tmp_path / name)


def test_a_missing_file_and_a_missing_page(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="cannot be opened"):
        read_sheet(tmp_path / "none.pdf")
    write_pdf(tmp_path / "one.pdf", [Page()])
    with pytest.raises(FileFormatError):
        page_picture(tmp_path / "one.pdf", 7)
    with pytest.raises(DataError):
        page_picture(tmp_path / "one.pdf", 0)


def test_damaged_files_never_crash_this_process(tmp_path: Path) -> None:
    datasheet(tmp_path / "good.pdf", RULED, 9)
    good = (tmp_path / "good.pdf").read_bytes()
    chance = random.Random(4)
    for k in range(12):
        bad = bytearray(good)
        for _ in range(chance.randint(1, 60)):
            bad[chance.randrange(9, len(bad))] = chance.randrange(256)
        (tmp_path / f"{k}.pdf").write_bytes(
            bytes(bad[: chance.randrange(len(bad) // 2, len(bad))] if k % 3 == 0 else bad)
        )
        try:
            read_sheet(tmp_path / f"{k}.pdf")
        except FileFormatError:
            continue


@pytest.mark.slow
def test_a_stream_that_unpacks_to_a_gigabyte_is_ended(tmp_path: Path) -> None:
    packer = zlib.compressobj(9)
    body = b"".join(packer.compress(b"q " * 5_000_000) for _ in range(100)) + packer.flush()
    raw = b"%PDF-1.5\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n2 0 obj<</Type/Pages/Kids[3 0 R]/Count 1>>endobj\n"
    raw += b"3 0 obj<</Type/Page/Parent 2 0 R/MediaBox[0 0 500 500]/Contents 4 0 R>>endobj\n"
    raw += f"4 0 obj<</Filter/FlateDecode/Length {len(body)}>>stream\n".encode() + body + b"\nendstream endobj\n"
    (tmp_path / "bomb.pdf").write_bytes(raw + b"trailer<</Root 1 0 R>>\n%%EOF")
    with pytest.raises(FileFormatError, match=r"takes too long|broke the limits of time or memory"):
        read_sheet(tmp_path / "bomb.pdf")


def test_a_slow_file_is_ended_by_the_clock(tmp_path: Path) -> None:
    datasheet(tmp_path / "a.pdf", RULED, 5)
    with pytest.raises(FileFormatError, match="takes too long"):
        read_paper(tmp_path / "a.pdf", patience=0.001)
