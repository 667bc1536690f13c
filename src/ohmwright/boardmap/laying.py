"""A board known from a file laid on a picture by a few pairs of points: pads named in the file and where they are seen.

The simplest map that fits is taken: a similarity, then an affine map, then a projective one. A map without
a point to spare says nothing of itself, so its residual is not shown as if it did; and where nothing fits,
there is no map but the reason why.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from ohmwright.circuit import Part, Place
from ohmwright.errors import DataError
from ohmwright.geometry import (
    Homography,
    Pad,
    affine_from_pairs,
    homography_from_pairs,
    similarity_from_pairs,
)

Pair = tuple[float, float]
CLOSE_MM = 0.3
"""Residual up to which the simplest map is good enough. [mm] half a pad of an 0402; a choice"""
LOOSE_MM, LOOSE_SHARE = 1.5, 0.03
"""Residual beyond which the points do not belong to this file: so many mm, or this share of their spread. [mm], [1]"""
MOST_SKEW = 3.0
"""Most that one direction may be stretched against another. [1] photos from far askew stay under 2"""
Estimate = Callable[[Sequence[Pair], Sequence[Pair]], Homography]
LADDER: tuple[tuple[str, int, Estimate], ...] = (
    ("similarity", 2, similarity_from_pairs),
    ("affine", 3, affine_from_pairs),
    ("projective", 4, homography_from_pairs),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Fit:
    """How the file's millimetres become the board's.

    Parameters
    ----------
    kind : str
        ``similarity``, ``affine`` or ``projective``.
    residuals_mm : tuple of float
        How far each marked point lies from where the map puts it. [mm]
    spare : int
        Points beyond those the map needs; 0 says that the residuals check nothing. [1]
    """

    to_board: Homography
    kind: str
    residuals_mm: tuple[float, ...]
    spare: int

    def __bool__(self) -> bool:
        return True

    @property
    def rms_mm(self) -> float:
        """Root mean square of the residuals. [mm]"""
        return math.sqrt(sum(r * r for r in self.residuals_mm) / len(self.residuals_mm))

    @property
    def words(self) -> str:
        """How well it fits, for people."""
        if not self.spare:
            return f"{self.kind} map from {len(self.residuals_mm)} points, none to spare: mark one more to check it"
        return f"{self.kind} map, {self.rms_mm:.2f} mm off on average, {max(self.residuals_mm):.2f} mm at most"


@dataclass(frozen=True, slots=True)
class NoFit:
    """The points do not belong together, and why. Falsy."""

    reason: str
    worst: int = 0

    def __bool__(self) -> bool:
        return False


def fitted(file: Sequence[Pair], board: Sequence[Pair]) -> Fit | NoFit:
    """The map that brings points of the file to the points of the board beside them. [mm]"""
    if len(file) < 2:
        return NoFit("one point fixes nothing: mark two or more pads, far apart")
    spread = max(math.dist(a, b) for a in board for b in board)
    if spread < 1.0 or max(math.dist(a, b) for a in file for b in file) < 1.0:
        return NoFit("the marked points lie on one spot: mark pads far apart")
    limit = max(LOOSE_MM, LOOSE_SHARE * spread)
    best: Fit | None = None
    for kind, least, estimate in LADDER:
        if len(file) < least:
            break
        fit = _tried(kind, least, estimate, file, board)
        if fit is None:
            continue
        if best is None or fit.rms_mm < 0.5 * best.rms_mm:
            best = fit
        if best.spare and best.rms_mm <= CLOSE_MM:
            break
    return _judged(best, limit, spread, file)


def _tried(kind: str, least: int, estimate: Estimate, file: Sequence[Pair], board: Sequence[Pair]) -> Fit | None:
    try:
        found = estimate(file, board)
        residuals = tuple(math.dist(found.at(*a), b) for a, b in zip(file, board, strict=True))
    except (DataError, ZeroDivisionError):  # a point that goes to infinity is no board
        return None
    return Fit(found, kind, residuals, len(file) - least)


def _judged(best: Fit | None, limit: float, spread: float, file: Sequence[Pair]) -> Fit | NoFit:
    if best is None:
        return NoFit("the marked points lie on one line: mark pads in all corners")
    if best.rms_mm > limit:
        worst = max(range(len(best.residuals_mm)), key=best.residuals_mm.__getitem__)
        return NoFit(
            f"the marked points do not fit together: {best.rms_mm:.1f} mm off on average over {spread:.0f} mm. "
            "One is marked at the wrong pad, or the file is of another board", worst,
        )  # fmt: skip
    skew = max(_stretch(best.to_board, *point) for point in file)
    if skew > MOST_SKEW:
        return NoFit("these points stretch or mirror the board as no photo does: two of them may be swapped")
    return best


def _stretch(to_board: Homography, x: float, y: float) -> float:
    """Stretch of the longer direction over the shorter at a point, without bound where the map mirrors. [1]"""
    a, b, c, d = _slopes(to_board, x, y)
    det = a * d - b * c
    if det <= 0.0:
        return math.inf
    size = math.hypot(a, b) ** 2 + math.hypot(c, d) ** 2
    root = math.sqrt(max(size * size - 4.0 * det * det, 0.0))
    return math.sqrt((size + root) / max(size - root, 1e-12))


def _slopes(to_board: Homography, x: float, y: float) -> tuple[float, float, float, float]:
    step = 0.01
    (x0, y0), (x1, y1), (x2, y2) = to_board.at(x, y), to_board.at(x + step, y), to_board.at(x, y + step)
    return (x1 - x0) / step, (x2 - x0) / step, (y1 - y0) / step, (y2 - y0) / step


def laid_pads(pads: Sequence[Pad], fit: Fit) -> tuple[Pad, ...]:
    """The pads of a file where they lie on the board."""
    out = []
    for pad in pads:
        x, y = fit.to_board.at(pad.x_mm, pad.y_mm)
        a, b, c, d = _slopes(fit.to_board, pad.x_mm, pad.y_mm)
        grown = math.sqrt(abs(a * d - b * c))
        turn = math.degrees(math.atan2(-c, a))
        out.append(
            replace(
                pad, x_mm=x, y_mm=y, width_mm=pad.width_mm * grown, height_mm=pad.height_mm * grown,
                drill_mm=pad.drill_mm * grown, angle_deg=(pad.angle_deg + turn) % 360.0,
            )
        )  # fmt: skip
    return tuple(out)


def laid_parts(parts: Sequence[Part], fit: Fit) -> tuple[Part, ...]:
    """The parts of a file where they lie on the board."""
    return tuple(replace(part, place=None if part.place is None else _moved(part.place, fit)) for part in parts)


def _moved(place: Place, fit: Fit) -> Place:
    x, y = fit.to_board.at(place.x_mm, place.y_mm)
    a, b, c, d = _slopes(fit.to_board, place.x_mm, place.y_mm)
    grown = math.sqrt(abs(a * d - b * c))
    turn = math.degrees(math.atan2(-c, a))
    return replace(
        place, x_mm=x, y_mm=y, width_mm=place.width_mm * grown, height_mm=place.height_mm * grown,
        angle_deg=(place.angle_deg + turn) % 360.0,
    )  # fmt: skip


def to_mark(pads: Sequence[Pad], side: str, count: int = 6) -> tuple[Pad, ...]:
    """Pads worth marking on a picture: pin 1 of parts far apart, seen from that side. [1]

    Holes are seen from both sides. Of the pads, each next one is the farthest from all before.
    """
    first: dict[str, Pad] = {}
    for pad in sorted(pads, key=lambda pad: pad.pin not in ("1", "A1")):
        if pad.side == side or pad.drill_mm > 0.0:
            first.setdefault(pad.part, pad)
    left = list(first.values())
    if not left:
        return ()
    middle = (sum(p.x_mm for p in left) / len(left), sum(p.y_mm for p in left) / len(left))
    chosen = [max(left, key=lambda p: (math.dist((p.x_mm, p.y_mm), middle), p.part))]
    while len(chosen) < min(count, len(left)):
        rest = [p for p in left if p not in chosen]
        chosen.append(
            max(rest, key=lambda p: (min(math.dist((p.x_mm, p.y_mm), (q.x_mm, q.y_mm)) for q in chosen), p.part))
        )
    return tuple(chosen)
