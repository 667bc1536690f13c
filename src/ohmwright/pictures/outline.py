"""The edge of a rectangular board in a picture, and a picture laid on the board by it.

An underside shows nothing of what the upper side shows but the edge and what goes through. The edge says where the
board is, its straightness how the lens bends, and holes, vias and pins which way round it lies.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from ohmwright.errors import DataError
from ohmwright.geometry.camera import View
from ohmwright.geometry.registration import refined, residuals, view_from_pairs
from ohmwright.geometry.transforms import Array, Homography, Pair, affine
from ohmwright.pictures.canvas import Pixels
from ohmwright.pictures.matching import ALIKE, Match, patches, unregistered
from ohmwright.pictures.sheets import Sheet
from ohmwright.pictures.through import ABOVE, BELOW, ONE_PLACE_MM, PX_PER_MM, apart, round_spots, same_spots

LOOKED_AT = 1.5e6
"""Pixels of the picture in which the edge is sought. [px]"""
LEAST_SHARE = 0.08
"""Of the picture that the board must take up. [1]"""
STRAIGHT = 0.93
"""Share of its four-cornered hull that a rectangular board fills. [1]"""
EDGE_MM = 2.5
"""How near the edge nothing is compared. [mm]"""
WORST_MM = 0.15
"""How far the edge may lie from where it should, at the median. [mm] true ones lie within 0.03"""
SURE = 6
"""Places that must be the same on both sides before it is sure which way round the board lies. [1] a board of
the same outline and screws reached 5"""


@dataclass(frozen=True, slots=True)
class Edge:
    """A board's edge in a picture.

    Parameters
    ----------
    corners : ndarray, shape (4, 2)
        Clockwise as seen in the picture. [px] of the whole picture
    sides : tuple of four ndarrays, shape (n, 2)
        Points along the side from each corner to the next. [px]
    """

    corners: Array
    sides: tuple[Array, Array, Array, Array]


def edge_of(sheet: Sheet) -> Edge:
    """The edge of the board.

    Raises
    ------
    DataError
        If no board of four straight sides stands out from what it lies on.
    """
    small = sheet.at_most(LOOKED_AT)
    mask = board_mask(small.pixels)
    outlines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    rim = max(outlines, key=cv2.contourArea, default=None)
    if rim is None or cv2.contourArea(rim) < LEAST_SHARE * mask.size:
        raise _no_edge("nothing of a board's size stands out from what it lies on")
    hull = cv2.convexHull(rim)
    corners = _four_corners(hull)
    if corners is None or cv2.contourArea(rim) < STRAIGHT * cv2.contourArea(corners.astype(np.float32)):
        raise _no_edge("its edge has not four straight sides")
    height, width = mask.shape
    if corners.min() < 2 or corners[:, 0].max() > width - 3 or corners[:, 1].max() > height - 3:
        raise _no_edge("the board goes on beyond the picture")
    sides = _sides(rim.reshape(-1, 2).astype(np.float64), corners)
    sharp = [_sharpened(small.grey, points) for points in sides]
    straight = [_line(points) for points in sharp]
    meet = np.array([_crossing(straight[n - 1], straight[n]) for n in range(4)])
    if np.hypot(*(meet - corners).T).max() > 0.05 * max(width, height):
        raise _no_edge("its edge has not four straight sides")
    if meet.min() < 1 or meet[:, 0].max() > width - 2 or meet[:, 1].max() > height - 2:
        raise _no_edge("the board goes on beyond the picture")
    a, b, c, d = (small.full(points) for points in sharp)
    return Edge(small.full(meet), (a, b, c, d))


def laid_by_edge(reference: Sheet, to_board: Homography, of_reference: str, picture: Sheet, side: str) -> Match:
    """Where a picture lies by the edge of the board and by what goes through it.

    Parameters
    ----------
    of_reference : str
        The side that the reference shows; `side` is that of the picture.
    """
    board = to_board.applied(edge_of(reference).corners)
    edge = edge_of(picture)
    if of_reference == "bottom":
        board = board[::-1]
    wanted = board if side == "top" else board[::-1]
    spots = _spots(reference, View(of_reference, to_board.inverse), board, _box(to_board, reference), of_reference)
    tries = []
    for turn in range(4):
        corners = np.roll(wanted, -turn, axis=0)
        try:
            view = _on_edge(corners, edge, side, picture.full_px)
        except DataError:
            continue
        if _askew(view, corners) > 0.28:
            continue
        through = same_spots(spots, _spots(picture, view, corners, _box(to_board, reference), side))
        found = _same_through(reference, to_board, of_reference, picture, view, corners)
        tries.append((found, view, corners, through))
    if not tries:
        raise unregistered("its edge is not that of the board")
    telling = _telling([one[0][0] for one in tries])
    order = sorted(range(len(tries)), key=lambda n: (-tries[n][3].sure, -telling[n], -tries[n][3].count))
    tries, telling = [tries[n] for n in order], [telling[n] for n in order]
    (at, there), view, corners, through = tries[0]
    board_at, pixels = _pairs_along(view, corners, edge)
    if residuals(view, board_at, pixels).median_mm > WORST_MM:
        raise unregistered("its edge is not that of the board")
    alone = telling[0] >= SURE and (len(tries) == 1 or telling[0] >= 2 * telling[1])
    if not alone and not (through.sure and all(one[3].count <= through.count / 2 for one in tries[1:])):
        raise unregistered(
            "its edge fits, but too little goes through the board to tell which way round it lies",
            "mark two holes or pins that go through the board in both pictures, and two corners",
        )
    if through.sure:
        at = np.concatenate([at, through.of_reference])
        there = np.concatenate([there, view.pixels(through.of_picture)])
    if len(at) >= SURE:
        view = refined(
            view, np.concatenate([board_at, at, at, at]), np.concatenate([pixels, there, there, there]),
            picture.full_px, lens=True,
        )  # fmt: skip
        board_at, pixels = _pairs_along(view, corners, edge)
    return Match(view, residuals(view, board_at, pixels), 1.0, len(at))


def _spots(sheet: Sheet, view: View, corners: Array, box: tuple[float, float, float, float], side: str) -> Array:
    """Round spots of a picture, laid on the board, away from its edge. [mm]"""
    flat = straightened(sheet, view, box, PX_PER_MM)
    most = BELOW if side == "bottom" else ABOVE
    found = flat_to_board(flat, box, PX_PER_MM).applied(round_spots(flat.grey, 2 * most))
    return found[_from_edge(found, corners) > EDGE_MM][:most]


def _from_edge(points: Array, corners: Array) -> Array:
    """How far points lie from the nearest side of the board, less than 0 beyond it. [mm]"""
    along = np.roll(corners, -1, axis=0) - corners
    normal = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(*along.T)[:, None]
    normal *= np.sign(((corners.mean(axis=0) - corners) * normal).sum(axis=1))[:, None]
    off = ((points[:, None, :] - corners[None]) * normal[None]).sum(axis=2)
    return np.asarray(off.min(axis=1) if len(points) else np.zeros(0))


def _telling(found: list[Array]) -> list[int]:
    """For each way round, at how many places, well apart, both sides agree that do not agree the other way too. [1]

    A screw hole gives many small agreements and is one place; holes in all corners agree whichever way round.
    """
    places = [apart(points) for points in found]
    out = []
    for n, own in enumerate(places):
        others = [p for k, more in enumerate(places) if k != n for p in more]
        out.append(sum(all(np.hypot(*(p - q)) > ONE_PLACE_MM for q in others) for p in own))
    return out


def _no_edge(why: str) -> DataError:
    return unregistered(why)


def board_mask(pixels: Pixels) -> Pixels:
    """What differs from the rim of the picture, one piece."""
    lab = cv2.cvtColor(cv2.GaussianBlur(pixels, (0, 0), 2.0), cv2.COLOR_BGR2LAB).astype(np.float32)
    height, width = lab.shape[:2]
    strip = max(3, min(height, width) // 60)
    y, x = np.mgrid[0:height, 0:width]
    rim = (x < strip) | (y < strip) | (x >= width - strip) | (y >= height - strip)
    # The light on the bench falls off: a plane per channel, fitted where the rim is.
    design = np.column_stack([np.ones(rim.sum()), x[rim] / width, y[rim] / height])
    plane = np.stack([np.ones_like(x, np.float32), x / width, y / height], axis=-1).astype(np.float32)
    away = np.zeros((height, width), np.float32)
    for channel, weight in ((0, 0.6), (1, 1.6), (2, 1.6)):
        values = lab[..., channel][rim]
        fit = np.linalg.lstsq(design, values, rcond=None)[0]
        left = np.abs(values - design @ fit)
        keep = left <= 2.5 * np.median(left) + 1.0
        fit = np.linalg.lstsq(design[keep], values[keep], rcond=None)[0]
        away += weight * np.abs(lab[..., channel] - plane @ fit.astype(np.float32))
    scaled = np.clip(away * 2.0, 0, 255).astype(np.uint8)
    _, mask = cv2.threshold(scaled, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    k = max(3, min(height, width) // 150) | 1
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((3 * k, 3 * k), np.uint8))
    return np.asarray(cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((3 * k, 3 * k), np.uint8)))


def _four_corners(hull: Pixels) -> Array | None:
    """Four corners that hold the hull, clockwise, or None."""
    around = cv2.arcLength(hull, True)
    for share in np.linspace(0.01, 0.12, 23):
        found = cv2.approxPolyDP(hull, share * around, True)
        if len(found) == 4:
            points = found.reshape(4, 2).astype(np.float64)
            x, y = points.T
            area = float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())
            return points if area > 0 else points[::-1].copy()
        if len(found) < 4:
            return None
    return None


def _sides(rim: Array, corners: Array) -> list[Array]:
    """Points of the rim that belong to each side, without those near the corners."""
    out = []
    for n in range(4):
        a, b = corners[n], corners[(n + 1) % 4]
        along = (b - a) / np.hypot(*(b - a))
        t = (rim - a) @ along / np.hypot(*(b - a))
        off = np.abs((rim - a) @ np.array([-along[1], along[0]]))
        near = (t > 0.06) & (t < 0.94) & (off < 0.03 * np.hypot(*(b - a)) + 3)
        points = rim[near][np.argsort(t[near])]
        if len(points) < 20:
            raise _no_edge("one of its sides cannot be made out")
        out.append(points[:: max(1, len(points) // 80)])
    return out


def _sharpened(grey: Pixels, points: Array) -> Array:
    """Each point moved across the edge to where the lightness changes most, between pixels."""
    smooth = cv2.GaussianBlur(grey, (0, 0), 1.0).astype(np.float32)
    along = points[-1] - points[0]
    normal = np.array([-along[1], along[0]]) / np.hypot(*along)
    reach = np.arange(-8.0, 8.01, 0.25)
    places = points[:, None, :] + reach[None, :, None] * normal
    shown = cv2.remap(smooth, places[..., 0].astype(np.float32), places[..., 1].astype(np.float32), cv2.INTER_LINEAR)
    # The profiles along a straight edge are alike: their mean step says on which side the board is.
    slope = np.gradient(shown, axis=1)
    sign = np.sign(slope.mean(axis=0)[np.abs(slope.mean(axis=0)).argmax()]) or 1.0
    shift = reach[(sign * slope).argmax(axis=1)]
    middle = float(np.median(shift))
    good = np.abs(shift - middle) < 2.0
    moved = points + np.where(good, shift, middle)[:, None] * normal
    return np.asarray(moved[good] if good.sum() >= 15 else moved)


def _line(points: Array) -> tuple[Array, Array]:
    """A point of a line and its direction: least squares, twice, the second time without what is far off."""
    for _ in range(2):
        centre = points.mean(axis=0)
        _, _, vt = np.linalg.svd(points - centre)
        off = np.abs((points - centre) @ vt[1])
        points = points[off <= 3 * np.median(off) + 0.5]
    return centre, vt[0]


def _crossing(first: tuple[Array, Array], second: tuple[Array, Array]) -> Array:
    (a, u), (b, v) = first, second
    s = np.linalg.solve(np.column_stack([u, -v]), b - a)[0]
    return np.asarray(a + s * u)


def _on_edge(corners: Array, edge: Edge, side: str, size: tuple[int, int]) -> View:
    """The view that brings the corners and straight sides of the board onto the edge in the picture."""
    pairs: list[Pair] = [(float(x), float(y)) for x, y in corners]
    view = view_from_pairs(pairs, [(float(x), float(y)) for x, y in edge.corners], side, size)
    for _ in range(8):
        board, pixels = _pairs_along(view, corners, edge)
        view = refined(view, board, pixels, size, lens=True)
    return view


def _pairs_along(view: View, corners: Array, edge: Edge) -> tuple[Array, Array]:
    """Points of the edge in the picture, each with the nearest place on the board's side."""
    board, pixels = [], []
    for n, points in enumerate(edge.sides):
        a, b = corners[n], corners[(n + 1) % 4]
        along = (b - a) / np.hypot(*(b - a))
        on = view.millimetres(points)
        board.append(a + ((on - a) @ along)[:, None] * along)
        pixels.append(points)
    return np.concatenate(board), np.concatenate(pixels)


