"""Pictures of a camera that was knocked, or held by hand: how far each view moved, and all of them laid on one.

Edges of parts shine differently, so a view that moved by a pixel makes warm and cold rims where nothing got warm. How
far it moved is found from those very rims: along the picture's own slopes, by least squares with large changes counted
less (Huber), since heat and mirrors change without moving. Shift, turn and size are solved for together, first on
pictures made coarse (Lucas and Kanade 1981, from memory; the turn and size after Umeyama's similarity).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ohmwright.errors import DataError

Array = NDArray[np.float64]
WIDE, NARROW = 6.0, 2.0
"""What changes more slowly than over so many pixels is drift or heat, and counts for no move. Heat falls off like a
logarithm, whose mean around a place is the value there: the narrower, the nearer to its middle it is gone. [px]"""
COARSE = ((4.0, WIDE), (2.0, WIDE), (1.0, WIDE), (1.0, NARROW))
"""Blur of the pictures, one after the other, so that a move of several pixels is found too, and what is too wide.
[px]"""
TURNS = 12
CALM, BEYOND = 0.99, 1.2
"""Rims beyond so many times what that share of the calmer picture's pixels keep to are those of heat. [1]"""
HUBER = 1.5
"""Changes beyond so many standard deviations pull no harder. [1]"""
FEWEST = 0.2
"""Less of a picture than that tells nothing of a move by itself. [1]"""
SURE = 5.0
"""A move counts from so many standard deviations on. [1]"""
LEAST = 0.08
"""Nearer than that the pictures lie well enough: it makes rims of a tenth of a part's own shine. [px]"""
PLAIN, EXPLAINED = 2.5, 0.7
"""A move of so many pixels has to leave at most such a share of what differs, else it was no move that made it. [px],
[1]"""
ODD = 0.03
"""More turn or change of size than a camera on a stand has when it is knocked. [rad], [1]"""
SERIES_EXPLAINED = 0.9
"""The same for any shift of a frame within a series. [1]"""
MOST = 12.0
"""A view that moved farther shows another part of the board. [px]"""
BOUNDS = np.array([20.0, 20.0, 0.1, 0.1])
"""How far a move is looked for. [px], [rad], [1]"""


@dataclass(frozen=True, slots=True)
class Move:
    """How a view moved, about the middle of the picture.

    Parameters
    ----------
    across, down : float
        [px]
    turn : float
        [rad]
    size : float
        How much larger. [1]
    far : float
        How far it carried the pixels, root mean square. [px]
    """

    across: float
    down: float
    turn: float
    size: float
    far: float


def moved_between(still: Array, seen: Array, noise: float) -> Move | None:
    """How a picture's view moved against another's; None where it did not, for all that can be told.

    Parameters
    ----------
    still, seen : ndarray, shape (h, w)
        [°C]
    noise : float
        Standard deviation of a pixel's difference. [K]
    """
    found = np.zeros(4)
    error = np.full(4, np.inf)
    for blur, wide in COARSE:
        flat, other = _rims(still, blur, wide), _rims(seen, blur, wide)
        own, most = noise * _kept_noise(blur), _calm(flat, other)
        for _ in range(TURNS):
            laid = _laid(other, found)
            step, error = _step(flat, laid, own, _cool(flat, laid, most, blur))
            found = np.clip(found + step, -BOUNDS, BOUNDS)
            if float(np.abs(step[:2]).max()) < 0.005:
                break
    far = _far(found, still.shape)
    if far < LEAST or not _is_sure(found, error) or not _fits_better(still, seen, found):
        return None
    return Move(float(found[0]), float(found[1]), float(found[2]), float(found[3]), far)


