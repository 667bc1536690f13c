"""A camera at a meter's display, picture by picture: what it says, whether that is believed, and what has to be asked.

Pictures come in as JPEG from the page, are read and dropped; none is kept and none leaves the machine.
"""

from __future__ import annotations

import re
import threading
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from ohmwright.errors import DataError
from ohmwright.pictures.display.agreement import Agreement, agreed
from ohmwright.pictures.display.familiar import MOST, Familiar, Lesson, astray, familiar_from, lesson_of
from ohmwright.pictures.display.glass import Glass, corners_found, glass_from_picture, unchanged
from ohmwright.pictures.display.marks import UNITS, WORDS
from ohmwright.pictures.display.reading import DisplayRead, Taught, read_display
from ohmwright.pictures.display.recognising import read_familiar

LARGEST = 800_000
"""Bytes of one picture. [B]"""
WIDEST = 2_600
"""Pixels of its longer side. [px]"""
FRESH = 1.2
"""How old what is believed may be. [s]"""
OVEREXPOSED = 0.35
"""Share of white on the glass from which that is what has to be put right. [1]"""
KNOWS_BETTER = ("light falls", "between two")
"""Doubts of a reader that knows all figures which one that does not know the display cannot lay to rest."""
MOST_TAUGHT = 60
PASSING = 6
"""Pictures that may show something else, as a hand before the camera does, until what was told is given up. [1]"""
SHOWN = re.compile(r"-?[0-9]{0,7}\.?[0-9]{1,7}|O\.?L")
"""What the figures of a display may be."""
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
        self._glass: Glass | None = None
        self._lessons: tuple[Lesson, ...] = ()
        self._familiar: Familiar | None = None
        self._recognised = False
        self._pinned: Glass | None = None
        self._told: tuple[Glass, tuple[str, str, tuple[str, ...]]] | None = None
        self._otherwise = 0

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
        return self.look_at(picture, np.array(corners).reshape(4, 2) * (picture.shape[1], picture.shape[0]), at)

    def look_at(self, picture: NDArray[np.uint8], places: NDArray[np.float64], at: float) -> Looked:
        """The same from grey levels and corners. [px], [s]"""
        with self._lock:
            read = self._read(picture, places)
            if not read.sure and self._glass is not None and self._glass.clipped.mean() > OVEREXPOSED:
                read = replace(read, why="the glass is white with light: turn the lamp away, or the exposure down")
            before = self._state
            self._state = agreed(before, read)
            self._last = read
            self._believe(read, at, fresh=not before.believed)
            size = (picture.shape[1], picture.shape[0])
            asks = bool(read.text and read.marks) and not read.sure  # what is too faint to be taught is only said
            return Looked(read, self._believed, _in_picture(read, places, size), asks)

    def _believe(self, read: DisplayRead, at: float, *, fresh: bool) -> None:
        """What is believed after one more picture; a display read for the first time is a lesson too. [s]"""
        stands = self._told is not None and self._glass is not None and unchanged(self._told[0], self._glass)
        self._otherwise = 0 if stands else self._otherwise + 1
        if self._otherwise > PASSING:
            self._told = None
        if self._state.believed and self._state.says is not None and read.sure:
            self._believed = believed(*self._state.says, at)
            if fresh and not self._recognised:
                self._learn(self._glass, *self._state.says)
        elif self._told is not None and stands:
            self._believed = believed(*self._told[1], at)  # as the user said, while it looks as it did
        elif not read.sure and self._state.says is None:
            self._believed = None

    def pin(self) -> None:
        """Keep the display as it is now: the user begins to type what it shows."""
        with self._lock:
            self._pinned = self._glass

    def shows(self, text: str, unit: str, words: tuple[str, ...]) -> bool:
        """Be told what the display shows now, or showed when it was pinned; whether that could be learnt from.

        It is believed while the display looks as it did then. One picture that does not, torn or with a hand in it,
        is believed nothing of, and forgets nothing.

        Raises
        ------
        DataError
            If no display says such a thing, or no picture was looked at yet.
        """
        if not SHOWN.fullmatch(text) or unit not in UNITS or not set(words) <= set(WORDS):
            raise DataError(
                f"No display shows {text[:20]!r} {unit[:5]!r}.", hint="type the figures as they stand: -1.234"
            )
        with self._lock:
            glass, self._pinned = self._pinned or self._glass, None
            if glass is None:
                raise DataError("No picture was looked at yet.", hint="let the camera see the display first")
            self._state, self._believed = Agreement(), None
            says = ("OL" if "L" in text else text, unit, tuple(sorted(words)))
            self._told, self._otherwise = (glass, says), 0
            return self._learn(glass, *says)

    def _read(self, picture: NDArray[np.uint8], corners: NDArray[np.float64]) -> DisplayRead:
        """By what is known of this display, or else as one never seen before; where both differ it is asked."""
        self._glass = glass_from_picture(picture, corners)
        self._recognised = False
        if self._familiar is None:
            return read_display(picture, corners, self._taught)
        known = read_familiar(self._glass, self._familiar)
        self._recognised = known.sure
        if known.sure:
            return known
        fresh = read_display(picture, corners, self._taught)
        if not known.text and self._familiar.complete and any(word in known.why for word in KNOWS_BETTER):
            return replace(fresh, text="", unit="", why=known.why)  # who knows all its figures knows better
        if known.text and fresh.text and bare(known.text) != bare(fresh.text):
            return DisplayRead(why="it reads in two ways", boxes=fresh.boxes)
        if fresh.sure:
            return fresh
        if not known.text:
            return fresh if fresh.text else replace(fresh, why=known.why)
        return replace(known, marks=fresh.marks)

    def _learn(self, glass: Glass | None, text: str, unit: str, words: tuple[str, ...]) -> bool:
        """Keep the glass as a lesson; whether the display is known then."""
        if glass is None:
            return False
        if self._lessons and self._lessons[-1].glass.grey.shape != glass.grey.shape:
            self._lessons = ()  # the corners were marked anew
        lesson = lesson_of(glass, text, unit, words)
        if self._familiar is not None and astray(lesson, self._familiar):
            self._lessons = ()  # the camera was knocked: nothing is where it was
        self._lessons = (*self._lessons, lesson)[-MOST:]
        self._familiar = familiar_from(self._lessons)
        return self._familiar is not None

    def now(self, at: float) -> Believed | None:
        """What is believed at this moment, unless it is old. [s]"""
        with self._lock:
            found = self._believed
            return found if found is not None and at - found.at <= FRESH else None

    @property
    def says(self) -> tuple[str, str, tuple[str, ...]] | None:
        """Text, unit and words that the latest pictures say."""
        with self._lock:
            return self._state.says

    def turn(self) -> None:
        """The display has gone on to something else: what was believed of it is no longer."""
        with self._lock:
            self._state, self._believed, self._told = Agreement(), None, None

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
            self._glass, self._lessons, self._familiar = None, (), None
            self._pinned = self._told = None


def bare(text: str) -> str:
    """Figures without the zero that stands before the point."""
    return text.replace("0.", ".", 1) if text.lstrip("-").startswith("0.") else text


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