def _askew(view: View, corners: Array) -> float:
    """How much the scale differs between the directions in the middle of the board; 0 seen straight. [1]"""
    middle = corners.mean(axis=0)
    at = view.pixels(middle + np.array([[0.0, 0.0], [0.1, 0.0], [0.0, 0.1]]))
    a, b = np.hypot(*(at[1] - at[0])), np.hypot(*(at[2] - at[0]))
    return float(abs(np.log(a / b)))


def _same_through(
    reference: Sheet, to_board: Homography, of_reference: str, picture: Sheet, view: View, corners: Array
) -> tuple[Array, Array]:
    """Places on the board that look alike from both sides, and where the picture shows them."""
    flat = straightened(picture, view, _box(to_board, reference), 16.0)
    onto = View(of_reference, to_board.inverse)
    at, there, alike = patches(flat, flat_to_board(flat, _box(to_board, reference), 16.0), reference, onto, 10)
    # The edge itself looks alike whichever way round.
    good = (alike >= max(ALIKE, 0.7)) & (np.abs(_from_edge(at, corners)) > EDGE_MM)
    # `at` is where this view puts what lies, by the reference, elsewhere.
    return to_board.applied(there[good]), view.pixels(at[good])


def _box(to_board: Homography, sheet: Sheet) -> tuple[float, float, float, float]:
    width, height = sheet.full_px
    rim = to_board.applied(np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float64))
    low, high = rim.min(axis=0), rim.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def flat_to_board(_flat: Sheet, box: tuple[float, float, float, float], px_per_mm: float) -> Homography:
    """From the pixels of a straightened picture to board millimetres. [1/mm]"""
    return affine(1 / px_per_mm, 0.0, box[0] + 0.5 / px_per_mm, 0.0, 1 / px_per_mm, box[1] + 0.5 / px_per_mm)


def straightened(sheet: Sheet, view: View, box: tuple[float, float, float, float], px_per_mm: float) -> Sheet:
    """What a picture shows of a box of the board, as if seen straight from the top. (left, top, right, bottom), [mm]"""
    left, top, right, bottom = box
    width, height = max(1, round((right - left) * px_per_mm)), max(1, round((bottom - top) * px_per_mm))
    step = 16
    across, down = width // step + 2, height // step + 2
    x = left + (np.arange(across) * step + 0.5) / px_per_mm
    y = top + (np.arange(down) * step + 0.5) / px_per_mm
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    places = sheet.here(view.pixels(grid)).reshape(down, across, 2)
    from ohmwright.pictures.photo import spread_out

    fine = spread_out(places, step)[:height, :width]
    pixels = cv2.remap(sheet.pixels, fine[..., 0], fine[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return Sheet.whole(np.asarray(pixels))


__all__ = ["Edge", "edge_of", "flat_to_board", "laid_by_edge", "straightened"]
