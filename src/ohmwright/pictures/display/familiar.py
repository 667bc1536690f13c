"""A display that the user has told of: each place is held against what the same display showed before.

Whenever a display is not certain it is asked, and each answer is a lesson: where the figures stand, what each of them
looks like in this light through this camera, where the point and the unit are. A figure is believed from two lessons
on that look alike, so that one slip of the typing hand teaches nothing wrong. Of seven segments the figures not met
yet are put together from those that were.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np

from ohmwright.pictures.display.cells import (
    FINE,
    PAD,
    SLACK,
    Places,
    Seen,
    Upright,
    cut,
    places_of,
    point_patch,
    seen_in,
    upright,
)
from ohmwright.pictures.display.composed import composed, in_segments
from ohmwright.pictures.display.glass import Glass, Grey, looks_dark
from ohmwright.pictures.display.row import row_of
from ohmwright.pictures.display.telling import laid_on, like, middle_of

TWICE = 2
"""Lessons from which a figure is believed. [1]"""
KNOCKED = 0.12
"""How far the figures stand from where they were told to, as a share of their height, when the camera was moved. [1]
A figure that does not fill its place quite may lie half of that off its middle."""
SAME = 0.86
"""Likeness of two lessons of one figure from which they are the same. [1]"""
DULL = 0.2
"""Ink of its brightest places below which an area is empty. [1]"""
LATEST = 8
"""Lessons of one figure that are looked at. [1]"""
MOST = 48
"""Lessons kept. [1]"""


@dataclass(frozen=True, slots=True)
class Lesson:
    """One display and what it says: figures with sign and point or OL, unit, and words that matter."""

    glass: Glass
    text: str
    unit: str
    words: tuple[str, ...]
    seen: Seen | None


@dataclass(frozen=True, slots=True)
class Area:
    """A part of the glass beside the figures that was told: what it says and what it looks like."""

    says: tuple[str, ...]
    picture: Grey

    @property
    def empty(self) -> bool:
        """Whether nothing is lit in it."""
        return _dull(self.picture)


@dataclass(frozen=True, slots=True)
class Familiar:
    """What is known of one display.

    Parameters
    ----------
    figures : mapping
        Picture of each figure, of the size of `cells.cut` without its slack.
    minus : ndarray or None
        Picture of a place with a minus.
    points : mapping
        Pictures of the gap after a place, with its point and without.
    units, words : tuple of Area
    """

    places: Places
    figures: Mapping[str, Grey]
    minus: Grey | None = None
    points: Mapping[str, Grey] = field(default_factory=dict)
    units: tuple[Area, ...] = ()
    words: tuple[Area, ...] = ()

    @property
    def complete(self) -> bool:
        """Whether all ten figures are known."""
        return set("0123456789") <= set(self.figures)


def familiar_from(lessons: Sequence[Lesson]) -> Familiar | None:
    """What lessons of one display teach together; None while its places are not known."""
    found = [(lesson.seen, lesson.text) for lesson in lessons if lesson.seen is not None]
    places = places_of([seen for seen, _ in found])
    if places is None:
        return None
    stood = [(lesson, up) for lesson in lessons if (up := upright(lesson.glass, places)) is not None]
    cells: dict[str, list[Grey]] = {}
    minus: list[Grey] = []
    points: dict[str, list[Grey]] = {"": [], ".": []}
    for lesson, up in stood:
        _cells(lesson, up, places, cells, minus)
        _points(lesson, up, places, points)
    figures = {sign: picture for sign, several in cells.items() if (picture := agreed_on(several)) is not None}
    if in_segments([(seen.row, text) for seen, text in found]):
        figures |= {sign: picture for sign, picture in composed(figures).items() if sign not in figures}
    kept = {says: np.asarray(np.median(several, axis=0), np.float32)
            for says, several in points.items() if len(several) >= TWICE}  # fmt: skip
    return Familiar(
        places, figures, agreed_on(minus), kept,
        _areas([((lesson.unit,), unit_area(up.plain, places)) for lesson, up in stood]),
        _areas([(lesson.words, word_area(up.plain, places)) for lesson, up in stood]),
    )  # fmt: skip


def lesson_of(glass: Glass, text: str, unit: str, words: tuple[str, ...]) -> Lesson:
    """A display and what it says."""
    return Lesson(glass, text, unit, words, _seen(glass, text))


def astray(lesson: Lesson, known: Familiar) -> bool:
    """Whether the figures of a lesson stand elsewhere than those told before."""
    if lesson.seen is None or len(lesson.seen.middles) < TWICE:
        return False
    places = known.places
    off = [
        max(abs(places.right - k * places.step - middle), abs(places.bottom + k * places.drop - foot))
        for k, middle, foot in lesson.seen.middles
    ]
    return float(np.median(off)) > KNOCKED * places.high


def _seen(glass: Glass, text: str) -> Seen | None:
    first = looks_dark(glass)
    for dark in (first, not first):
        row = row_of(glass, dark=dark)
        found = seen_in(row, text, dark) if row is not None else None
        if found is not None:
            return found
    return None


def figures_of(text: str) -> str:
    """The figures of a text, from the last to the first."""
    return "".join(c for c in reversed(text) if c not in ".-")


def points_after(text: str) -> int:
    """How many places from the last the point stands after; -1 for none."""
    return len(text) - 1 - text.index(".") if "." in text else -1


def _cells(lesson: Lesson, up: Upright, places: Places, cells: dict[str, list[Grey]], minus: list[Grey]) -> None:
    told = figures_of(lesson.text)
    for place, sign in enumerate(told):
        if _whitish(cut(up.white, places, place, wide=places.wide)):
            continue
        cells.setdefault(sign, []).append(cut(up.ink, places, place, wide=places.wide))
    if lesson.text.startswith("-"):
        patch = lead_patch(up.ink, places, len(told))
        if not _whitish(lead_patch(up.white, places, len(told))):
            minus.append(patch)


def _points(lesson: Lesson, up: Upright, places: Places, points: dict[str, list[Grey]]) -> None:
    where = points_after(lesson.text)
    for place in range(1, len(figures_of(lesson.text))):
        if not _whitish(point_patch(up.white, places, place)):
            points["." if place == where else ""].append(point_patch(up.ink, places, place))


def _whitish(white: Grey) -> bool:
    return bool((white > 0.5).mean() > 0.02)


def lead_patch(image: Grey, places: Places, place: int) -> Grey:
    """A place before the figures up to the next ones, without its foot, where a point may stand."""
    return cut(image, places, place, wide=places.step)[: SLACK + PAD + int(0.72 * FINE)]


def agreed_on(several: Sequence[Grey]) -> Grey | None:
    """The picture that most of the latest lessons of one figure agree on; None unless two do."""
    several = several[-LATEST:]
    if len(several) < TWICE:
        return None
    flat = [middle_of(one, SLACK) for one in several]
    alike = [sum(like(a, laid_on(other, a, SLACK)) > SAME for other in several) for a in flat]
    first = flat[int(np.argmax(alike))]
    fits = [moved for other in several if like(first, moved := laid_on(other, first, SLACK)) > SAME]
    return np.asarray(np.mean(fits, axis=0), np.float32) if len(fits) >= max(TWICE, 0.6 * len(several)) else None


def unit_area(plain: Grey, places: Places) -> Grey:
    """The glass right of the figures."""
    left = int(places.right + 0.5 * places.wide + 0.07 * places.high)
    return _framed(plain, 4, plain.shape[0] - 4, left, plain.shape[1] - 6)


def word_area(plain: Grey, places: Places) -> Grey:
    """The glass above the figures."""
    right = int(places.right + 0.5 * places.wide + 0.07 * places.high)
    bottom = int(places.bottom - places.high + min(places.drop * places.count, 0.0) - 0.07 * places.high)
    return _framed(plain, 6, bottom, max(6, int(0.03 * plain.shape[1])), right)


def _framed(plain: Grey, top: int, bottom: int, left: int, right: int) -> Grey:
    part = plain[max(top, 0) : max(bottom, 0), max(left, 0) : max(right, 0)]
    if min(part.shape) < 16:
        return np.zeros((0, 0), np.float32)
    return np.asarray(cv2.resize(part, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA), np.float32)


def _areas(told: Sequence[tuple[tuple[str, ...], Grey]]) -> tuple[Area, ...]:
    """One picture for each thing said and each look of it: words that say nothing of the value are not told apart."""
    groups: list[tuple[tuple[str, ...], list[Grey]]] = []
    for says, picture in told:
        if min(picture.shape) < 8:
            continue
        near = [(like(several[0], picture), several) for said, several in groups if said == says]
        likeness, group = max(near, key=lambda n: n[0], default=(0.0, None))
        if group is not None and (likeness > SAME or (_dull(picture) and _dull(group[0]))):
            group.append(picture)
        else:
            groups.append((says, [picture]))
    return tuple(Area(says, np.asarray(np.mean(several, axis=0), np.float32)) for says, several in groups)


def _dull(picture: Grey) -> bool:
    return float(np.percentile(picture, 99.5)) < DULL
