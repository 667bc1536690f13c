"""Thermal files taken in: temperature pictures, series, tables, plain video, each with a stated scale."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ohmwright.errors import FileFormatError

LARGEST_FILE = 120_000_000
"""[B]"""
PATIENCE = 90.0
"""[s]"""
NOT_SAID = math.nan
Frames = NDArray[np.float32]


def thermal_frames(
    source: Path,
    *,
    low: float = NOT_SAID,
    high: float = NOT_SAID,
    per_count: float = NOT_SAID,
    offset: float = 0.0,
) -> tuple[Frames, float]:
    """Decode a thermal file in a process of its own, or a folder of them as one series.

    Parameters
    ----------
    low, high : float
        What black and white stand for, for plain pictures and video. [°C]
    per_count, offset : float
        Degrees per count, and at count zero, for radiometric files of whole numbers. [°C]

    Returns
    -------
    frames : ndarray, shape (n, h, w)
        [°C]
    rate : float
        Frames per second as the file says; 0 where it does not. [Hz]

    Raises
    ------
    FileFormatError
        If it cannot be read, with the reason.
    """
    try:
        size = sum(f.stat().st_size for f in source.iterdir()) if source.is_dir() else source.stat().st_size
    except OSError as error:
        raise FileFormatError(
            "The thermal file cannot be read.", where=str(source), why=str(error.strerror), hint="check its name"
        ) from error
    if not 0 < size <= LARGEST_FILE:
        raise FileFormatError(f"A thermal file of {size} bytes.", hint=f"at most {LARGEST_FILE // 1_000_000} MB")
    with tempfile.TemporaryDirectory(prefix="ohmwright-") as name:
        out = Path(name) / "kelvin.npy"
        numbers = [repr(float(value)) for value in (low, high, per_count, offset)]
        command = [sys.executable, "-m", "ohmwright.pictures.thermal_intake", str(source), str(out), *numbers]
        # The child finds its libraries where this process found them.
        surroundings = {**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}
        try:
            done = subprocess.run(command, capture_output=True, timeout=PATIENCE, check=False, env=surroundings)
            answer = json.loads(done.stdout)
        except (subprocess.TimeoutExpired, ValueError) as error:
            raise _refused("its decoder gave up") from error
        if "wrong" in answer:
            raise _refused(str(answer["wrong"]))
        return np.load(out, allow_pickle=False), float(answer["rate"])


def preview_png(celsius: Frames) -> bytes:
    """One thermal picture, shape (h, w), in grey, coldest black; PNG."""
    import cv2  # only where pictures are made: it takes long to load

    low, high = np.quantile(celsius, (0.005, 0.9995))
    grey = np.clip((celsius - low) / max(float(high - low), 1e-3) * 255.0, 0.0, 255.0).astype(np.uint8)
    _, data = cv2.imencode(".png", grey)
    return bytes(data.tobytes())


def _refused(why: str) -> FileFormatError:
    return FileFormatError(
        "This thermal file cannot be taken.",
        why=why,
        hint="export a table of temperatures (CSV) or a TIFF, and say what a count is; what was taken before is kept",
    )
