"""How well a piece of a picture is told apart into pads, body and what lies around, at each shift of a template.

A pattern fits where these three are each of one colour and differ: where they tell most of the variance of L*, a* and
b* (CIE 1976). That alone also fits across a part, its bright end taken for the body between two dark pads; so the pads
must differ from what lies around, and of two pads both in the same direction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from ohmwright.geometry.lands import Land
from ohmwright.geometry.transforms import Array
from ohmwright.pictures.canvas import Field

SHARES = (1.0, 0.6, 1.0)
"""Of pads, body and surroundings in the score. [1]"""
DARK_PADS = 0.7
"""Weight of a place whose pads are darker than what lies around: solder seldom is. [1]"""
BARE = 0.25
"""What two pads lose with nothing between them: next to a part, one of its ends and its neighbour's look so. [1]"""
BODY_STEPS = 12.0
"""How far the colour of a body is from what lies around, about. [L* a* b* steps]"""
LEAST_AREA = 4.0
"""Size of an area from which its colour can be told. [px]"""
LEAST_FREE = 0.75
"""Share of a pattern's pads that must lie where no other pad does. [1]"""
NOISE = 1.0
"""The least variance of each channel, lest an even patch be told by its noise. [L* a* b* steps squared]"""


@dataclass(frozen=True, slots=True)
class Template:
    """What is sought.

    Parameters
    ----------
    areas : tuple of ndarray
        Weights of the pads, of the body if there is one, and of what lies around; empty where the picture is too
        coarse to tell these apart. [1]
    each : tuple of ndarray
        Weights of each of two pads, or of all pads together. [1]
    """

    areas: tuple[Field, ...]
    each: tuple[Field, ...]

    @classmethod
    def of(
        cls,
        shown: Sequence[Land],
        body_mm: tuple[float, float],
        x: Array,
        y: Array,
        *,
        margin_mm: float,
        rim_mm: float,
        scale: float,
        beyond: Sequence[Land] = (),
    ) -> Template:
        """The template of the pads that show, on a grid of columns `x` and rows `y`. [mm]

        Parameters
        ----------
        margin_mm, rim_mm : float
            How far around the pads, and around the body, the board is looked at. [mm]
        beyond : sequence of Land
            Places beyond the rows' ends where there must be no pad; they are looked at as board.
        """
        px_per_mm = 1.0 / float(x[1] - x[0])
        whole = Land("", 0.0, 0.0, *body_mm)
        from_body = _away(x, y, whole, 1.0)
        within = np.clip(0.5 - from_body * px_per_mm, 0, 1) * (max(body_mm) > 0)
        away = [_away(x, y, land, scale) for land in shown]
        each = tuple(np.asarray(np.clip(0.5 - one * px_per_mm, 0, 1), np.float32) for one in away)
        pads = np.max(each, axis=0)
        near = np.max([np.clip(0.5 - (one - margin_mm) * px_per_mm, 0, 1) for one in away], axis=0)
        for land in beyond:
            near = np.maximum(near, np.clip(0.5 - _away(x, y, land, scale) * px_per_mm, 0, 1))
        if rim_mm:
            near = np.maximum(near, np.clip(0.5 - (from_body - rim_mm) * px_per_mm, 0, 1))
        off = 1.0 - np.clip(cv2.dilate(pads, np.ones((3, 3), np.uint8)), 0, 1)
        body = np.minimum(within, off)
        around = np.clip(np.minimum(near, off) - within, 0, 1)
        shares = zip((pads, body, around), SHARES, strict=True)
        large = [(part, share) for part, share in shares if part.sum() > LEAST_AREA]
        areas = tuple((part / part.sum()).astype(np.float32) * share for part, share in large)
        if min(pads.sum(), around.sum()) <= LEAST_AREA:
            areas = ()
        return cls(areas, each if len(each) == 2 else (pads,))


def contrast(picture: Field, free: Field | None, template: Template) -> Field:
    """How well it fits at each shift; 1 is perfect, and 0 everywhere where the template is empty. [1]

    Parameters
    ----------
    picture : ndarray, shape (height, width, 3)
        L*, a*, b*.
    free : ndarray, shape (height, width), or None
        0 where another part's pad lies already, else 1.
    """
    rows, columns = (picture.shape[k] - template.each[0].shape[k] + 1 for k in (0, 1))
    if not template.areas:
        return np.zeros((rows, columns), np.float32)
    told, scatter_all, apart, scatter, body = np.zeros((5, rows, columns), np.float32)
    n = [float(area.sum()) for area in template.areas]
    whole, rim = sum(n), n[0] + n[-1]
    weights, outer = np.asarray(sum(template.areas[1:], template.areas[0])), template.areas[0] + template.areas[-1]
    darker = np.zeros((rows, columns), bool)
    for channel in range(3):
        image = picture[..., channel] - float(picture[..., channel].mean())
        sums = [_sum(image, area) for area in template.areas]
        around = sums[-1] / n[-1]
        if channel == 0:
            darker = sums[0] / n[0] < around
        mean = np.asarray(sum(sums[1:], sums[0])) / whole
        told = told + sum((s * s / count for s, count in zip(sums, n, strict=True)), -whole * mean**2)
        scatter_all = scatter_all + _sum(image * image, weights) - whole * mean**2 + NOISE * whole
        # Of two pads the product: it is large only where both differ from what lies around, and in one direction.
        off = [_sum(image, one) / float(one.sum()) - around for one in template.each]
        apart = apart + off[0] * off[-1] * n[0] * n[-1] / rim
        scatter = scatter + _sum(image * image, outer) - (sums[0] + sums[-1]) ** 2 / rim + NOISE * rim
        body = body + (sums[1] / n[1] - around) ** 2
    score = 0.5 * (told / scatter_all + np.maximum(apart, 0.0) / scatter) * np.where(darker, DARK_PADS, 1.0)
    if len(template.each) == 2:
        score = score * (1.0 - BARE * np.exp(-body / BODY_STEPS**2))
    if free is not None:
        score[_sum(free, template.areas[0]) < LEAST_FREE * n[0]] = 0.0
    return np.asarray(score, dtype=np.float32)


def _sum(picture: Field, weights: Field) -> Field:
    return np.asarray(cv2.matchTemplate(picture, weights, cv2.TM_CCORR), dtype=np.float32)


def _away(x: Array, y: Array, land: Land, scale: float) -> Field:
    """How far each pixel lies outside a land, less than 0 within. [mm]"""
    dx = np.abs(x - land.x_mm * scale) - land.width_mm / 2
    dy = np.abs(y - land.y_mm * scale) - land.height_mm / 2
    return np.maximum(dx[None, :], dy[:, None]).astype(np.float32)