def steadied(pictures: Sequence[Array], onto: int, noise: float) -> tuple[list[Array], NDArray[np.bool_], float]:
    """Pictures laid on one of them; where one of them shows nothing there; and how far the farthest moved. [1]

    Returns
    -------
    laid : list of ndarray, shape (h, w)
        [°C]
    bare : ndarray of bool, shape (h, w)
    far : float
        0 where none moved. [px]

    Raises
    ------
    DataError
        If a view moved so far that it is another one.
    """
    bare = np.zeros(pictures[onto].shape, dtype=bool)
    laid, farthest = [], 0.0
    for k, picture in enumerate(pictures):
        move = None if k == onto else moved_between(pictures[onto], picture, noise)
        if move is None:
            laid.append(picture)
            continue
        if move.far > MOST:
            raise DataError(
                f"The camera moved by {move.far:.0f} pixels between the pictures.",
                hint="fix it, and take all of them again without touching it",
            )
        way = np.array([move.across, move.down, move.turn, move.size])
        laid.append(_laid(picture, way))
        bare |= _laid(np.ones(picture.shape), way, outside=0.0) < 0.999
        farthest = max(farthest, move.far)
    return laid, bare, farthest


def steadied_series(frames: Array) -> tuple[Array, float]:
    """Frames of one series laid on their middle one in time, shape (n, h, w), and how far the farthest moved. [px]

    Only shifts are told here, each frame against the median of all: what swings with the feed has no side to go to.
    """
    still = _rims(np.median(frames, axis=0), 1.0)
    down, across = np.gradient(still)
    design = np.stack([across.ravel(), down.ravel()], axis=1)
    laid, farthest = frames, 0.0
    for k, frame in enumerate(frames):
        found: Array = np.zeros(2)
        error: Array = np.full(2, np.inf)
        rims = _rims(frame, 1.0)
        for _ in range(3):
            at = rims if not found.any() else ndimage.shift(rims, (-found[1], -found[0]), order=1, mode="nearest")
            step, error = _weighed_step(design, (still - at).ravel(), 1e-4)
            found = np.asarray(found + np.clip(step, -1.5, 1.5))
            if float(np.abs(step).max()) < 0.02:
                break
        far = float(np.hypot(*found))
        if far < LEAST or far < SURE * float(np.hypot(*error)):
            continue
        left = np.abs(still - ndimage.shift(rims, (-found[1], -found[0]), order=1, mode="nearest"))
        most = 5.0 * float(np.median(left)) + 1e-6
        if float(left.clip(max=most).mean()) > SERIES_EXPLAINED * float(np.abs(still - rims).clip(max=most).mean()):
            continue  # a mirror that comes and goes
        if far > MOST:
            raise DataError(f"The camera moved by {far:.0f} pixels in frame {k + 1}.", hint="fix it, and record again")
        laid = frames.copy() if laid is frames else laid
        laid[k] = ndimage.shift(frame, (-found[1], -found[0]), order=3, mode="nearest")
        farthest = max(farthest, far)
    return laid, farthest


def _rims(picture: Array, blur: float, wide: float = WIDE) -> Array:
    """What of a picture tells of a move: no drift, and little heat."""
    return np.asarray(ndimage.gaussian_filter(picture, blur) - ndimage.gaussian_filter(picture, wide + blur))


def _calm(flat: Array, other: Array) -> float:
    """How far the rims of the calmer of two pictures go. [K]"""
    return BEYOND * min(float(np.quantile(np.abs(one), CALM)) for one in (flat, other))


def _cool(flat: Array, laid: Array, most: float, blur: float) -> NDArray[np.bool_]:
    """Where neither picture shows what no edge of a part does: slopes of strong heat outweigh those of all edges."""
    hot = (np.abs(flat) > most) | (np.abs(laid) > most)
    return np.asarray(~ndimage.binary_dilation(hot, iterations=math.ceil(2.0 * blur)))


def _kept_noise(blur: float) -> float:
    """Share of a pixel's noise that is left after that blur: 1 / (2 sigma sqrt(pi)) of it. [1]"""
    return min(1.0 / (2.0 * math.sqrt(math.pi) * blur), 1.0)


