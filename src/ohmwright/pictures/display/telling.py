"""Which of several known pictures a place shows, told by the differences between them; in doubt none.

Of two pictures A and B everything that both share says nothing. What is seen is laid along their difference: at 0 it
is A, at 1 it is B, and half a segment, or the value before still mixed in, lies between and is neither. What no known
picture explains is looked for as well, so that a figure nobody has told yet is not taken for its likeness.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from ohmwright.pictures.display.glass import Grey

NEARLY = 0.36
"""How far along the way to another picture the one that is seen may lie. [1]"""
STRANGE = 0.36
"""Smoothed ink beside what is known, as a share of the strongest known, from which it is strange. [1]"""
BLANK = 0.26
"""Smoothed ink from which a place is not empty. [1]"""
UNSEEN = 0.6
"""Share of the difference between two pictures that must not lie under white light. [1]"""
ALIKE = 0.12
"""Difference of two pictures, as a share of their own, below which they are one and the same. [1]"""
WEAKEST, STRONGEST = 0.55, 1.7
"""How strong what is seen may be, of what was told. [1]"""


@dataclass(frozen=True, slots=True)
class Told:
    """What a place shows; "" with the reason where that is not certain.

    Parameters
    ----------
    clear : float
        How far it lies from the likeliest other picture, from 0 (half way) to 1. [1]
    strong : float
        Ink as a share of what was told. [1]
    shift : tuple of int
        Rows and columns by which it is off. [px]
    """

    says: str
    why: str = ""
    clear: float = 0.0
    strong: float = 1.0
    shift: tuple[int, int] = (0, 0)


def told(seen: Grey, white: Grey, known: Mapping[str, Grey], slack: int, smooth: int) -> Told:
    """What is seen in a patch that is larger than the known ones by the slack on every side. [px]"""
    if not known:
        return Told("", "nothing is known of it yet")
    names = tuple(known)
    pictures: Grey = np.array([known[name] for name in names], np.float32)
    best, shift = _nearest(seen, white, pictures, slack)
    part, clear = _moved(seen, shift, slack), _moved(white, shift, slack) < 0.5
    own, mask = pictures[best], clear.astype(np.float32)
    power = float(np.sum(own * own * mask))
    strong = float(np.sum(part * own * mask)) / max(power, 1e-9)
    if not WEAKEST < strong < STRONGEST:
        return Told("", "it is too faint or too strong", strong=strong, shift=shift)
    rest = part / strong - own
    along_own, farthest = float(np.sum(part * own * mask)), 0.0
    for number, other in enumerate(pictures):
        way = other - own
        whole, open_part = float(np.sum(way * way)), float(np.sum(way * way * mask))
        if number == best or whole < ALIKE * float(np.sum(own * own)):
            continue
        if open_part < UNSEEN * whole:
            return Told("", "light falls on it", strong=strong, shift=shift)
        farthest = max(farthest, _share(part, other * mask, along_own, power, float(np.sum(own * other * mask))))
    if farthest > NEARLY:
        return Told("", "it is between two", 1 - 2 * min(farthest, 0.5), strong, shift)
    if strange(rest * mask, own, smooth) > STRANGE:
        return Told("", "something is there that nobody told", strong=strong, shift=shift)
    return Told(names[best], "", 1 - 2 * max(farthest, 0.0), strong, shift)


def _share(part: Grey, other: Grey, along_own: float, power: float, common: float) -> float:
    """How much of what is seen is the other picture, where it is made of both, however strong it is. [1]"""
    along, size = float(np.sum(part * other)), float(np.sum(other * other))
    own, theirs = along_own * size - along * common, along * power - along_own * common
    return theirs / (own + theirs) if own + theirs > 0 else 1.0


def strange(rest: Grey, own: Grey, smooth: int) -> float:
    """Strongest smoothed ink that is not explained, of the strongest that is. [1]"""
    size = (max(2, smooth), max(2, smooth))
    most = float(cv2.blur(own, size).max())
    return float(np.abs(cv2.blur(rest, size)).max()) / max(most, 0.25)


def blank(seen: Grey, white: Grey, smooth: int) -> bool | None:
    """Whether nothing is there; None where light hides that."""
    if float(cv2.blur(seen, (smooth, smooth)).max()) > BLANK:
        return False
    return None if float((white > 0.5).mean()) > 0.08 else True


def like(a: Grey, b: Grey) -> float:
    """Correlation without taking means off: ink has a zero. [1]"""
    size = float(np.linalg.norm(a) * np.linalg.norm(b))
    return float(np.sum(a * b)) / size if size > 0 else 0.0


def laid_on(seen: Grey, picture: Grey, slack: int) -> Grey:
    """What is seen moved to where it fits a picture best. [px]"""
    shift = _nearest(seen, np.zeros_like(seen), picture[None], slack)[1]
    return _moved(seen, shift, slack)


def middle_of(seen: Grey, slack: int) -> Grey:
    """What is seen where it is expected. [px]"""
    return _moved(seen, (0, 0), slack)


def _moved(seen: Grey, shift: tuple[int, int], slack: int) -> Grey:
    rows, columns = seen.shape[0] - 2 * slack, seen.shape[1] - 2 * slack
    top, left = slack + shift[0], slack + shift[1]
    return seen[top : top + rows, left : left + columns]


def _nearest(seen: Grey, white: Grey, pictures: Grey, slack: int) -> tuple[int, tuple[int, int]]:
    """The picture that leaves least unexplained, and the shift at which it does."""
    shifts = [(y, x) for y in range(-slack, slack + 1) for x in range(-slack, slack + 1)]
    parts: NDArray[np.float32] = np.array([_moved(seen, s, slack).ravel() for s in shifts], np.float32)
    flat = pictures.reshape(len(pictures), -1)
    if float(white.max(initial=0.0)) > 0.5:
        clear = np.array([_moved(white, s, slack).ravel() < 0.5 for s in shifts], np.float32)
        parts = parts * clear
        power = clear @ (flat * flat).T
    else:
        power = np.broadcast_to((flat * flat).sum(1), (len(shifts), len(flat)))
    along = np.maximum(parts @ flat.T, 0.0)
    left = 1.0 - along**2 / np.maximum(power, 1e-9) / np.maximum((parts * parts).sum(1)[:, None], 1e-9)
    where, which = np.unravel_index(int(np.argmin(left)), left.shape)
    return int(which), shifts[int(where)]
