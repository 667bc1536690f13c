"""Cutting a picture into tiles with libvips, which holds a strip of it at a time and not the whole.

The library is that of the wheel ``pyvips-binary`` where it is installed. A few of its functions are enough, called as
its own command line does: make an operation, set its arguments from text, run it (libvips 8.18, ``vips_call_argv`` and
``vips_object_set_from_string``). Where the library is not there, OpenCV cuts it whole.
"""

from __future__ import annotations

import ctypes
import json
import shutil
import sys
from importlib.metadata import PackageNotFoundError, files
from pathlib import Path

from ohmwright.pictures.pyramid import TILE, Pyramid

QUALITY = 88
"""Of the JPEG tiles; 100 is best. [1]"""
LEAST_EDGE = 64
"""Shorter edges show no board. [px]"""
UPRIGHT = (0, 1)
"""Orientations of a file that need no turning (Exif 2.3 and TIFF 6.0, tag 0x0112); 0 is none told."""
LYING = (5, 6, 7, 8)
"""Those whose height becomes their width."""


def library() -> ctypes.CDLL | None:
    """The library, ready, or None where it is not installed."""
    if sys.platform == "darwin":  # variable arguments are passed in another way there
        return None
    try:
        found = [file for file in files("pyvips-binary") or () if file.name.startswith("libvips-")]
    except PackageNotFoundError:
        return None
    for file in found:
        try:
            vips = ctypes.CDLL(str(file.locate()))
        except OSError:
            continue
        vips.vips_operation_new.restype = ctypes.c_void_p
        vips.vips_object_set_from_string.argtypes = (ctypes.c_void_p, ctypes.c_char_p)
        vips.vips_image_get_orientation.argtypes = (ctypes.c_void_p,)
        vips.vips_error_buffer.restype = ctypes.c_char_p
        if vips.vips_init(b"ohmwright") == 0:
            # No more than one strip at work, and nothing kept for a second picture.
            vips.vips_concurrency_set(2)
            vips.vips_cache_set_max(0)
            return vips
    return None


def cut_by_strips(vips: ctypes.CDLL, source: Path, into: Path, most_px: int) -> Pyramid | None:
    """The tiles of a picture as `ohmwright.pictures.tiles.cut` writes them, or None where it has to be cut whole.

    None also stands for a picture that is damaged, too small or too large: who cuts it whole says what is wrong.

    Parameters
    ----------
    most_px : int
        Pixels that are let in. [px]
    """
    image = _opened(vips, source)
    if image is None:
        return None
    width, height, turn = (
        int(vips.vips_image_get_width(ctypes.c_void_p(image))),
        int(vips.vips_image_get_height(ctypes.c_void_p(image))),
        int(vips.vips_image_get_orientation(ctypes.c_void_p(image))),
    )
    vips.g_object_unref(ctypes.c_void_p(image))
    if not min(width, height) >= LEAST_EDGE or width * height > most_px:
        return None
    made, upright = into / "made", source
    if turn not in UPRIGHT:
        upright = into / "upright.v"  # on the disk: turned, its lines are needed crosswise
        if not _run(vips, "autorot", "", (f"{source}[fail_on=truncated]", str(upright))):
            upright.unlink(missing_ok=True)
            return None
        width, height = (height, width) if turn in LYING else (width, height)
    options = f"layout=dz,suffix=.jpg[Q={QUALITY},keep=none],tile_size={TILE},overlap=0,depth=onetile,background=0"
    strict = "[access=sequential,fail_on=truncated]" if upright is source else ""
    done = _run(vips, "dzsave", options, (f"{upright}{strict}", str(made)))
    if upright is not source:
        upright.unlink(missing_ok=True)
    if not done:
        shutil.rmtree(into / "made_files", ignore_errors=True)
        return None
    pyramid = Pyramid(width, height)
    _renamed(into, pyramid)
    (into / "tiles.json").write_text(json.dumps({"width": width, "height": height}), encoding="utf-8")
    return pyramid


def _opened(vips: ctypes.CDLL, source: Path) -> int | None:
    vips.vips_image_new_from_file.restype = ctypes.c_void_p
    found = vips.vips_image_new_from_file(str(source).encode(), ctypes.c_void_p(None))
    return int(found) if found else None


def _run(vips: ctypes.CDLL, name: str, options: str, words: tuple[str, ...]) -> bool:
    operation = vips.vips_operation_new(name.encode())
    if not operation:
        return False
    try:
        if options and vips.vips_object_set_from_string(operation, options.encode()):
            return False
        array = (ctypes.c_char_p * len(words))(*(word.encode() for word in words))
        return int(vips.vips_call_argv(ctypes.c_void_p(operation), len(words), array)) == 0
    finally:
        vips.vips_object_unref_outputs(ctypes.c_void_p(operation))
        vips.g_object_unref(ctypes.c_void_p(operation))


def _renamed(into: Path, pyramid: Pyramid) -> None:
    """From the names libvips gives to ours."""
    for level in range(pyramid.levels):
        folder = into / "made_files" / str(level)
        for tile in folder.iterdir():
            tile.rename(folder / tile.name.replace("_", "-"))
        folder.rename(into / str(level))
    shutil.rmtree(into / "made_files", ignore_errors=True)
    (into / "made.dzi").unlink(missing_ok=True)