def _laid(picture: Array, way: Array, outside: float | None = None) -> Array:
    """A picture whose view moved that way, as it would have looked without. [px], [rad], [1]"""
    rows, columns = picture.shape
    c, s = (1.0 + way[3]) * math.cos(way[2]), (1.0 + way[3]) * math.sin(way[2])
    matrix = np.array([[c, s], [-s, c]])  # of (row, column)
    middle = np.array([(rows - 1) / 2.0, (columns - 1) / 2.0])
    offset = middle - matrix @ middle + np.array([way[1], way[0]])
    mode = "nearest" if outside is None else "constant"
    order = 3 if outside is None else 1
    return np.asarray(
        ndimage.affine_transform(picture, matrix, offset, order=order, mode=mode, cval=outside or 0.0, prefilter=True)
    )


def _step(still: Array, laid: Array, noise: float, cool: NDArray[np.bool_]) -> tuple[Array, Array]:
    """One step nearer, and the standard deviations; how the laid picture has still to move onto the still one.

    Only what is `cool`, shape (h, w), is looked at, unless that is next to nothing.
    """
    down, across = (np.asarray(slope) for slope in np.gradient(laid))
    rows, columns = still.shape
    v, u = np.mgrid[0:rows, 0:columns]
    v, u = v - (rows - 1) / 2.0, u - (columns - 1) / 2.0
    edge = max(int(2 * WIDE), 4)
    inner = (slice(edge, -edge), slice(edge, -edge)) if min(rows, columns) > 4 * edge else (slice(None), slice(None))
    slopes: tuple[Array, ...] = (across, down, u * down - v * across, u * across + v * down)
    told = cool[inner].ravel() if cool[inner].mean() > FEWEST else np.ones(still[inner].size, dtype=bool)
    design = np.stack([part[inner].ravel()[told] for part in slopes], axis=1)
    step, spread = _weighed_step(design, (still - laid)[inner].ravel()[told], noise)
    limit = np.array([2.0, 2.0, 0.02, 0.02])
    return np.clip(step, -limit, limit), spread


def _weighed_step(design: Array, left: Array, noise: float) -> tuple[Array, Array]:
    """What of the slopes explains what is left, large rests counted less, and the standard deviations."""
    scale = max(float(np.median(np.abs(left))) * 1.4826, noise, 1e-6)
    weight = np.minimum(HUBER * scale / np.maximum(np.abs(left), 1e-12), 1.0)
    normal = (design * weight[:, None]).T @ design
    normal += np.diag(1e-9 * normal.diagonal() + 1e-12)
    step = np.linalg.solve(normal, (design * weight[:, None]).T @ left)
    # Blurred pixels are not independent: each counts for as many as the blur spans.
    spread = np.sqrt(np.diag(np.linalg.inv(normal))) * scale * 2.0 * math.sqrt(math.pi)
    return np.asarray(step), np.asarray(spread)


def _is_sure(found: Array, error: Array) -> bool:
    return bool(float(np.hypot(found[0], found[1])) > SURE * float(np.hypot(error[0], error[1])))


def _fits_better(still: Array, seen: Array, way: Array) -> bool:
    """Whether the pictures differ less once they are laid: a move that explains little is none."""
    flat, other = _rims(still, 1.0, NARROW), _rims(seen, 1.0, NARROW)
    laid, edge = _laid(other, way), _calm(flat, other)
    cool = _cool(flat, laid, edge, 1.0) & _cool(flat, other, edge, 1.0)
    if cool.mean() < FEWEST:
        cool[:] = True
    left = np.abs(flat - laid)[cool]
    most = 5.0 * float(np.median(left)) + 1e-6  # what got warm differs much, laid or not
    before, after = (float(np.minimum(one, most).mean()) for one in (np.abs(flat - other)[cool], left))
    if max(abs(way[2]), abs(way[3])) > ODD:
        return False  # a mirror that came or went; no camera on a stand turns so far
    far = math.hypot(way[0], way[1])
    return after < (EXPLAINED if far > PLAIN else 1.0) * before


def _far(way: Array, shape: tuple[int, ...]) -> float:
    rows, columns = shape
    radius = (rows**2 + columns**2) / 12.0
    return math.sqrt(float(way[0] ** 2 + way[1] ** 2 + (way[2] ** 2 + way[3] ** 2) * radius))
