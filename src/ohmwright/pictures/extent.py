"""How much of a picture is board: the line round it, where the board stands out from what it lies on."""

from __future__ import annotations

import cv2
import numpy as np

from ohmwright.geometry.transforms import Array
from ohmwright.pictures.canvas import Pixels
from ohmwright.pictures.outline import LEAST_SHARE, board_mask
from ohmwright.pictures.sheets import Sheet

LOOKED_AT = 0.6e6
"""Pixels of the picture in which the board is sought. [px]"""
SOLID = 0.7
"""Share of its hull that a board fills, cut-outs and all. [1] parts on a board that fills the picture fill less"""
NEAR_RIM_PX = 2
"""A board that comes so near the rim of the picture may go on beyond it. [px] of those looked at"""
INSIDE = 0.012
"""How far inside its line the board is looked at, over the picture's shorter edge. [1]"""
ONE_COLOUR, MOSTLY = 22.0, 0.7
"""How far off the usual colour along its rim a board may be, and for how much of it. [1] CIELAB as bytes; parts that
stand in a heap have no colour in common, a board has its mask's"""
CORNERS = 0.002
"""How far the line may be off what it is drawn round, over its length. [1]"""


def board_shown(sheet: Sheet) -> Array | None:
    """The line round the board, or None where the picture does not show all of it standing out.

    Returns
    -------
    ndarray, shape (n, 2)
        Corners, each with the next and the last with the first. [px] of the whole picture
    """
    small = sheet.at_most(LOOKED_AT)
    mask = board_mask(small.pixels)
    outlines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    rim = max(outlines, key=cv2.contourArea, default=None)
    if rim is None or cv2.contourArea(rim) < max(LEAST_SHARE * mask.size, SOLID * cv2.contourArea(cv2.convexHull(rim))):
        return None
    height, width = mask.shape
    x, y, w, h = cv2.boundingRect(rim)
    beyond = min(x, y, width - x - w, height - y - h) <= NEAR_RIM_PX
    if beyond or not _of_one_colour(small.pixels, rim):
        return None
    line = cv2.approxPolyDP(rim, CORNERS * cv2.arcLength(rim, True), True).reshape(-1, 2)
    return small.full(line.astype(np.float64)) if len(line) >= 3 else None


def _of_one_colour(pixels: Pixels, rim: Pixels) -> bool:
    """Whether what lies just inside a line is mostly of one colour."""
    height, width = pixels.shape[:2]
    filled: Pixels = np.zeros((height, width), np.uint8)
    cv2.drawContours(filled, [rim], -1, (1,), cv2.FILLED)
    reach = max(2, round(INSIDE * min(height, width)))
    outer = cv2.erode(filled, np.ones((2 * reach + 1, 2 * reach + 1), np.uint8), borderValue=0)
    inner = cv2.erode(outer, np.ones((3, 3), np.uint8), borderValue=0)
    ring = cv2.cvtColor(cv2.GaussianBlur(pixels, (0, 0), 1.0), cv2.COLOR_BGR2LAB)[(outer > inner)].astype(np.float64)
    if len(ring) < 20:
        return False
    off = np.abs(ring - np.median(ring, axis=0)) * (0.5, 1.0, 1.0)  # light falls off along a board, its colour stays
    return bool((off.sum(axis=1) <= ONE_COLOUR).mean() >= MOSTLY)


__all__ = ["board_shown"]
