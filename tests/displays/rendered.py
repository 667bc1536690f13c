"""Meter displays drawn and photographed by arithmetic: what the display reader is judged on.

Two families are kept apart: `apart=False` is what the reader was tuned on, `apart=True` has other segment shapes,
slants, strokes, dot fonts and lettering, and is looked at by the judging only.
The lettering in `faces.npz` was rendered once from Roboto (Apache-2.0) and Source Sans Pro (OFL-1.1).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

import cv2
import numpy as np
from tests.displays.room import Light as Light
from tests.displays.room import light as light
from tests.displays.room import photographed as photographed
from tests.displays.strokes import hershey, mu, omega

LETTERS = dict(np.load(Path(__file__).with_name("faces.npz")).items())
LIT = {
    "0": "abcdef", "1": "bc", "2": "abdeg", "3": "abcdg", "4": "bcfg", "5": "acdfg", "6": "acdefg", "7": "abc",
    "8": "abcdefg", "9": "abcdfg", "-": "g", "O": "abcdef", "L": "def", " ": "",
}  # fmt: skip
DOTS_A = {
    "0": "0E 11 13 15 19 11 0E", "1": "04 0C 04 04 04 04 0E", "2": "0E 11 01 02 04 08 1F", "3": "1F 02 04 02 01 11 0E",
    "4": "02 06 0A 12 1F 02 02", "5": "1F 10 1E 01 01 11 0E", "6": "06 08 10 1E 11 11 0E", "7": "1F 01 02 04 08 08 08",
    "8": "0E 11 11 0E 11 11 0E", "9": "0E 11 11 0F 01 02 0C", "-": "00 00 00 1F 00 00 00", "O": "0E 11 11 11 11 11 0E",
    "L": "10 10 10 10 10 10 1F",
}  # fmt: skip
DOTS_B = {
    "0": "0E 11 11 11 11 11 0E", "1": "04 0C 14 04 04 04 1F", "2": "0E 11 01 0E 10 10 1F", "3": "0E 11 01 06 01 11 0E",
    "4": "11 11 11 1F 01 01 01", "5": "1F 10 10 1E 01 01 1E", "6": "0E 10 10 1E 11 11 0E", "7": "1F 01 01 02 04 04 04",
    "8": "0E 11 11 0E 11 11 0E", "9": "0E 11 11 0F 01 01 0E", "-": "00 00 00 0E 00 00 00", "O": "0E 11 11 11 11 11 0E",
    "L": "10 10 10 10 10 11 1F",
}  # fmt: skip
DOTS_C = {
    "0": "0E 11 19 15 13 11 0E", "1": "02 06 0A 02 02 02 02", "2": "1E 01 01 0E 10 10 1F", "3": "1E 01 01 0E 01 01 1E",
    "4": "08 08 0A 0A 1F 02 02", "5": "1F 10 1C 02 01 11 0E", "6": "0E 11 10 1E 11 11 0E", "7": "1F 01 01 01 01 01 01",
    "8": "0E 11 0A 04 0A 11 0E", "9": "0E 11 11 0F 01 11 0E", "-": "00 00 00 1F 00 00 00", "O": "1F 11 11 11 11 11 1F",
    "L": "10 10 10 10 10 10 1F",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Shown:
    """What a display says: figures with sign and point, unit, and words above."""

    text: str
    unit: str = ""
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Panel:
    """How one maker draws it. Lengths in digit heights unless they say pixels."""

    dots: str = ""
    dark_on_light: bool = True
    slant_deg: float = 5.0
    stroke: float = 0.13
    gap: float = 0.02
    ends: str = "pointed"
    wide: float = 0.55
    pitch: float = 0.28
    point: float = 0.11
    round_point: bool = False
    face: int = -1
    places: int = 4
    off_shows: float = 0.03
    unit_high: float = 0.4
    words_high: float = 0.22
    unit_above: bool = False
    frame: int = 0
    rows: int = 16


HIGH = 120
"""Digit height on the drawing. [px]"""


def panel(rng: np.random.Generator, *, apart: bool) -> Panel:
    """A maker's panel by chance."""
    dots = str(rng.choice(["", "", "C" if apart else "A", "T" if apart else "B"]))
    ends = str(rng.choice(["square", "round"] if apart else ["pointed", "slanted"]))
    stroke = rng.uniform(0.10, 0.17) if apart else rng.uniform(0.11, 0.16)
    return Panel(
        dots=dots,
        dark_on_light=bool(rng.random() < 0.65),
        slant_deg=0.0 if dots else float(rng.uniform(0, 12 if apart else 9)),
        stroke=float(stroke),
        gap=float(rng.uniform(0.008, 0.03)),
        ends=ends,
        wide=float(rng.uniform(0.48, 0.64)),
        pitch=float(rng.uniform(0.24, 0.34)),
        point=float(rng.uniform(0.09, 0.14)),
        round_point=bool(rng.random() < 0.5),
        face=int(rng.integers(0, 2)) if apart else -1,
        places=int(rng.choice([4, 4, 4, 5, 6])),
        off_shows=float(rng.uniform(0, 0.09)),
        unit_high=float(rng.uniform(0.3, 0.5)),
        words_high=float(rng.uniform(0.18, 0.28)),
        unit_above=bool(rng.random() < 0.25),
        frame=int(rng.integers(0, 2)),
    )


