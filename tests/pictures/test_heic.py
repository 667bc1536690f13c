"""HEIC, as phones keep photos, against pictures that another program's encoder (pillow-heif, x265) wrote."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pillow_heif
import pytest
from numpy.typing import NDArray
from PIL import Image

from ohmwright.errors import OhmwrightError
from ohmwright.pictures.shelf import PictureShelf

Pixels = NDArray[np.uint8]
WIDE, HIGH = 320, 200


def _scene() -> Pixels:
    """Four fields, each of another colour, red first."""
    out = np.zeros((HIGH, WIDE, 3), dtype=np.uint8)
    out[:100, :160], out[:100, 160:] = (220, 30, 30), (30, 200, 40)
    out[100:, :160], out[100:, 160:] = (40, 40, 220), 240
    return out


def _written(folder: Path, pixels: Pixels, **how: object) -> Path:
    file = folder / "photo.heic"
    pillow_heif.from_pillow(Image.fromarray(pixels)).save(file, quality=95, **how)
    return file


def _whole(shelf: PictureShelf, key: str) -> Pixels:
    tile = shelf.tile(key, 0, 0, 0)
    found = cv2.imdecode(np.frombuffer(tile, np.uint8), cv2.IMREAD_COLOR)
    assert found is not None
    return np.asarray(found[..., ::-1], dtype=np.uint8)


@pytest.fixture
def shelf(tmp_path: Path) -> PictureShelf:
    return PictureShelf(tmp_path / "shelf")


def test_a_photo_in_heic_comes_in_with_its_colours(shelf: PictureShelf, tmp_path: Path) -> None:
    kept = shelf.take(_written(tmp_path, _scene()))
    assert (kept.width_px, kept.height_px) == (WIDE, HIGH)
    seen = _whole(shelf, kept.key).astype(int)
    for y, x in ((50, 80), (50, 240), (150, 80), (150, 240)):
        np.testing.assert_allclose(seen[y, x], _scene()[y, x], atol=14)


@pytest.mark.parametrize("turn", range(1, 9))
def test_it_is_turned_as_it_says(shelf: PictureShelf, tmp_path: Path, turn: int) -> None:
    """Against Pillow's own reading of the same file, turned by Pillow (ISO/IEC 23008-12, `irot` and `imir`)."""
    exif = Image.Exif()
    exif[274] = turn
    file = _written(tmp_path, _scene(), exif=exif.tobytes())
    pillow_heif.register_heif_opener()
    with Image.open(file) as opened:
        wanted = np.asarray(opened.convert("RGB"))
    kept = shelf.take(file)
    assert (kept.height_px, kept.width_px) == wanted.shape[:2]
    assert (kept.width_px > kept.height_px) == (turn < 5)
    assert np.abs(_whole(shelf, kept.key).astype(int) - wanted).mean() < 4.0


def test_one_that_is_grey_and_one_that_can_be_seen_through(shelf: PictureShelf, tmp_path: Path) -> None:
    grey = _scene()[..., 0]
    seen = _whole(shelf, shelf.take(_written(tmp_path, grey)).key)
    assert np.abs(seen.astype(int) - grey[..., None]).mean() < 4.0
    clear = np.dstack([_scene(), np.full((HIGH, WIDE), 128, np.uint8)])
    seen = _whole(shelf, shelf.take(_written(tmp_path, clear)).key)
    assert np.abs(seen.astype(int) - _scene()).mean() < 6.0


@pytest.mark.parametrize("harm", ["cut", "rot", "head only"])
def test_a_broken_one_is_refused_and_leaves_nothing(shelf: PictureShelf, tmp_path: Path, harm: str) -> None:
    noise = np.random.default_rng(3).integers(0, 255, (HIGH, WIDE, 3), np.uint8)
    data = bytearray(_written(tmp_path, noise).read_bytes())
    if harm == "cut":
        del data[len(data) // 2 :]
    elif harm == "rot":
        data[40:400] = bytes(360)
    else:
        del data[64:]
    file = tmp_path / "broken.heic"
    file.write_bytes(data)
    with pytest.raises(OhmwrightError) as error:
        shelf.take(file)
    assert error.value.hint
    assert list((tmp_path / "shelf").iterdir()) == []


def test_another_kind_in_the_same_box_is_named(shelf: PictureShelf, tmp_path: Path) -> None:
    file = tmp_path / "still.avif"
    file.write_bytes(b"\0\0\0\x18ftypavif" + bytes(300))
    with pytest.raises(OhmwrightError, match=r"AVIF|read here"):
        shelf.take(file)
