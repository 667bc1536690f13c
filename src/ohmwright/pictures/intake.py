"""``python -m ohmwright.pictures.intake FILE FOLDER``: decode a stranger's picture, upright, and cut it into tiles.

Run in a process of its own with little memory and little time, so that a file made to do harm harms only
that process. It answers with one line of JSON: the size, or what is wrong.
"""

from __future__ import annotations

import json
import os
import resource
import sys
from pathlib import Path

MOST_PIXELS = 200_000_000
"""In one picture. [px]"""
MOST_MEMORY = 6_000_000_000
"""Address space of this process: four copies of the largest picture, and the libraries. [B]"""
MOST_SECONDS = 120
"""Processor time of this process. [s]"""
STUFFED = frozenset((0x00, *range(0xD0, 0xD8)))
"""What follows 0xFF inside a scan: a byte that is stuffed, or a restart (T.81, B.1.1.5)."""
LEAST_EDGE = 64
"""Shorter edges show no board. [px]"""
WRONG = {
    "damaged": "The picture is damaged, or not what it says it is.",
    "cut": "The picture is cut short: its end is missing.",
    "large": "The picture is too large.",
    "small": "The picture is too small to show a board.",
}


def main() -> int:
    """Read the names, decode, cut, answer."""
    source, into = Path(sys.argv[1]), Path(sys.argv[2])
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))
    # Checked by the decoder itself, on the header, before anything is laid out in memory.
    os.environ["OPENCV_IO_MAX_IMAGE_PIXELS"] = str(MOST_PIXELS)
    os.environ["OPENCV_LOG_LEVEL"] = "SILENT"
    answer = _taken(source, into)
    sys.stdout.write(json.dumps(answer) + "\n")
    return 0


def _taken(source: Path, into: Path) -> dict[str, object]:
    from ohmwright.pictures import vips  # only now: the limits above must stand before a decoder is loaded

    if _breaks_off(source):
        return {"wrong": "cut", "why": "the file ends before the picture does"}
    with source.open("rb") as file:
        if file.read(8)[4:] == b"ftyp":
            return _taken_heic(source, into)
    strips = vips.library()
    pyramid = vips.cut_by_strips(strips, source, into, MOST_PIXELS) if strips is not None else None
    if pyramid is not None:
        return {"width": pyramid.width_px, "height": pyramid.height_px}
    return _taken_whole(source, into)


def _breaks_off(source: Path) -> bool:
    """Whether a JPEG's scan ends before its end mark (ITU-T T.81, annex B): decoders fill the rest with grey.

    They say nothing of it. What comes behind the mark, as phones put films and second pictures there, is not looked at.
    """
    with source.open("rb") as file:
        if file.read(2) != b"\xff\xd8":
            return False
        file.seek(max(0, source.stat().st_size - 4096))
        if file.read().rstrip(b"\0\r\n ").endswith(b"\xff\xd9"):
            return False  # as nearly all do; then nothing more has to be read
    data = source.read_bytes()
    at, size, begun = 2, len(data), False
    while at + 1 < size:
        if data[at] != 0xFF or data[at + 1] in STUFFED:
            at = data.find(b"\xff", at + 1)  # in a scan: on to the next mark
            if at < 0:
                break
        elif data[at + 1] == 0xFF:
            at += 1
        elif data[at + 1] == 0xD9:
            return False
        else:
            begun = begun or data[at + 1] == 0xDA
            at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return begun


def _taken_heic(source: Path, into: Path) -> dict[str, object]:
    """Decoded whole by libheif, which turns and mirrors as the file says (ISO/IEC 23008-12, `irot` and `imir`)."""
    import numpy as np
    import pi_heif  # type: ignore[import-untyped]  # carries no types

    from ohmwright.pictures.tiles import cut

    try:
        opened = pi_heif.open_heif(source, bgr_mode=True)
        width, height = opened.size
        if width * height > MOST_PIXELS:
            return {"wrong": "large", "why": f"{width} by {height} pixels"}
        if min(height, width) < LEAST_EDGE:
            return {"wrong": "small", "why": f"{width} by {height} pixels"}
        pixels = np.asarray(opened)  # a view: the pixels go with `opened`
    except MemoryError:
        return {"wrong": "large", "why": "its pixels do not fit into memory"}
    except (ValueError, RuntimeError, OSError, EOFError, SyntaxError) as error:
        return {"wrong": "damaged", "why": str(error).replace(str(source), "it")[-300:]}
    if pixels.ndim == 2:
        pixels = np.repeat(pixels[:, :, None], 3, axis=2)
    cut(np.ascontiguousarray(pixels[:, :, :3]), into)
    return {"width": width, "height": height}


def _taken_whole(source: Path, into: Path) -> dict[str, object]:
    """Decoded whole by OpenCV, which also turns it upright."""
    import cv2

    from ohmwright.pictures.tiles import cut

    try:
        pixels = cv2.imread(str(source), cv2.IMREAD_COLOR)
    except (cv2.error, MemoryError) as error:
        large = isinstance(error, MemoryError) or "MAX_IMAGE" in str(error)
        return {"wrong": "large" if large else "damaged", "why": str(error).replace(str(source), "it")[-300:]}
    if pixels is None or pixels.ndim != 3:
        return {"wrong": "damaged", "why": "the decoder made nothing of it"}
    height, width = pixels.shape[:2]
    if min(height, width) < LEAST_EDGE:
        return {"wrong": "small", "why": f"{width} by {height} pixels"}
    cut(pixels.astype("uint8", copy=False), into)
    return {"width": width, "height": height}


if __name__ == "__main__":
    sys.exit(main())