def drawn(look: Panel, shown: Shown) -> np.ndarray:
    """Ink of the whole glass from 0 to 1. [1]"""
    cell = look.wide * HIGH
    step = cell + look.pitch * HIGH
    wide, high = int(HIGH * 0.55 + step * look.places + HIGH * 1.5), int(HIGH * 2.0)
    ink = np.zeros((high, wide), np.float32)
    base = high - 0.3 * HIGH
    lit, off = np.zeros_like(ink), np.zeros_like(ink)
    _figures(look, shown.text, lit, off, 0.55 * HIGH, base, cell, step)
    ink = np.maximum(lit, look.off_shows * off)
    if look.dots == "":
        slope = np.tan(np.radians(look.slant_deg))
        ink = cv2.warpAffine(ink, np.float32([[1, -slope, slope * base], [0, 1, 0]]), (wide, high))
    at = 0.55 * HIGH + step * look.places + (0.02 if look.dots else 0.05) * HIGH
    unit_base = base - (1.05 * HIGH - look.unit_high * HIGH if look.unit_above else 0)
    _lettering(look, ink, shown.unit, at, unit_base, look.unit_high * HIGH)
    x = 0.25 * HIGH
    for word in shown.words:
        x = _lettering(look, ink, word, x, 0.42 * HIGH, look.words_high * HIGH) + 0.3 * HIGH
    return ink


def _figures(look, text, lit, off, left, base, cell, step):
    figures = [c for c in text if c not in ".-"]
    minus, point = text.startswith("-"), text.find(".")
    first = look.places - len(figures)
    before = len([c for c in text[:point] if c not in ".-"]) if point >= 0 else -1
    if minus:
        x = left - 0.42 * HIGH if look.frame == 0 else left + step * (first - 1) + cell * 0.25
        if look.dots:
            _cell(look, "-", lit, x, base, cell)
        else:
            t = look.stroke * HIGH / 2
            wide = (0.34 if look.frame == 0 else 0.42) * HIGH
            _fill(
                lit,
                [
                    (x, base - HIGH / 2 - t),
                    (x + wide, base - HIGH / 2 - t),
                    (x + wide, base - HIGH / 2 + t),
                    (x, base - HIGH / 2 + t),
                ],
            )
    for k in range(look.places):
        x = left + step * k
        if not look.dots:
            _cell(replace(look, off_shows=0), "8", off, x, base, cell)
        if k >= first:
            _cell(look, figures[k - first], lit, x, base, cell)
        if not look.dots or (before >= 0 and k == first + before - 1):
            on = before >= 0 and k == first + before - 1
            _point(look, lit if on else off, x + cell + look.pitch * HIGH / 2, base)


def _point(look, ink, x, base):
    size = look.point * HIGH
    if look.dots:
        n = HIGH / 7.0
        size = min(n * (1.0 if look.frame else 1.6), 0.5 * look.pitch * HIGH)  # a point touches no figure
        _dot(ink, x - size / 2, base - size, size)
    elif look.round_point:
        cv2.circle(ink, (int(x), int(base - size / 2)), int(size / 2 + 0.5), 1.0, -1, cv2.LINE_AA)
    else:
        _fill(
            ink, [(x - size / 2, base - size), (x + size / 2, base - size), (x + size / 2, base), (x - size / 2, base)]
        )


def _dot(ink, x, y, n):
    e = n * 0.07
    _fill(ink, [(x + e, y + e), (x + n - e, y + e), (x + n - e, y + n - e), (x + e, y + n - e)])


def _fill(ink, points):
    cv2.fillPoly(ink, [np.int32(np.round(np.array(points) * 16))], 1.0, cv2.LINE_AA, 4)


