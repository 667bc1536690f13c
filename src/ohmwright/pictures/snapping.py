"""Pads laid by two clicks, brought onto the pads that the picture shows.

The pattern is laid over the picture as a template of pads, body and what lies around; `contrast` says how well it fits.
Only so far is sought as a hand misses, and not where pads of other parts lie already; where the picture does not bear
it out the pads stay where they were clicked, and it is said.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from ohmwright.geometry.lands import Land, LandPattern
from ohmwright.geometry.transforms import Array, Homography, affine, similarity
from ohmwright.pictures.canvas import Field, Pixels
from ohmwright.pictures.contrast import Template, contrast
from ohmwright.pictures.sheets import Sheet
from ohmwright.pictures.showing import ends_beyond, is_housed, ways_shown

HAND_MM = 0.3
"""How far a hand misses a pad it clicks on, one standard deviation along each axis. [mm] a guess"""
MOST_MM = 0.9
"""Farthest that any pattern is moved. [mm] three times the above"""
UNSURE_PITCHES = 0.6
"""The same where the size of a millimetre is not known. [1]"""
MOST_PITCHES = 1.6
"""Farthest that a pattern is moved, in its own pitches. [1]"""
CLEAR = 0.22
"""Score from which the picture bears the pads out. [1] bare board reaches it in 6 % of places, pads in 99 %"""
TOO_FAR = 2.0
"""Of the reach, how far the pad that moved most may lie from its click. [1]"""
LIKELY = 0.75
"""Share of the best score, seen roughly, from which a place is looked at closely. [1]"""
NEXT_BEST = 0.90
"""Share of the best score that another place at least half a pitch off may have before it is a doubt. [1]"""
HAND_SPREAD = 3.5
"""How many of those a click may be off before that tells against a place. [1] wide, because hands differ"""
ROUGH = 12.0
"""Pixels to the millimetre of the first look, at least. [px/mm]"""
MOST_PLACES = 6
"""Places that are looked at closely. [1]"""
FINEST = 40.0
"""Pixels to the millimetre that are looked at, at most. [px/mm]"""
HOUSING_RIM_MM = 0.3
"""Of the board around a connector's housing, that is looked at as well: the housing is much of what shows. [mm]"""
NEAR_MM = 2.0
"""How far beyond a pattern pads of other parts matter. [mm]"""


@dataclass(frozen=True, slots=True)
class Snap:
    """Where a pattern lies on a picture.

    Parameters
    ----------
    on_picture : Homography
        Pattern millimetres (about the package's centre) to pixels of the whole picture.
    moved_mm : float
        How far the pad that moved most did. [mm]
    score : float
        How well the picture bears it out; 1 is perfect. [1]
    doubt : str
        Empty, or why the pads stay where they were clicked.
    """

    on_picture: Homography
    moved_mm: float
    score: float
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class _Place:
    """A way to lay the pattern: moved by (x, y) mm, turned and grown about its centre."""

    x_mm: float = 0.0
    y_mm: float = 0.0
    turn_deg: float = 0.0
    scale: float = 1.0

    @property
    def map(self) -> Homography:
        return similarity(self.scale, self.turn_deg, self.x_mm, self.y_mm)


def far_lands(pattern: LandPattern) -> tuple[Land, Land]:
    """Pin 1 and the pin farthest from it."""
    first = pattern.lands[0]
    return first, max(pattern.lands, key=lambda n: math.hypot(n.x_mm - first.x_mm, n.y_mm - first.y_mm))


def pitch_of(pattern: LandPattern) -> float:
    """The least distance between two pads. [mm]"""
    at = np.array([[land.x_mm, land.y_mm] for land in pattern.lands])
    if len(at) < 2:
        return 1.0
    away = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1)) + np.eye(len(at)) * 1e9
    return float(away.min())


