"""Thermal files: what they say, and what is refused."""

import struct

import cv2
import numpy as np
import pytest

from ohmwright.errors import FileFormatError
from ohmwright.pictures.thermal import preview_png, thermal_frames

KELVIN = np.linspace(20.0, 60.0, 24 * 32).reshape(24, 32)


def table(separator, comma=False):
    lines = (separator.join(f"{v:.2f}" for v in row) for row in KELVIN)
    return "\n".join(lines).replace(".", "," if comma else ".").encode()


@pytest.mark.parametrize("data", [table(","), table(";"), table("\t"), table(" "), table(";", comma=True),
                                  b"Temperatures in C\n" + table(",")])  # fmt: skip
def test_tables_of_every_make(tmp_path, data):
    (tmp_path / "t.csv").write_bytes(data)
    frames, _ = thermal_frames(tmp_path / "t.csv")
    assert frames.shape == (1, 24, 32)
    assert frames[0] == pytest.approx(KELVIN, abs=0.006)


def test_counts_need_their_scale(tmp_path):
    """0.01 K per count over 0 K, as one camera's handbook says of its TIFF; another says 0.04."""
    file = tmp_path / "t.tiff"
    cv2.imwrite(str(file), np.round((KELVIN + 273.15) * 100).astype(np.uint16))
    frames, _ = thermal_frames(file, per_count=0.01, offset=-273.15)
    assert frames[0] == pytest.approx(KELVIN, abs=0.01)
    with pytest.raises(FileFormatError) as wrong:
        thermal_frames(file)
    assert "has to be said" in wrong.value.why
    with pytest.raises(FileFormatError) as hot:
        thermal_frames(file, per_count=0.4, offset=-273.15)
    assert "scale is another one" in hot.value.why


def test_float_tiffs_and_stacks(tmp_path):
    cv2.imwrite(str(tmp_path / "k.tiff"), (KELVIN + 273.15).astype(np.float32))
    assert thermal_frames(tmp_path / "k.tiff")[0][0] == pytest.approx(KELVIN, abs=0.01)
    cv2.imwritemulti(str(tmp_path / "s.tiff"), [KELVIN.astype(np.float32) + k for k in range(5)])
    frames, _ = thermal_frames(tmp_path / "s.tiff")
    assert frames.shape == (5, 24, 32)
    assert frames[4, 0, 0] == pytest.approx(24.0, abs=0.01)


def test_a_folder_is_a_series_in_the_order_of_its_names(tmp_path):
    """Ten comes after nine; one file of another size is named."""
    folder = tmp_path / "series"
    folder.mkdir()
    for k in (9, 10, 1):
        np.savetxt(folder / f"frame {k}.csv", KELVIN + k, fmt="%.2f", delimiter=",")
    frames, rate = thermal_frames(folder)
    assert [round(float(frame[0, 0])) for frame in frames] == [21, 29, 30]
    assert rate == 0.0
    np.savetxt(folder / "frame 11.csv", KELVIN[:12], fmt="%.2f", delimiter=",")
    with pytest.raises(FileFormatError) as wrong:
        thermal_frames(folder)
    assert "frame 11.csv is of another size" in wrong.value.why
    (tmp_path / "empty").mkdir()
    with pytest.raises(FileFormatError):
        thermal_frames(tmp_path / "empty")


def test_grey_pictures_and_video(tmp_path):
    grey = np.round((KELVIN - 20.0) / 40.0 * 255).astype(np.uint8)
    cv2.imwrite(str(tmp_path / "g.png"), grey)
    assert thermal_frames(tmp_path / "g.png", low=20.0, high=60.0)[0][0] == pytest.approx(KELVIN, abs=0.1)
    big = np.kron(grey, np.ones((4, 4), np.uint8))
    video = cv2.VideoWriter(str(tmp_path / "v.avi"), cv2.VideoWriter_fourcc(*"MJPG"), 9.0, (128, 96))
    for _ in range(12):
        video.write(cv2.cvtColor(big, cv2.COLOR_GRAY2BGR))
    video.release()
    frames, rate = thermal_frames(tmp_path / "v.avi", low=20.0, high=60.0)
    assert frames.shape == (12, 96, 128)
    assert rate == pytest.approx(9.0)
    assert float(np.abs(frames[0] - np.kron(KELVIN, np.ones((4, 4)))).mean()) < 1.0


def test_colours_are_refused_in_words(tmp_path):
    """Which colour is how warm is not known."""
    cv2.imwrite(str(tmp_path / "c.png"), cv2.applyColorMap(np.arange(768, dtype=np.uint8).reshape(24, 32), 2))
    with pytest.raises(FileFormatError) as wrong:
        thermal_frames(tmp_path / "c.png", low=20.0, high=60.0)
    assert "white hot" in wrong.value.why


def bomb():
    """A PNG head that promises 60,000 by 60,000 pixels."""
    head = struct.pack(">IIBBBBB", 60_000, 60_000, 16, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + b"IHDR" + head + b"\x00" * 40


@pytest.mark.parametrize(
    "data",
    [b"", b"\x00" * 300, b"II*\x00" + b"\xff" * 200, bomb(), b"RIFF0000AVI " + b"\x00" * 400, b"1,2,3\n4,5\n",
     table(",").replace(b"20.00", b"nan", 1), table(",").replace(b"20.00", b"1e300", 1),
     b"\x1aE\xdf\xa3" + b"\x01" * 300, ("9," * 40 + "\n").encode() * 3],
    ids=["empty", "zeros", "torn tiff", "bomb", "torn video", "ragged", "nan", "huge", "torn mkv", "few rows"],
)  # fmt: skip
def test_hostile_files_are_refused(tmp_path, data):
    (tmp_path / "x").write_bytes(data)
    with pytest.raises(FileFormatError):
        thermal_frames(tmp_path / "x")


def test_a_wrong_table_says_which_line(tmp_path):
    rows = table(",").decode().splitlines()
    for lines, words in (
        (["Camera 1", "", *rows[:12], "here it ends"], "Line 15 is no row"),
        ([*rows[:12], "20.0," * 9 + "20.0"], "Line 13 has 10 numbers"),
    ):
        (tmp_path / "x.csv").write_text("\n".join(lines))
        with pytest.raises(FileFormatError) as caught:
            thermal_frames(tmp_path / "x.csv")
        assert words in caught.value.why
    (tmp_path / "wide.csv").write_bytes("\n".join(rows).encode("utf-16"))
    assert thermal_frames(tmp_path / "wide.csv")[0].shape[0] == 1


def test_a_preview_is_a_png():
    assert preview_png(KELVIN.astype(np.float32)).startswith(b"\x89PNG")
