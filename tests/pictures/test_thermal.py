"""Thermal files: what they say, and what is refused."""

import struct

import cv2
import numpy as np
import pytest
from PIL import Image

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


def written(rows, separator=";", comma=True, head=(), name=None, unit=""):
    """A table as spreadsheets and cameras export it."""
    lines = list(head)
    for n, row in enumerate(rows):
        words = [f"{v:.2f}{unit}".replace(".", "," if comma else ".") for v in row]
        lines.append(separator.join(words if name is None else [name(n), *words]))
    return "\n".join(lines)


ACROSS = [str(n) for n in range(32)]
AWKWARD = {
    "commas in quotes": "\n".join(",".join(f'"{v:.2f}"'.replace(".", ",") for v in row) for row in KELVIN),
    "blanks and commas": written(KELVIN, " "),
    "numbers of columns": written(KELVIN, head=[";".join(ACROSS)]),
    "numbers of rows": written(KELVIN, ",", comma=False, name=lambda n: str(n + 1)),
    "both": written(KELVIN, ",", comma=False, head=["," + ",".join(ACROSS)], name=str),
    "both, named": written(KELVIN, head=["y/x;" + ";".join(ACROSS)], name=lambda n: f"row {n}"),
    "a unit at each": written(KELVIN, unit=" °C"),
    "settings around": "Emissivity;0,95\n1;2;3;4;5;6;7;8;9\n" + written(KELVIN) + "\n\nMax;60,0\nMin;20,0\n",
    "blank at the end": written(KELVIN).replace("\n", ";\n") + ";",
    "kelvin": written(KELVIN + 273.15, head=["Unit: K"]),
    "fahrenheit said once": written(KELVIN * 1.8 + 32.0, head=["Temperature (°F)"]),
    "fahrenheit at each": written(KELVIN * 1.8 + 32.0, unit=" °F"),
}


@pytest.mark.parametrize("text", AWKWARD.values(), ids=AWKWARD)
@pytest.mark.parametrize("code", ["utf-8", "utf-16-le", "latin-1"])
def test_tables_as_spreadsheets_and_cameras_export_them(tmp_path, text, code):
    """Commas in quotes as in RFC 4180; nothing beside the temperatures is read as one."""
    (tmp_path / "t.csv").write_bytes(text.encode(code))
    frames, _ = thermal_frames(tmp_path / "t.csv")
    assert frames.shape == (1, 24, 32)
    assert frames[0] == pytest.approx(KELVIN, abs=0.006)


def test_commas_that_are_points_and_marks_are_refused(tmp_path):
    """20,05 is one figure or two: read as two it would be a picture of another width, with nothing to show for it."""
    (tmp_path / "t.csv").write_text(written(KELVIN, ","))
    with pytest.raises(FileFormatError) as wrong:
        thermal_frames(tmp_path / "t.csv")
    assert "semicolons" in wrong.value.why
    whole = "\n".join(",".join(str(round(v)) for v in row) for row in KELVIN)
    (tmp_path / "whole.csv").write_text(whole)
    assert thermal_frames(tmp_path / "whole.csv")[0][0] == pytest.approx(KELVIN, abs=0.51)


@pytest.mark.parametrize("between", ["\n\n", "\nFrame 7, 0.3 s\n"])
def test_frames_of_one_table_are_a_series(tmp_path, between):
    (tmp_path / "t.csv").write_text(between.join(written(KELVIN + k) for k in range(3)))
    frames, _ = thermal_frames(tmp_path / "t.csv")
    assert frames.shape == (3, 24, 32)
    assert frames[2] == pytest.approx(KELVIN + 2, abs=0.006)


@pytest.mark.parametrize("per_degree", [10, 100])
def test_a_table_of_counts_is_never_taken_for_kelvin(tmp_path, per_degree):
    """Tenths of a degree would pass for kelvin: 399 is neither a board in kelvin nor one in degrees."""
    (tmp_path / "t.csv").write_text("\n".join(",".join(str(round(v * per_degree)) for v in row) for row in KELVIN))
    with pytest.raises(FileFormatError) as wrong:
        thermal_frames(tmp_path / "t.csv")
    assert "how many degrees a count is" in wrong.value.why
    frames, _ = thermal_frames(tmp_path / "t.csv", per_count=1.0 / per_degree)
    assert frames[0] == pytest.approx(KELVIN, abs=0.051)


def test_scales_that_cannot_be_are_refused(tmp_path):
    cv2.imwrite(str(tmp_path / "g.png"), np.round(KELVIN).astype(np.uint8))
    for scale in ({"low": 20.0, "high": 20.0}, {"per_count": 0.0}, {"per_count": -0.04}):
        with pytest.raises(FileFormatError):
            thermal_frames(tmp_path / "g.png", **scale)


def test_large_tiffs_and_bitmaps(tmp_path):
    """BigTIFF, as cameras write long series; Pillow writes it here."""
    counts = np.round((KELVIN + 273.15) * 100).astype(np.uint16)
    Image.fromarray(counts).save(tmp_path / "big.tif", big_tiff=True)
    assert (tmp_path / "big.tif").read_bytes()[:4] == b"II+\x00"
    frames, _ = thermal_frames(tmp_path / "big.tif", per_count=0.01, offset=-273.15)
    assert frames[0] == pytest.approx(KELVIN, abs=0.01)
    Image.fromarray(np.round((KELVIN - 20.0) / 40.0 * 255).astype(np.uint8)).save(tmp_path / "g.bmp")
    assert thermal_frames(tmp_path / "g.bmp", low=20.0, high=60.0)[0][0] == pytest.approx(KELVIN, abs=0.1)


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
