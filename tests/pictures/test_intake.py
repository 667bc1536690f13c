"""A stranger's picture: turned upright, cut, kept under its hash; and what means harm is refused."""

import hashlib
import struct
import zlib
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import cv2
import numpy as np
import pytest

from ohmwright.errors import OhmwrightError
from ohmwright.pictures import shelf as shelf_module
from ohmwright.pictures.pyramid import TILE, Pyramid
from ohmwright.pictures.shelf import PictureShelf

WIDE, HIGH = 1400, 900


def arrow():
    """A picture whose corners tell which way up it is: red, green, blue, white from the upper left on."""
    picture = np.full((HIGH, WIDE, 3), 90, np.uint8)
    picture[:200, :200] = (0, 0, 255)
    picture[:200, -200:] = (0, 255, 0)
    picture[-200:, -200:] = (255, 0, 0)
    picture[-200:, :200] = (255, 255, 255)
    return picture


def exif(turn):
    """An APP1 segment that says how the camera was held (Exif 2.3, tag 0x0112)."""
    entry = struct.pack(">HHIHH", 0x0112, 3, 1, turn, 0)
    body = b"Exif\0\0MM\0*\0\0\0\x08" + struct.pack(">H", 1) + entry + bytes(4)
    return b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body


def corners(pixels):
    """The nearest plain colour of each corner, from the upper left clockwise."""
    spots = (pixels[40, 40], pixels[40, -40], pixels[-40, -40], pixels[-40, 40])
    plain = {"r": (0, 0, 255), "g": (0, 255, 0), "b": (255, 0, 0), "w": (255, 255, 255)}
    return "".join(min(plain, key=lambda k: np.abs(np.subtract(spot, plain[k], dtype=float)).sum()) for spot in spots)


# How a sensor's rows and columns lie for each turn (Exif 2.3, table of tag 0x0112), as what undoes it.
TURNS = {
    1: lambda p: p, 2: lambda p: p[:, ::-1], 3: lambda p: p[::-1, ::-1], 4: lambda p: p[::-1],
    5: lambda p: p.transpose(1, 0, 2), 6: lambda p: np.rot90(p, 1), 7: lambda p: p[::-1, ::-1].transpose(1, 0, 2),
    8: lambda p: np.rot90(p, -1),
}  # fmt: skip


@pytest.fixture
def shelf(tmp_path):
    return PictureShelf(tmp_path / "shelf")


def put(tmp_path, data):
    file = tmp_path / "coming"
    file.write_bytes(data)
    return file


def coarsest(shelf, kept):
    return cv2.imdecode(np.frombuffer(shelf.tile(kept.key, 0, 0, 0), np.uint8), cv2.IMREAD_COLOR)


@pytest.mark.parametrize("turn", range(1, 9))
def test_a_photo_is_turned_upright(shelf, tmp_path, turn):
    done, data = cv2.imencode(".jpg", np.ascontiguousarray(TURNS[turn](arrow())))
    assert done
    kept = shelf.take(put(tmp_path, data.tobytes()[:2] + exif(turn) + data.tobytes()[2:]))
    assert (kept.width_px, kept.height_px) == (WIDE, HIGH)
    assert corners(coarsest(shelf, kept)) == "rgbw"


def tiff(pixels, turn):
    """A bare TIFF of one strip with tag 274 (TIFF 6.0, sections 2 and 8). shape (height, width, 3), blue first"""
    high, wide = pixels.shape[:2]
    body = np.ascontiguousarray(pixels[..., ::-1]).tobytes()
    tags = ((256, 4, 1, wide), (257, 4, 1, high), (258, 3, 1, 8), (259, 3, 1, 1), (262, 3, 1, 2), (273, 4, 1, 8),
            (274, 3, 1, turn), (277, 3, 1, 3), (278, 4, 1, high), (279, 4, 1, len(body)))  # fmt: skip
    fields = b"".join(struct.pack("<HHII", *tag) for tag in tags)
    return struct.pack("<2sHI", b"II", 42, 8 + len(body)) + body + struct.pack("<H", len(tags)) + fields + bytes(4)


@pytest.mark.parametrize("turn", range(1, 9))
def test_a_tiff_is_turned_upright(shelf, tmp_path, turn):
    kept = shelf.take(put(tmp_path, tiff(np.ascontiguousarray(TURNS[turn](arrow())), turn)))
    assert (kept.width_px, kept.height_px) == (WIDE, HIGH)
    assert corners(coarsest(shelf, kept)) == "rgbw"
    (place,) = (tmp_path / "shelf").iterdir()
    assert {one.name for one in place.iterdir()} == {"original.tiff", "tiles"}
    assert not list(place.rglob("upright*")), "what it was turned in is gone"