def _cell(look, sign, ink, left, base, cell):
    if look.dots == "T":
        return _dotted_face(look, sign, ink, left, base, cell)
    if look.dots:
        table = {"A": DOTS_A, "B": DOTS_B, "C": DOTS_C}[look.dots]
        n = HIGH / 7.0
        wide = min(cell / 5.0, n * 1.05)
        for row, bits in enumerate(table[sign].split()):
            for column in range(5):
                if int(bits, 16) >> (4 - column) & 1:
                    x, y = left + wide * column, base - HIGH + n * row
                    e = 0.06 * n
                    _fill(ink, [(x + e, y + e), (x + wide - e, y + e), (x + wide - e, y + n - e), (x + e, y + n - e)])
        return None
    t, g = look.stroke * HIGH, look.gap * HIGH
    top, mid = base - HIGH, base - HIGH / 2
    right = left + cell
    for name in LIT[sign]:
        _segment(look, ink, name, left, right, top, mid, base, t, g)
    return None


def _segment(look, ink, name, left, right, top, mid, base, t, g):
    h = t / 2
    if name in "adg":
        y = {"a": top + h, "g": mid, "d": base - h}[name]
        a, b = (
            left + g + (h if look.ends in ("pointed", "slanted") else t),
            right - g - (h if look.ends in ("pointed", "slanted") else t),
        )
        if look.ends == "pointed" or (look.ends == "slanted" and name == "g"):
            points = [(a, y), (a + h, y - h), (b - h, y - h), (b, y), (b - h, y + h), (a + h, y + h)]
        elif look.ends == "slanted":
            up = name == "a"
            a, b = left + 2 * g, right - 2 * g
            points = (
                [(a, y - h), (b, y - h), (b - t, y + h), (a + t, y + h)]
                if up
                else [(a + t, y - h), (b - t, y - h), (b, y + h), (a, y + h)]
            )
        else:
            points = [(a, y - h), (b, y - h), (b, y + h), (a, y + h)]
    else:
        x = left + h if name in "ef" else right - h
        a, b = (top, mid) if name in "bf" else (mid, base)
        if look.ends == "pointed":
            a, b = (a + h if name in "bf" else a) + g, (b if name in "bf" else b - h) - g
            points = [(x, a), (x + h, a + h), (x + h, b - h), (x, b), (x - h, b - h), (x - h, a + h)]
        elif look.ends == "slanted":
            out = -1 if name in "ef" else 1
            if name in "bf":
                points = [
                    (x + out * h, a + 2 * g),
                    (x - out * h, a + t + 2 * g),
                    (x - out * h, b - h),
                    (x, b - g),
                    (x + out * h, b - g - h / 2),
                ]
            else:
                points = [
                    (x + out * h, b - 2 * g),
                    (x - out * h, b - t - 2 * g),
                    (x - out * h, a + h),
                    (x, a + g),
                    (x + out * h, a + g + h / 2),
                ]
        else:
            points = [(x - h, a + g), (x + h, a + g), (x + h, b - g), (x - h, b - g)]
    if look.ends == "round":
        points = np.array(points)
        r = t * 0.3
        (x0, y0), (x1, y1) = points.min(0), points.max(0)
        for x, y in ((x0 + r, y0 + r), (x1 - r, y0 + r), (x0 + r, y1 - r), (x1 - r, y1 - r)):
            cv2.circle(ink, (int(x * 16), int(y * 16)), int(r * 16), 1.0, -1, cv2.LINE_AA, 4)
        _fill(ink, [(x0 + r, y0), (x1 - r, y0), (x1 - r, y1), (x0 + r, y1)])
        _fill(ink, [(x0, y0 + r), (x1, y0 + r), (x1, y1 - r), (x0, y1 - r)])
        return
    _fill(ink, points)


def _dotted_face(look, sign, ink, left, base, cell):
    """A printed face set in fine dots, as on graphic displays."""
    glyph = LETTERS[f"{max(look.face, 0)}/{sign}"]
    box = LETTERS[f"{max(look.face, 0)}/box"]
    rows = look.rows
    body = glyph[box[1] : box[3] + 1]
    n = HIGH / rows
    inked = np.flatnonzero(body.any(0))
    body = body[:, inked[0] : inked[-1] + 1]
    across = min(round(body.shape[1] * rows / body.shape[0]), int(cell / n))  # no maker lets figures run together
    small = cv2.resize(body, (max(2, across), rows), interpolation=cv2.INTER_AREA) > 110
    x0 = left + max(0, (cell - small.shape[1] * n) / 2)
    for y, x in zip(*np.nonzero(small), strict=True):
        _dot(ink, x0 + x * n, base - HIGH + y * n, n)


