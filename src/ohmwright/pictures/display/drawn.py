"""A meter's display as a camera would see it, drawn for the practice bench so that the reader can be tried.

Seven segments, unit and words, on a light glass, a little askew and a little noisy. Nothing is judged by
these pictures.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

LIT = {
    "0": "abcdef", "1": "bc", "2": "abdeg", "3": "abcdg", "4": "bcfg", "5": "acdfg", "6": "acdefg", "7": "abc",
    "8": "abcdefg", "9": "abcdfg", "L": "def", "O": "abcdef", "-": "g",
}  # fmt: skip
HIGH, WIDE, STEP = 110, 62, 92
"""Height and width of a figure, and from one to the next. [px]"""
SIZE = (640, 300)
"""Width and height of the picture. [px]"""
GLASS = np.array([[78, 52], [566, 40], [574, 250], [70, 262]], np.float32)
"""Corners of the glass in the picture. [px]"""
FLAT = (600, 240)


def drawn_display(text: str, unit: str, words: tuple[str, ...], noise: np.random.Generator) -> bytes:
    """A JPEG of a display that shows figures, a unit and words.

    Parameters
    ----------
    text : str
        Figures with sign and point, or ``OL``; characters that no display has are left out.
    """
    ink = np.zeros((FLAT[1], FLAT[0]), np.uint8)
    _figures(ink, text[:8])
    _letters(ink, unit, (FLAT[0] - 128, 208), 1.3)
    for k, word in enumerate(words):
        _diode(ink, 60 + 110 * k, 40) if word == "diode" else _letters(ink, word, (44 + 110 * k, 52), 0.9)
    flat = np.asarray(0.72 * (1 - 0.72 * ink / 255.0), np.float32)
    way = cv2.getPerspectiveTransform(
        np.array([[0, 0], [FLAT[0], 0], [FLAT[0], FLAT[1]], [0, FLAT[1]]], np.float32), GLASS
    )
    picture = cv2.warpPerspective(flat, way, SIZE, flags=cv2.INTER_AREA, borderValue=0.22)
    picture = cv2.GaussianBlur(picture, (0, 0), 0.8) + noise.normal(0, 0.012, (SIZE[1], SIZE[0]))
    grey = np.clip(picture * 255, 0, 255).astype(np.uint8)
    return bytes(cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, 88])[1].tobytes())


def _figures(ink: NDArray[np.uint8], text: str) -> None:
    """Set to the right, as displays do."""
    places = [c for c in text if c in LIT]
    x, base = FLAT[0] - 150 - STEP * len(places) + (STEP - WIDE), 216
    for k, sign in enumerate(text):
        if sign == ".":
            cv2.rectangle(ink, (x - 22, base - 13), (x - 9, base), 255, -1, cv2.LINE_AA)
        elif sign == "-" and k == 0:
            cv2.rectangle(ink, (x + 12, base - HIGH // 2 - 7), (x + WIDE - 6, base - HIGH // 2 + 7), 255, -1)
            x += STEP
        elif sign in LIT:
            for name in LIT[sign]:
                _segment(ink, name, x, base)
            x += STEP


def _segment(ink: NDArray[np.uint8], name: str, x: int, base: int) -> None:
    half, top, mid, right = 7, base - HIGH, base - HIGH // 2, x + WIDE
    if name in "agd":
        y = {"a": top + half, "g": mid, "d": base - half}[name]
        a, b = x + half + 2, right - half - 2
        points = [
            (a, y),
            (a + half, y - half),
            (b - half, y - half),
            (b, y),
            (b - half, y + half),
            (a + half, y + half),
        ]
    else:
        at = x + half if name in "fe" else right - half
        a, b = (top + half, mid) if name in "fb" else (mid, base - half)
        a, b = a + 2, b - 2
        points = [(at, a), (at + half, a + half), (at + half, b - half), (at, b), (at - half, b - half),
                  (at - half, a + half)]  # fmt: skip
    cv2.fillPoly(ink, [np.array(points, np.int32)], 255, cv2.LINE_AA)


def _letters(ink: NDArray[np.uint8], word: str, at: tuple[int, int], size: float) -> None:
    x, y = at
    for letter in word:
        if letter == "Ω":
            r, t = int(11 * size), max(2, round(2.6 * size))
            cv2.ellipse(ink, (x + r + 4, y - r - int(1.5 * size)), (r, int(1.1 * r)), 0, 115, 425, 255, t, cv2.LINE_AA)
            cv2.line(ink, (x + 2, y), (x + r - 1, y), 255, t, cv2.LINE_AA)
            cv2.line(ink, (x + r + 9, y), (x + 2 * r + 6, y), 255, t, cv2.LINE_AA)
            x += 2 * r + 10
            continue
        cv2.putText(ink, letter, (x, y), cv2.FONT_HERSHEY_SIMPLEX, size, 255, max(2, round(2.6 * size)), cv2.LINE_AA)
        x += cv2.getTextSize(letter, cv2.FONT_HERSHEY_SIMPLEX, size, 3)[0][0]


def _diode(ink: NDArray[np.uint8], x: int, y: int) -> None:
    cv2.fillPoly(ink, [np.array([(x, y - 13), (x, y + 13), (x + 22, y)], np.int32)], 255, cv2.LINE_AA)
    cv2.rectangle(ink, (x + 22, y - 13), (x + 26, y + 13), 255, -1)
    cv2.line(ink, (x - 12, y), (x + 40, y), 255, 3, cv2.LINE_AA)
