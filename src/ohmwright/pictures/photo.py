"""A photograph of a board as a hand-held camera takes it: askew, through a lens, in uneven light, a little soft.

Made from a rendered scan, so that what it shows is of known geometry: test data, and practice.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from ohmwright.geometry.camera import Lens, View, hand_held_view
from ohmwright.geometry.frames import Outline
from ohmwright.geometry.transforms import Array
from ohmwright.pictures.canvas import Field, Pixels, grain
from ohmwright.pictures.render import BoardPicture

STEP = 16
"""Spacing of the points between which the way through the lens is interpolated. [px]"""


@dataclass(frozen=True, slots=True)
class PhotoRequest:
    """How the photograph is taken.

    Parameters
    ----------
    width_px, height_px : int
        Of the photograph. [px]
    fill : float
        Share of the picture's width that the board takes up. [1]
    tilt_deg, turn_deg, roll_deg : float
        How the camera is held. [degrees]
    k1, k2 : float
        Of the lens, on the normalised plane. [1]
    blur_px, noise : float
        Softness, and the sensor's noise in steps of 255. [px], [1]
    uneven : float
        How much darker the dark side of the light is. [1]
    glare : float
        Strength of a reflection of the lamp. [1]
    """

    width_px: int = 4000
    height_px: int = 3000
    fill: float = 0.8
    tilt_deg: float = 8.0
    turn_deg: float = 4.0
    roll_deg: float = 3.0
    k1: float = -0.08
    k2: float = 0.02
    blur_px: float = 0.8
    noise: float = 2.5
    uneven: float = 0.35
    glare: float = 0.25
    seed: int = 1


def photograph(scan: BoardPicture, request: PhotoRequest) -> tuple[Pixels, View]:
    """The photograph, shape (height, width, 3) sRGB, and the exact way from board millimetres to its pixels."""
    lens = Lens(
        0.95 * request.width_px, (request.width_px - 1) / 2, (request.height_px - 1) / 2, request.k1, request.k2
    )
    view = hand_held_view(
        scan.outline, scan.view.side, lens, distance_mm=_distance(scan.outline, lens, request),
        tilt_deg=request.tilt_deg, turn_deg=request.turn_deg, roll_deg=request.roll_deg,
    )  # fmt: skip
    random = np.random.default_rng(request.seed)
    picture = _seen(scan, view, request, random)
    return _exposed(picture, request, random), view


def _distance(outline: Outline, lens: Lens, request: PhotoRequest) -> float:
    wide = outline.width_mm / request.width_px
    return lens.focal_px * max(wide, outline.height_mm / request.height_px) / request.fill


def _seen(scan: BoardPicture, view: View, request: PhotoRequest, random: np.random.Generator) -> Field:
    """The scan through the camera, on a bench."""
    width, height = request.width_px, request.height_px
    there = _through(view, scan.view, width, height)
    # A pixel of the photo takes in as many pixels of the scan as it covers, as a sensor's does.
    coarse = float(np.median(np.hypot(*np.diff(there, axis=1)[:, :, :2].reshape(-1, 2).T)))
    flat = cv2.GaussianBlur(scan.pixels, (0, 0), 0.45 * coarse) if coarse > 1.2 else scan.pixels
    bench = np.array((118, 104, 88), np.float32) * (1.0 + grain(random, (height, width), (9, 14), 0.10)[..., None])
    seen = cv2.remap(flat, there[..., 0], there[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    edge = np.array([[p.x_mm, p.y_mm] for p in scan.outline.corners])
    mask = np.zeros((height, width), np.float32)
    dense = np.concatenate([np.linspace(a, b, 60) for a, b in zip(edge, np.roll(edge, -1, 0), strict=True)])
    cv2.fillPoly(mask, [np.round(view.pixels(dense) * 16).astype(np.int32)], 1.0, cv2.LINE_AA, 4)
    return np.asarray(bench + (seen.astype(np.float32) - bench) * mask[..., None], dtype=np.float32)


def _through(view: View, onto: View, width: int, height: int) -> Field:
    """For each pixel of the photograph the place in the scan that it shows, shape (height, width, 2)."""
    across, down = width // STEP + 2, height // STEP + 2
    grid = np.stack(np.meshgrid(np.arange(across) * float(STEP), np.arange(down) * float(STEP)), axis=-1)
    coarse = onto.pixels(view.millimetres(grid.reshape(-1, 2))).reshape(down, across, 2)
    return spread_out(coarse, STEP)[:height, :width]


def spread_out(coarse: Array, step: int) -> Field:
    """Places known at every `step`-th pixel, shape (m, n, 2), at every pixel between. [px]"""
    down, across = coarse.shape[:2]
    u = np.arange((across - 1) * step, dtype=np.float32) / step
    v = np.arange((down - 1) * step, dtype=np.float32) / step
    map_u, map_v = np.meshgrid(u, v)
    fine = cv2.remap(coarse.astype(np.float32), map_u, map_v, cv2.INTER_LINEAR)
    return np.asarray(fine, dtype=np.float32)


def _exposed(picture: Field, request: PhotoRequest, random: np.random.Generator) -> Pixels:
    height, width = picture.shape[:2]
    x, y = np.meshgrid(np.linspace(-1, 1, width, dtype=np.float32), np.linspace(-1, 1, height, dtype=np.float32))
    turn = random.uniform(0, 2 * np.pi)
    lamp = 1.0 - request.uneven * 0.5 * (1.0 + (x * np.cos(turn) + y * np.sin(turn)) / 1.42)
    lamp *= 1.0 - 0.18 * (x * x + y * y)
    at = random.uniform(-0.5, 0.5, 2)
    glare = request.glare * 120.0 * np.exp(-((x - at[0]) ** 2 + (y - at[1]) ** 2) / 0.05)
    tint = np.array((1.04, 1.0, 0.92), np.float32) ** float(random.uniform(-1, 1))
    lit = picture * (lamp[..., None] * tint) + glare[..., None]
    if request.blur_px > 0:
        lit = cv2.GaussianBlur(lit, (0, 0), request.blur_px)
    lit += random.standard_normal(lit.shape, dtype=np.float32) * request.noise
    return np.asarray(np.clip(lit + 0.5, 0, 255), dtype=np.uint8)