def snapped(
    sheet: Sheet,
    pattern: LandPattern,
    on_picture: Homography,
    *,
    scale_known: bool,
    clicks: int = 2,
    taken: Sequence[Array] = (),
) -> Snap:
    """The pattern brought onto the pads the picture shows.

    Parameters
    ----------
    on_picture : Homography
        Pattern millimetres to pixels of the whole picture, as clicked.
    scale_known : bool
        Whether the size of a millimetre on the picture is known, so that only place and turn are sought.
    clicks : int
        By how many clicks it was laid; one more for a turn that is known. [1]
    taken : sequence of ndarray, shape (4, 2)
        Corners of the pads that other parts have already. [px] of the whole picture
    """
    tried = [
        _snapped_to(_Seen(sheet, pattern, shown, on_picture, taken), on_picture, scale_known, clicks)
        for shown in ways_shown(pattern)
    ]
    return max(tried, key=lambda snap: (not snap.doubt, snap.score))


def trimmed(sheet: Sheet, pattern: LandPattern, on_picture: Homography, step_deg: float) -> Snap:
    """A pattern that lies about right made exact, its size too."""
    seen = _Seen(sheet, pattern, pattern.lands, on_picture, ())
    best, score = _finer(seen, _Place(), step_deg, scale_known=False, rounds=3)
    return Snap(on_picture.after(best.map), _apart(pattern, best.map, _Place().map), score)


def _snapped_to(seen: _Seen, on_picture: Homography, scale_known: bool, clicks: int) -> Snap:
    pattern = seen.pattern
    reach = _reach(pattern, clicks)
    if not scale_known and len(pattern.lands) > 2:
        # Of a size not known a row of pads fits in many ways: only near the clicks is it sought.
        reach = min(reach, UNSURE_PITCHES * pitch_of(pattern))
    best, score, next_best = _searched(seen, reach, scale_known)
    moved = _apart(pattern, best.map, _Place().map)
    if score < CLEAR and seen.crowded:
        return Snap(on_picture, 0.0, score, "pads of another part lie there already; see which of the two lies right")
    if score < CLEAR:
        return Snap(on_picture, 0.0, score, "the picture does not show its pads clearly; they lie where you clicked")
    if moved > TOO_FAR * reach:
        return Snap(on_picture, 0.0, score, "what the picture shows lies too far from the clicks")
    if next_best > NEXT_BEST * score:
        # The better one all the same: it is the right one far more often than the clicks are.
        doubt = "the picture fits it in two places; see that it lies right"
        return Snap(on_picture.after(best.map), moved, score, doubt)
    return Snap(on_picture.after(best.map), moved, score)


def _reach(pattern: LandPattern, clicks: int) -> float:
    """How far the pattern may be moved. [mm]"""
    pitch = pitch_of(pattern)
    hand = 3.0 * HAND_MM / math.sqrt(max(1, clicks))
    return min(MOST_MM, max(MOST_PITCHES * pitch, 0.3), max(hand, 0.3))