@pytest.mark.parametrize("turn", [1, 6])
@pytest.mark.parametrize("progressive", [False, True])
def test_a_photo_that_was_cut_short_is_refused_and_one_with_more_behind_it_is_not(shelf, tmp_path, turn, progressive):
    """A decoder fills what is missing with grey, and half a board is drawn on. Phones put films behind a photo."""
    flags = [cv2.IMWRITE_JPEG_PROGRESSIVE, int(progressive)]
    done, made = cv2.imencode(".jpg", np.random.default_rng(4).integers(0, 255, (400, 600, 3), dtype=np.uint8), flags)
    assert done
    whole = made.tobytes()[:2] + exif(turn) + made.tobytes()[2:]
    for share in (0.3, 0.6, 0.99):
        with pytest.raises(OhmwrightError, match="cut short"):
            shelf.take(put(tmp_path, whole[: int(share * len(whole))]))
    assert shelf.take(put(tmp_path, whole + b"\0\0\0\x18ftypmp42\xff\xda\0\x08" + bytes(500))).width_px in (400, 600)


@pytest.mark.parametrize("ending", [".jpg", ".png", ".tif"])
def test_tiles_put_together_are_the_picture(shelf, tmp_path, ending):
    done, data = cv2.imencode(ending, arrow())
    assert done
    kept = shelf.take(put(tmp_path, data.tobytes()))
    assert kept.key == hashlib.sha256(data.tobytes()).hexdigest()
    pyramid = shelf.pyramid(kept.key)
    level = pyramid.levels - 1
    across, down = pyramid.grid(level)
    rows = [
        np.hstack([
            cv2.imdecode(np.frombuffer(shelf.tile(kept.key, level, x, y), np.uint8), cv2.IMREAD_COLOR)
            for x in range(across)
        ])
        for y in range(down)
    ]  # fmt: skip
    whole = np.vstack(rows)
    assert whole.shape == (HIGH, WIDE, 3)
    assert np.abs(whole.astype(int) - arrow()).mean() < 2.0
    assert shelf.take(put(tmp_path, data.tobytes())) == kept


def test_levels_halve_until_one_tile_holds_all():
    pyramid = Pyramid(12000, 10000)
    assert pyramid.levels == 6
    assert pyramid.size(5) == (12000, 10000)
    assert max(pyramid.size(0)) <= TILE
    assert not pyramid.holds(0, 1, 0)
    assert not pyramid.holds(-1, 0, 0)


def png(width, height, rows=b""):
    def chunk(name, body):
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    "data",
    [
        b"", b"hello", b"GIF89a" + bytes(500), b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"\0\0\0\x18ftypheic" + bytes(99),
        b"\xff\xd8\xff" + bytes(3000), b"II*\0" + b"\xff" * 400, png(60_000, 60_000), png(30_000, 9_000, bytes(10)),
        png(20, 20, bytes(20 * 61)),
    ],
    ids=["none", "text", "gif", "svg", "heic", "jpeg-rot", "tiff-rot", "bomb", "large", "tiny"],
)  # fmt: skip
def test_harm_and_rubbish_are_refused_and_leave_nothing(shelf, tmp_path, data):
    with pytest.raises(OhmwrightError) as error:
        shelf.take(put(tmp_path, data))
    assert error.value.hint
    assert list((tmp_path / "shelf").iterdir()) == []


@pytest.mark.parametrize("key", ["../../secret", "a" * 63, "A" * 64, "", "0" * 64])
def test_only_what_was_taken_in_is_given_out(shelf, key):
    with pytest.raises(OhmwrightError):
        shelf.tile(key, 0, 0, 0)


def test_the_same_picture_taken_in_twice_at_once(tmp_path):
    """Who comes second finds it there, and nothing is left lying about."""
    source = tmp_path / "board.png"
    cv2.imwrite(str(source), arrow())
    shelf, both = PictureShelf(tmp_path / "kept"), Barrier(2)
    cut = shelf_module._cut_aside

    def cut_together(file, tiles):
        cut(file, tiles)
        both.wait(30.0)

    with pytest.MonkeyPatch.context() as patch, ThreadPoolExecutor(2) as hands:
        patch.setattr(shelf_module, "_cut_aside", cut_together)
        first, second = (hand.result(60.0) for hand in [hands.submit(shelf.take, source) for _ in range(2)])
    assert first == second
    assert [path.name for path in (tmp_path / "kept").iterdir()] == [first.key]
