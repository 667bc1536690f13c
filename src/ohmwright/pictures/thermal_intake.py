"""``python -m ohmwright.pictures.thermal_intake FILE OUT LOW HIGH SCALE OFFSET``: decode a stranger's thermal file.

Run in a process of its own with little memory and little time, as `ohmwright.pictures.intake` is. What comes out
is one array of °C, frame by frame, in a file; it answers with one line of JSON. Scales are stated, never assumed:
cameras of one maker differ by ten in what a count is.
"""

from __future__ import annotations

import json
import math
import os
import re
import resource
import sys
from pathlib import Path
from typing import Any

MOST_VALUES = 60_000_000
"""Pixels times frames. [1]"""
MOST_FRAMES = 4000
MOST_MEMORY, MOST_SECONDS = 3_000_000_000, 60
"""Address space [B] and processor time [s] of this process."""
LEAST_EDGE = 8
COLDEST, HOTTEST = -80.0, 1000.0
"""Anything outside is no temperature at a bench. [°C]"""
PICTURES = (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+", b"\x89PNG", b"\xff\xd8\xff", b"BM")
"""How pictures begin: TIFF, large TIFF, PNG, JPEG, bitmap."""
IN_KELVIN = (250.0, 375.0)
"""Between these lies the middle of a picture in kelvin of a board at a bench. [K]"""
WARMEST_MIDDLE = 150.0
"""No board is warmer all over. [°C]"""
GREY = 6
"""Most by which the colours of a grey frame differ. [1]"""


def main() -> int:
    """Read the names, decode, answer."""
    source, out = Path(sys.argv[1]), Path(sys.argv[2])
    low, high, scale, offset = (float(word) for word in sys.argv[3:7])
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))
    os.environ["OPENCV_IO_MAX_IMAGE_PIXELS"] = str(MOST_VALUES)
    os.environ["OPENCV_LOG_LEVEL"] = "SILENT"
    sys.stdout.write(json.dumps(_taken(source, out, (low, high), (scale, offset))) + "\n")
    return 0


class _Wrong(Exception):
    """Why a file is not taken."""


def _taken(source: Path, out: Path, ends: tuple[float, float], count: tuple[float, float]) -> dict[str, object]:
    import numpy as np

    try:
        frames, rate = _decoded(source)
        kelvin = _scaled(frames, ends, count)
    except _Wrong as wrong:
        return {"wrong": str(wrong)}
    except MemoryError:
        return {"wrong": "It is too large."}
    good = np.isfinite(kelvin)
    if not good.all():
        return {"wrong": f"{int((~good).sum())} of its values are no numbers."}
    if float(kelvin.min()) < COLDEST or float(kelvin.max()) > HOTTEST:
        return {"wrong": f"It would run from {kelvin.min():.0f} to {kelvin.max():.0f} °C: the scale is another one."}
    np.save(out, kelvin.astype(np.float32), allow_pickle=False)
    return {"frames": len(kelvin), "height": kelvin.shape[1], "width": kelvin.shape[2], "rate": rate}


def _decoded(source: Path) -> tuple[Any, float]:
    if source.is_dir():
        return _folder(source), 0.0
    with source.open("rb") as stream:
        start = stream.read(32)
    if start.startswith(PICTURES):
        return _stacked(_pages(source)), 0.0
    if start[4:8] == b"ftyp" or start.startswith((b"RIFF", b"\x1aE\xdf\xa3")):
        return _video(source)
    return _table(source), 0.0


def _folder(source: Path) -> Any:
    """One picture a file, in the order of their names, figures in them by value."""
    import numpy as np

    files = sorted((f for f in source.iterdir() if f.is_file() and not f.name.startswith(".")), key=_in_order)
    if not 1 <= len(files) <= MOST_FRAMES:
        raise _Wrong(f"It holds {len(files)} files.")
    frames: list[Any] = []
    for file in files:
        one, _ = _decoded(file)
        if frames and (one.shape[1:] != frames[0].shape[1:] or one.dtype != frames[0].dtype):
            raise _Wrong(f"{file.name} is of another size or kind than the files before it.")
        frames.append(one)
        if sum(f.size for f in frames) > MOST_VALUES:
            raise _Wrong("It is too large.")
    return np.concatenate(frames)