class _Seen:
    """A piece of the picture about a part, in the part's own axes, at several resolutions."""

    def __init__(
        self, sheet: Sheet, pattern: LandPattern, shown: Sequence[Land], on_picture: Homography, taken: Sequence[Array]
    ) -> None:
        self.shown = shown
        self.pattern = pattern
        self.pitch = pitch_of(pattern)
        self._sheet = sheet
        self._to_here = sheet.to_full.inverse.after(on_picture)
        reach_x = max(abs(land.x_mm) + land.width_mm / 2 for land in pattern.lands)
        reach_y = max(abs(land.y_mm) + land.height_mm / 2 for land in pattern.lands)
        self.half = (max(reach_x, pattern.body_mm[0] / 2), max(reach_y, pattern.body_mm[1] / 2))
        self.beyond = ends_beyond(shown)
        far_x = max((abs(land.x_mm) + land.width_mm / 2 for land in self.beyond), default=0.0)
        far_y = max((abs(land.y_mm) + land.height_mm / 2 for land in self.beyond), default=0.0)
        # How much more than the margin has to be looked at beyond the rows' ends. [mm]
        far = zip((far_x, far_y), self.half, strict=True)
        self._wide = tuple(max(0.0, reach - half - self.margin) for reach, half in far)
        a, b = self._to_here.at(0.0, 0.0), self._to_here.at(1.0, 0.0)
        self.px_per_mm = min(FINEST, math.hypot(b[0] - a[0], b[1] - a[1]) * 1.25)
        self.finest_pad = min((min(land.width_mm, land.height_mm) for land in shown), default=0.4)
        self._onto = on_picture
        self._taken = _near(taken, on_picture, math.hypot(*self.half) + NEAR_MM)
        self._last: tuple[tuple[_Place, float, float], tuple[Field, Field | None]] | None = None
        self._soft: dict[float, Pixels] = {}
        self._templates: dict[tuple[float, float], Template] = {}

    def fetched(self, place: _Place, px_per_mm: float, margin_mm: float) -> tuple[Field, Field | None]:
        """The picture as the pattern laid there would see it, L*, a*, b*, float, with a margin about the pattern.

        Beside it where no other pad lies, or None where none is near.
        """
        key = (place, px_per_mm, margin_mm)
        if self._last is None or self._last[0] != key:  # of one turn several sizes of the pattern are tried in a row
            x, y = self._grid(px_per_mm, margin_mm)
            size = (len(x), len(y))
            here = place.map.after(affine(1 / px_per_mm, 0, float(x[0]), 0, 1 / px_per_mm, float(y[0])))
            self._last = key, (self._fetched(here, px_per_mm, size), self._free(here, size))
        return self._last[1]

    def _grid(self, px_per_mm: float, margin_mm: float) -> tuple[Array, Array]:
        """Columns and rows about the pattern's middle. [mm]"""
        across = math.ceil((self.half[0] + self._wide[0] + margin_mm) * px_per_mm)
        down = math.ceil((self.half[1] + self._wide[1] + margin_mm) * px_per_mm)
        return np.arange(-across, across + 1) / px_per_mm, np.arange(-down, down + 1) / px_per_mm

    def _free(self, here: Homography, size: tuple[int, int]) -> Field | None:
        if not self._taken:
            return None
        mask = np.ones((size[1], size[0]), np.float32)
        back = self._onto.after(here).inverse
        for corners in self._taken:
            cv2.fillConvexPoly(mask, np.round(back.applied(corners) * 16).astype(np.int32), 0.0, cv2.LINE_8, 4)
        return mask

    def _fetched(self, here: Homography, px_per_mm: float, size: tuple[int, int]) -> Field:
        source = self._sheet.pixels
        shrink = self.px_per_mm / 1.25 / px_per_mm
        if shrink > 1.3:  # fewer pixels than there are: soften first, or fine detail turns into noise
            source = self._softened(0.45 * shrink)
        taken = cv2.warpPerspective(
            source, self._to_here.after(here).matrix, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        return np.asarray(cv2.cvtColor(taken.astype(np.float32) / 255.0, cv2.COLOR_BGR2LAB), dtype=np.float32)

    def _softened(self, sigma: float) -> Pixels:
        if sigma not in self._soft:
            self._soft[sigma] = np.asarray(cv2.GaussianBlur(self._sheet.pixels, (0, 0), sigma))
        return self._soft[sigma]

    def template(self, px_per_mm: float, scale: float) -> Template:
        """Pads, body and what lies around them, at that resolution."""
        if (px_per_mm, scale) not in self._templates:
            x, y = self._grid(px_per_mm, self.margin)
            rim = HOUSING_RIM_MM if is_housed(self.pattern) else 0.0
            made = Template.of(
                self.shown, self.pattern.body_mm, x, y, margin_mm=self.margin, rim_mm=rim, scale=scale,
                beyond=self.beyond,
            )  # fmt: skip
            self._templates[px_per_mm, scale] = made
        return self._templates[px_per_mm, scale]

    @property
    def crowded(self) -> bool:
        """Whether a pad laid as clicked would have its middle on another's."""
        middles = [self._onto.at(land.x_mm, land.y_mm) for land in self.shown]
        corners = [np.asarray(quad, np.float32) for quad in self._taken]
        return any(cv2.pointPolygonTest(quad, middle, False) > 0 for quad in corners for middle in middles)

    @property
    def margin(self) -> float:
        """Width of what is looked at around a pad. [mm]"""
        return float(np.clip(0.6 * self.pitch, 0.2, 0.5))


def _near(taken: Sequence[Array], on_picture: Homography, reach_mm: float) -> list[Array]:
    """Those pads that lie about a pattern."""
    if not len(taken):
        return []
    millimetres = on_picture.inverse.applied(np.concatenate(taken)).reshape(-1, 4, 2)
    close = np.hypot(*millimetres.mean(axis=1).T) < reach_mm
    return [corners for corners, wanted in zip(taken, close, strict=True) if wanted]


def _searched(seen: _Seen, reach: float, scale_known: bool) -> tuple[_Place, float, float]:
    """The best place, its score, and that of the next best at least half a pitch away."""
    span = max(2 * math.hypot(*seen.half), 0.5)
    first, far = far_lands(seen.pattern)
    # Two clicks turn a short part by more than a long one.
    baseline = math.hypot(first.x_mm - far.x_mm, first.y_mm - far.y_mm)
    spread_deg = min(60.0, math.degrees(1.6 * reach / baseline))
    coarse = min(seen.px_per_mm, max(3.0 / seen.finest_pad, ROUGH))
    # One step moves the pads farthest out by about half the finest pad.
    step_deg = max(0.4, math.degrees(0.5 * seen.finest_pad / (span / 2)))
    turns = _steps(spread_deg, step_deg)
    grown = 0.02 if scale_known else min(0.25, 1.6 * reach / span) if len(seen.pattern.lands) == 2 else 0.04
    scales = [1.0] if scale_known else [1.0 + s for s in _steps(grown, max(0.02, 0.5 * seen.finest_pad / (span / 2)))]
    found = []
    for turn in turns:
        for scale in scales:
            template = seen.template(coarse, scale)
            for at, value in _best_shifts(seen, template, coarse, reach, _turned(turn, first, far)):
                found.append((value * _of_a_hand(at, first, far), replace(at, scale=scale)))
    if not found:
        return _Place(), 0.0, 0.0
    found.sort(key=lambda one: -one[0])
    apart: list[_Place] = []
    for value, at in found:
        if value < LIKELY * found[0][0] or len(apart) == MOST_PLACES:
            break
        if all(_apart(seen.pattern, at.map, other.map) > 0.3 * seen.pitch for other in apart):
            apart.append(at)
    # All of them a little closer, then the two best of them as close as can be.
    nearer = [_finer(seen, at, step_deg, scale_known, rounds=1) for at in apart]
    nearer.sort(key=lambda one: -one[1] * _of_a_hand(one[0], first, far))
    fine = [_finer(seen, at, step_deg / 2, scale_known, rounds=3) for at, _ in nearer[:2]]
    exact = sorted(fine, key=lambda one: -one[1] * _of_a_hand(one[0], first, far))
    best, score = exact[0]
    hand = _of_a_hand(best, first, far)
    others = [
        value * _of_a_hand(at, first, far) / hand
        for at, value in exact[1:]
        if _apart(seen.pattern, at.map, best.map) > 0.4 * seen.pitch
    ]
    return best, score, max(others, default=0.0)


def _turned(turn_deg: float, first: Land, far: Land) -> _Place:
    """Turned about the middle of the two pads that were clicked, which may lie far from that of the package."""
    x, y = (first.x_mm + far.x_mm) / 2, (first.y_mm + far.y_mm) / 2
    to_x, to_y = _Place(turn_deg=turn_deg).map.at(x, y)
    return _Place(x - to_x, y - to_y, turn_deg, 1.0)


def _finer(seen: _Seen, best: _Place, step_deg: float, scale_known: bool, *, rounds: int) -> tuple[_Place, float]:
    """The place made exact at full resolution, turn and scale in ever smaller steps."""
    fine = min(seen.px_per_mm, max(7.0 / seen.finest_pad, 14.0))
    near, score = 1.2 / min(fine, max(3.0 / seen.finest_pad, ROUGH)) + 0.02, -1.0
    deg, size = step_deg / 2, (0.01 if scale_known else max(0.01, 0.25 * seen.finest_pad / max(seen.half)))
    for n in range(rounds):
        tries = []
        # Where the scale is known it is only trimmed, in the last round.
        sizes = (0.0,) if scale_known and n < 2 else (-size, 0.0, size)
        for turn in (-deg, 0.0, deg) if len(sizes) == 1 or not scale_known else (0.0,):
            for scale in sizes:
                at = replace(best, turn_deg=best.turn_deg + turn, scale=best.scale + scale)
                template = seen.template(fine, at.scale)
                for found, value in _best_shifts(seen, template, fine, near, replace(at, scale=1.0), most=1):
                    tries.append((value, replace(found, scale=at.scale)))
        if not tries:
            break
        value, place = max(tries, key=lambda tried: tried[0])
        if value > score:
            best, score = place, value
        deg, size = deg / 2, size / 2
    return best, score


def _of_a_hand(place: _Place, first: Land, far: Land) -> float:
    """How well a place goes with the clicks: a hand misses by little more often than by much. [1]"""
    away = sum((math.dist(place.map.at(n.x_mm, n.y_mm), (n.x_mm, n.y_mm)) / HAND_MM) ** 2 for n in (first, far))
    return math.exp(-0.5 * away / HAND_SPREAD**2)


def _best_shifts(
    seen: _Seen, template: Template, px_per_mm: float, reach: float, at: _Place, most: int = 3
) -> list[tuple[_Place, float]]:
    """The best shifts of the template from a place, at least half a pitch apart, and their scores."""
    score = contrast(*seen.fetched(at, px_per_mm, seen.margin + reach), template)
    rows, columns = score.shape
    y, x = np.ogrid[:rows, :columns]
    out: list[tuple[_Place, float]] = []
    for _ in range(most):
        _, value, _, (u, v) = cv2.minMaxLoc(score)
        if value <= 0.0:
            break
        du = u - columns // 2 + _vertex(score[v, max(0, u - 1) : u + 2])
        dv = v - rows // 2 + _vertex(score[max(0, v - 1) : v + 2, u])
        moved = at.map.at(du / px_per_mm, dv / px_per_mm)
        out.append((replace(at, x_mm=moved[0], y_mm=moved[1]), float(value)))
        score[(x - u) ** 2 + (y - v) ** 2 <= (0.5 * seen.pitch * px_per_mm) ** 2] = 0.0
    return out


def _vertex(three: Field) -> float:
    if len(three) < 3:
        return 0.0
    bend = float(three[0] - 2 * three[1] + three[2])
    return 0.0 if bend >= 0 else float(np.clip(0.5 * float(three[0] - three[2]) / bend, -0.5, 0.5))


def _steps(reach: float, step: float) -> list[float]:
    n = math.ceil(reach / step)
    return [k * reach / n for k in range(-n, n + 1)] if n else [0.0]


def _apart(pattern: LandPattern, a: Homography, b: Homography) -> float:
    """Farthest that a pad of the one lies from the same pad of the other. [mm]"""
    return max(math.hypot(*np.subtract(a.at(n.x_mm, n.y_mm), b.at(n.x_mm, n.y_mm))) for n in pattern.lands)


def sized(on_picture: Homography, px_per_mm: float) -> Homography:
    """The same place and turn with millimetres of the size they are known to have. [px/mm]"""
    matrix = on_picture.matrix
    now = math.sqrt(abs(float(np.linalg.det(matrix[:2, :2]))))
    return on_picture.after(similarity(px_per_mm / now, 0.0, 0.0, 0.0))
