"""A camera at a meter's display, picture by picture: what it says, whether that is believed, and what has to be asked.

Pictures come in as JPEG from the page, are read and dropped; none is kept and none leaves the machine.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from ohmwright.errors import DataError
from ohmwright.pictures.display.agreement import Agreement, agreed
from ohmwright.pictures.display.glass import corners_found
from ohmwright.pictures.display.marks import UNITS, WORDS
from ohmwright.pictures.display.reading import DisplayRead, Taught, read_display

LARGEST = 800_000
"""Bytes of one picture. [B]"""
WIDEST = 2_600
"""Pixels of its longer side. [px]"""
FRESH = 1.2
"""How old what is believed may be. [s]"""
MOST_TAUGHT = 60
PREFIX = {"µ": 1e-6, "n": 1e-9, "m": 1e-3, "k": 1e3, "M": 1e6}
QUANTITIES = {"V": ("volts", "diode", "part diode", "supply volts"), "Ω": ("ohms", "part ohms"), "A": ("supply amps",)}
"""What a unit may be a reading of."""


@dataclass(frozen=True, slots=True)
class Believed:
    """A value that several pictures agree on.

    Parameters
    ----------
    value : float or None
        In SI units; None for OL.
    unit : str
        Without prefix.
    text : str
        As the display shows it.
    at : float
        When it was last seen. [s]
    held : bool
        Whether the meter holds an old value.
    diode : bool or None
        Whether it says diode mode; None where it cannot be told from volts.
    """

    value: float | None
    unit: str
    text: str
    at: float
    held: bool
    diode: bool | None

    def is_of(self, quantity: str) -> bool:
        """Whether it can be a reading of that quantity."""
        if quantity not in QUANTITIES.get(self.unit, ()) or self.held:
            return False
        return not (self.unit == "V" and self.diode is True and "diode" not in quantity)


@dataclass(frozen=True, slots=True)
class Looked:
    """One picture looked at.

    Parameters
    ----------
    boxes : tuple
        Corners of each figure in the picture, as shares of its width and height. [1]
    asks : bool
        Whether a mark is there that the user has to name.
    """

    read: DisplayRead
    believed: Believed | None
    boxes: tuple[tuple[float, ...], ...]
    asks: bool


class DisplayEye:
    """What a camera has seen of one display so far. May be called from several threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._state = Agreement()
        self._taught: tuple[Taught, ...] = ()
        self._last = DisplayRead()
        self._believed: Believed | None = None

    def find(self, jpeg: bytes) -> tuple[float, ...] | None:
        """Where the glass seems to be: eight shares of width and height, clockwise from the upper left. [1]"""
        picture = decoded(jpeg)
        corners = corners_found(picture)
        if corners is None:
            return None
        return tuple(float(v) for v in (corners / (picture.shape[1], picture.shape[0])).ravel())

    def look(self, jpeg: bytes, corners: tuple[float, ...], at: float) -> Looked:
        """Read one picture between corners given as shares of width and height. [1], [s]

        Raises
        ------
        DataError
            If the picture or the corners are none.
        """
        picture = decoded(jpeg)
        if len(corners) != 8 or not all(-0.5 <= v <= 1.5 for v in corners):
            raise DataError("Four corners are eight numbers.", hint="mark the display on the picture again")
        places = np.array(corners).reshape(4, 2) * (picture.shape[1], picture.shape[0])
        with self._lock:
            read = read_display(picture, places, self._taught)
            self._state = agreed(self._state, read)
            self._last = read
            if self._state.believed and self._state.says is not None and read.sure:
                self._believed = believed(*self._state.says, at)
            elif not read.sure and self._state.says is None:
                self._believed = None
            size = (picture.shape[1], picture.shape[0])
            asks = bool(read.text and read.marks) and not read.sure  # what is too faint to be taught is only said
            return Looked(read, self._believed, _in_picture(read, places, size), asks)

    def now(self, at: float) -> Believed | None:
        """What is believed at this moment, unless it is old. [s]"""
        with self._lock:
            found = self._believed
            return found if found is not None and at - found.at <= FRESH else None

    def teach(self, says: str) -> int:
        """Take the mark that was not certain for a unit or a word; how many marks are known then. [1]"""
        if says not in UNITS and says not in WORDS and says != "nothing":
            raise DataError(f"There is no mark called {says[:20]!r}.", hint=", ".join((*UNITS, *WORDS, "nothing")))
        with self._lock:
            if not self._last.marks:
                raise DataError("No mark is in doubt.", hint="let the camera see the display first")
            # What the user calls nothing is some word that changes no value, such as a bar or a battery.
            word = "AUTO" if says == "nothing" else says
            new = tuple(Taught(word, patch) for patch in self._last.marks[:1])
            self._taught = (*self._taught, *new)[-MOST_TAUGHT:]
            self._state = Agreement()
            return len(self._taught)

    def forget(self) -> None:
        """Another meter, or another place."""
        with self._lock:
            self._state, self._taught, self._last, self._believed = Agreement(), (), DisplayRead(), None


def believed(text: str, unit: str, words: tuple[str, ...], at: float) -> Believed:
    """The value of what a display says. [s]"""
    base = unit[1:] if len(unit) > 1 and unit[0] in PREFIX and unit != "Hz" else unit
    factor = PREFIX[unit[0]] if base != unit else 1.0
    value = None if text == "OL" else float(text) * factor
    diode = True if "diode" in words else False if {"DC", "AC"} & set(words) else None
    shown = f"{text} {unit}" if text != "OL" else "OL"
    return Believed(value, base, shown, at, "HOLD" in words, diode)


def decoded(jpeg: bytes) -> NDArray[np.uint8]:
    """Grey levels of a JPEG picture of a size that a camera makes.

    Raises
    ------
    DataError
        If it is none.
    """
    size = _size(jpeg)
    if size is None or max(size) > WIDEST or min(size) < 32:
        raise DataError("This is no picture from a camera.", hint=f"JPEG, at most {WIDEST} pixels wide")
    picture = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    if picture is None:
        raise DataError("The picture is broken.", hint="send the next one")
    return np.asarray(picture, np.uint8)


def _size(jpeg: bytes) -> tuple[int, int] | None:
    """Width and height by the frame header (ITU-T T.81, B.2.2), before anything is decoded. [px]"""
    if not jpeg.startswith(b"\xff\xd8") or len(jpeg) > LARGEST:
        return None
    at = 2
    while at + 9 < len(jpeg):
        if jpeg[at] != 0xFF:
            return None
        kind, length = jpeg[at + 1], int.from_bytes(jpeg[at + 2 : at + 4], "big")
        if kind in (0xC0, 0xC1, 0xC2):
            return int.from_bytes(jpeg[at + 7 : at + 9], "big"), int.from_bytes(jpeg[at + 5 : at + 7], "big")
        if length < 2:
            return None
        at += 2 + length
    return None


def _in_picture(
    read: DisplayRead, corners: NDArray[np.float64], size: tuple[int, int]
) -> tuple[tuple[float, ...], ...]:
    """Each figure's corners, back on the picture. [1]"""
    if not read.boxes:
        return ()
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    way = cv2.getPerspectiveTransform(square, corners.astype(np.float32))
    out = []
    for left, top, right, bottom in read.boxes:
        points = np.array([[[left, top], [right, top], [right, bottom], [left, bottom]]], np.float32)
        there = cv2.perspectiveTransform(points, way)[0] / np.array(size)
        out.append(tuple(float(v) for v in there.ravel()))
    return tuple(out)


__all__ = ["Believed", "DisplayEye", "Looked", "believed", "decoded"]