def _in_order(file: Path) -> list[tuple[int, str]]:
    return [(int(word), "") if word.isdecimal() else (-1, word) for word in re.split(r"(\d+)", file.name)]


def _pages(source: Path) -> list[Any]:
    import cv2

    try:
        count = cv2.imcount(str(source), cv2.IMREAD_UNCHANGED)
        if count < 1:
            raise _Wrong("It begins as a picture, and none can be read: it is damaged, or was cut short.")
        if count > MOST_FRAMES:
            raise _Wrong(f"It holds {count} pictures: more than {MOST_FRAMES}.")
        ok, pages = cv2.imreadmulti(str(source), flags=cv2.IMREAD_UNCHANGED)
    except cv2.error as error:
        raise _Wrong("It is damaged, or not what it says it is.") from error
    if not ok or not pages:
        raise _Wrong("It is damaged, or not what it says it is.")
    return list(pages)


def _video(source: Path) -> tuple[Any, float]:
    import cv2

    reader = cv2.VideoCapture(str(source))
    rate = float(reader.get(cv2.CAP_PROP_FPS) or 0.0)
    frames: list[Any] = []
    values = 0
    while True:
        ok, frame = reader.read()
        if not ok:
            break
        frames.append(_grey(frame))
        values += frames[-1].size
        if values > MOST_VALUES or len(frames) > MOST_FRAMES:
            raise _Wrong("It is too long: cut it to the seconds that matter.")
    if not frames:
        raise _Wrong("No frame of it can be read.")
    return _stacked(frames), rate if math.isfinite(rate) else 0.0


def _grey(frame: Any) -> Any:
    """One channel of a frame that is grey; a coloured one has lost its temperatures."""
    import numpy as np

    if frame.ndim == 2:
        return frame
    colours = frame[..., :3].astype(np.int16)
    if float(np.quantile(colours.max(axis=2) - colours.min(axis=2), 0.98)) > GREY:
        raise _Wrong("It is coloured: which colour is how warm is not known. Record it in grey, white hot.")
    return frame[..., 1]


def _stacked(pages: list[Any]) -> Any:
    import numpy as np

    pages = [_grey(page) for page in pages]
    if any(page.shape != pages[0].shape for page in pages):
        raise _Wrong("Its pictures differ in size.")
    if len(pages) * pages[0].size > MOST_VALUES or min(pages[0].shape) < LEAST_EDGE:
        raise _Wrong(f"{len(pages)} pictures of {pages[0].shape[1]} by {pages[0].shape[0]}.")
    return np.stack(pages)


def _table(source: Path) -> Any:
    """Frames of a table of numbers."""
    from ohmwright.pictures.thermal_table import UnlikeTableError, table_of

    try:
        return table_of(source, MOST_VALUES)
    except UnlikeTableError as wrong:
        raise _Wrong(str(wrong)) from wrong


def _scaled(frames: Any, ends: tuple[float, float], count: tuple[float, float]) -> Any:
    """Degrees Celsius: from a stated range of grey, from stated kelvin per count, or as they stand in floats."""
    import numpy as np

    if math.isfinite(ends[0]) and math.isfinite(ends[1]):
        if frames.dtype.kind == "f":
            raise _Wrong("It holds temperatures itself: leave the range out.")
        if ends[0] == ends[1]:
            raise _Wrong("Black and white stand for the same temperature: say what each is.")
        top = float(np.iinfo(frames.dtype).max)
        return ends[0] + frames.astype(np.float32) * np.float32((ends[1] - ends[0]) / top)
    if math.isfinite(count[0]):
        if not count[0] > 0.0:
            raise _Wrong(f"A count of {count[0]:g} degrees: say how much warmer the next count is.")
        return frames.astype(np.float32) * np.float32(count[0]) + np.float32(count[1])
    if frames.dtype.kind != "f":
        raise _Wrong("What its counts mean has to be said: the range of its grey, or degrees per count.")
    middle = float(np.median(frames))
    if not middle >= WARMEST_MIDDLE:
        return frames
    if not IN_KELVIN[0] <= middle <= IN_KELVIN[1] or not (frames % 1.0).any():
        raise _Wrong(f"Its middle is {middle:g}: neither °C nor kelvin. Say how many degrees a count is.")
    return frames - 273.15


if __name__ == "__main__":
    sys.exit(main())
