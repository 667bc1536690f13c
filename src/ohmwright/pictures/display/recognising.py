"""A picture of a display that the user has told of, read against what it showed before; or why it is not certain."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from ohmwright.pictures.display.cells import SLACK, Upright, cut, point_patch, upright
from ohmwright.pictures.display.doubt import DoubtError
from ohmwright.pictures.display.familiar import Area, Familiar, lead_patch, unit_area, word_area
from ohmwright.pictures.display.glass import TALL, Glass, Grey
from ohmwright.pictures.display.reading import DisplayRead
from ohmwright.pictures.display.telling import Told, blank, middle_of, told

SMOOTH = 4
"""How far ink is smoothed before it may be strange; about a stroke. [px]"""
ON, OFF = 0.68, 0.32
"""How far from no point to a point the foot of a gap may lie to have one, and to have none. [1]"""
UNEVEN = 1.6
"""How much stronger one figure may be than another. [1]"""
SHOWS = 0.4
"""Share of a figure that has to be free of light for it to be seen. [1]"""
AREA_SLACK = 2
"""How far unit and words may be off. [px]"""


def read_familiar(glass: Glass, known: Familiar) -> DisplayRead:
    """What a picture of a known display says."""
    places = known.places
    up = upright(glass, places)
    if up is None:
        return DisplayRead(why="there are no figures to be seen")
    wide = glass.grey.shape[1]
    try:
        text, margin, count = _text(up, known)
    except DoubtError as doubt:
        return DisplayRead(why=str(doubt))
    boxes = tuple(
        (
            (places.right - k * places.step - places.wide / 2) / wide, (places.bottom - places.high) / TALL,
            (places.right - k * places.step + places.wide / 2) / wide, places.bottom / TALL,
        )
        for k in range(count)
    )  # fmt: skip
    read = DisplayRead(text=text, margin=margin, boxes=boxes[::-1])
    try:
        unit = _area(unit_area(up.plain, places), unit_area(up.plain_white, places), known.units, "the unit")
        words = _area(word_area(up.plain, places), word_area(up.plain_white, places), known.words, "a word")
    except DoubtError as doubt:
        return replace(read, why=str(doubt))
    return replace(read, unit=unit[0], words=words)


def _text(up: Upright, known: Familiar) -> tuple[str, float, int]:
    """Figures with sign and point, the margin, and how many places they take."""
    places = known.places
    signs: list[Told] = []
    minus = False
    for place in range(places.count):
        lead = _lead(up, known, place)
        if lead is None:
            signs.append(_figure(up, known, place))
            continue
        minus = lead == "-"
        _check_rest(up, known, place + 1)
        break
    if not signs:
        raise DoubtError("there are no figures to be seen")
    strengths = [one.strong for one in signs]
    if max(strengths) > UNEVEN * min(strengths):
        raise DoubtError("its figures are unequally strong")
    digits = "".join(one.says for one in reversed(signs))
    point = _point(up, known, len(signs))
    if "L" in digits:
        if digits not in ("0L", "OL") or minus:
            raise DoubtError("an L among the figures")
        return "OL", min(one.clear for one in signs), len(signs)
    digits = digits.replace("O", "0")
    whole = digits if point < 0 else f"{digits[: len(digits) - point] or '0'}.{digits[len(digits) - point :]}"
    return ("-" if minus else "") + whole, min(one.clear for one in signs), len(signs)


def _figure(up: Upright, known: Familiar, place: int) -> Told:
    seen = cut(up.ink, known.places, place, wide=known.places.wide)
    white = cut(up.white, known.places, place, wide=known.places.wide)
    one = told(seen, white, known.figures, SLACK, SMOOTH)
    if not one.says:
        raise DoubtError(f"a figure: {one.why}")
    return one


def _lead(up: Upright, known: Familiar, place: int) -> str | None:
    """"" for an empty place, "-" for one with a minus, None for one with a figure or something like it."""
    seen, white = lead_patch(up.ink, known.places, place), lead_patch(up.white, known.places, place)
    inner = slice(SLACK + 1, -SLACK - 1)
    empty = blank(seen[SLACK:, inner], white[SLACK:, inner], SMOOTH)
    if empty is None and not _would_show(up, known, place, white):
        raise DoubtError("light falls before the figures")
    if empty is None:
        return ""
    if empty:
        return ""
    if known.minus is None:
        return None
    size = known.minus.shape
    own = lead_patch(up.ink, known.places, place)
    one = told(own, white, {"-": known.minus}, SLACK, SMOOTH) if own.shape[0] - 2 * SLACK == size[0] else Told("")
    return "-" if one.says else None


def _would_show(up: Upright, known: Familiar, place: int, white: Grey) -> bool:
    """Whether a minus or any figure at a place would be seen beside the white light that falls on it."""
    if known.minus is None or not known.complete:
        return False
    cell = middle_of(cut(up.white, known.places, place, wide=known.places.wide), SLACK)
    marks = [(picture, cell) for picture in known.figures.values()]
    marks.append((known.minus, middle_of(white, SLACK)))
    return all(float(np.sum(p * p * (w < 0.5))) > SHOWS * float(np.sum(p * p)) for p, w in marks if p.shape == w.shape)


def _check_rest(up: Upright, known: Familiar, first: int) -> None:
    """Nothing stands before the sign and the first figure."""
    for place in range(first, known.places.count):
        if _lead(up, known, place) != "":
            raise DoubtError("something faint stands before the figures")


def _point(up: Upright, known: Familiar, count: int) -> int:
    """After which place from the right the point stands; -1 for none."""
    off, on = known.points.get(""), known.points.get(".")
    found = []
    for place in range(1, count + 1):
        seen, white = point_patch(up.ink, known.places, place), point_patch(up.white, known.places, place)
        if off is None:
            raise DoubtError("no gap without a point is known yet")
        if float((white > 0.5).mean()) > 0.1:
            raise DoubtError("light falls where a point may be")
        if on is None:
            if float(np.abs(cv2.blur(seen - off, (3, 3))).max()) > 0.3:
                raise DoubtError("a point may be there, and none is known yet")
            continue
        way = on - off
        share = float(np.sum((seen - off) * way) / np.sum(way * way))
        if OFF < share < ON:
            raise DoubtError("whether there is a point is not clear")
        if share >= ON:
            found.append(place)
    if len(found) > 1:
        raise DoubtError("there is more than one point")
    return found[0] if found else -1


def _area(seen: Grey, white: Grey, areas: tuple[Area, ...], what: str) -> tuple[str, ...]:
    """What a part of the glass beside the figures says, all of it explained."""
    if min(seen.shape) < 2 * AREA_SLACK + 8:
        raise DoubtError(f"{what} is not on the glass")
    slack = AREA_SLACK
    empty = [area for area in areas if area.empty]
    lit = {str(k): area.picture[slack:-slack, slack:-slack] for k, area in enumerate(areas) if not area.empty}
    own = seen[slack:-slack, slack:-slack]
    smooth = 3
    if empty and float(cv2.blur(own, (smooth, smooth)).max()) < 0.15 and float((white > 0.5).mean()) < 0.02:
        return empty[0].says
    one = told(seen, white, lit, slack, smooth)
    if not one.says:
        raise DoubtError(f"{what}: {one.why}")
    return areas[int(one.says)].says