def _lettering(look, ink, word, x, base, high):
    """Letters of a unit or a word, and the sign of the diode; where the next may begin. [px]"""
    if word == "diode":
        h = high / 2
        y = base - h
        _fill(ink, [(x, y - h * 0.8), (x, y + h * 0.8), (x + 1.4 * h, y)])
        _fill(
            ink,
            [
                (x + 1.4 * h, y - h * 0.8),
                (x + 1.65 * h, y - h * 0.8),
                (x + 1.65 * h, y + h * 0.8),
                (x + 1.4 * h, y + h * 0.8),
            ],
        )
        _fill(
            ink,
            [
                (x - 0.6 * h, y - h * 0.1),
                (x + 2.3 * h, y - h * 0.1),
                (x + 2.3 * h, y + h * 0.1),
                (x - 0.6 * h, y + h * 0.1),
            ],
        )
        return x + 2.3 * h
    faces = LETTERS if look.face >= 0 else TUNED()
    face = look.face if look.face >= 0 else look.frame
    box = faces[f"{face}/box"]
    scale = high / (box[3] - box[1])
    for letter in word:
        glyph = faces[f"{face}/{letter}"].astype(np.float32) / 255
        size = (max(2, round(glyph.shape[1] * scale)), max(2, round(glyph.shape[0] * scale)))
        small = cv2.resize(glyph, size, interpolation=cv2.INTER_AREA)
        x0, y0 = int(x), int(base - box[3] * scale)
        part = ink[max(y0, 0) : y0 + size[1], x0 : x0 + size[0]]
        np.maximum(part, small[max(-y0, 0) : max(-y0, 0) + part.shape[0], : part.shape[1]], out=part)
        x += size[0] - 6 * scale
    return x


_TUNED: dict[str, np.ndarray] = {}


def TUNED() -> dict[str, np.ndarray]:
    """Lettering of the tuned family: strokes of OpenCV's own Hershey font, with what it lacks drawn by hand."""
    if not _TUNED:
        for face, thick in ((0, 5), (1, 7)):
            for letter in "0123456789-VAmkMnFHzLOUTDCRESXIN":
                _TUNED[f"{face}/{letter}"] = hershey(letter, thick)
            _TUNED[f"{face}/Ω"], _TUNED[f"{face}/µ"] = omega(thick), mu(thick)
            _TUNED[f"{face}/box"] = np.array([0, 12, 40, 54])
    return _TUNED


QUANTITIES = (
    ("V", ("DC", "AUTO")),
    ("mV", ("DC",)),
    ("V", ("diode",)),
    ("Ω", ("AUTO",)),
    ("kΩ", ("AUTO",)),
    ("MΩ", ()),
    ("V", ("DC", "HOLD")),
    ("mA", ("DC",)),
    ("A", ("DC", "AUTO")),
    ("µA", ("DC",)),
)


def shown(rng: np.random.Generator, places: int) -> Shown:
    """Something a meter may say."""
    unit, words = QUANTITIES[int(rng.integers(0, len(QUANTITIES)))]
    if ("Ω" in unit and rng.random() < 0.2) or ("diode" in words and rng.random() < 0.2):
        return Shown(str(rng.choice(["OL", "O.L"])), unit, words)
    count = int(rng.integers(max(1, places - 1), places + 1))
    figures = "".join(str(int(d)) for d in rng.integers(0, 10, count))
    if count == places and places == 4 and rng.random() < 0.4:
        figures = "1" + figures[1:]
    point = int(rng.integers(0, count)) if rng.random() < 0.85 else 0
    text = figures if point == 0 else figures[:point] + "." + figures[point:]
    minus = "-" if "Ω" not in unit and rng.random() < 0.3 and count < places else ""
    return Shown(minus + text, unit, words)


@dataclass(frozen=True, slots=True)
class Burst:
    """A display looked at for several frames, and the truth."""

    truth: Shown
    look: Panel
    frames: tuple[tuple[np.ndarray, np.ndarray], ...] = field(repr=False, default=())


def burst(seed: int, *, apart: bool, frames: int = 5, hard: float = 1.0) -> Burst:
    """A display by chance in a room by chance; in a fifth of them the first frames still show the value before."""
    rng = np.random.default_rng([20_261, int(apart), seed])
    look = panel(rng, apart=apart)
    truth, how = shown(rng, look.places), light(rng, hard)
    before = replace(shown(rng, look.places), unit=truth.unit, words=truth.words)
    ghosts = [float(rng.uniform(0.15, 0.85)), float(rng.uniform(0, 0.3))] if rng.random() < 0.2 else []
    ink, older = drawn(look, truth), drawn(look, before) if ghosts else None
    pictures = []
    for k in range(frames):
        one = replace(how, old=ghosts[k] if k < len(ghosts) else 0.0)
        pictures.append(photographed(ink, look, one, rng, older))
    return Burst(truth, look, tuple(pictures))
