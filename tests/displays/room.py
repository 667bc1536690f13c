"""The room and the camera: what light, tilt, blur and noise do to a display that was drawn."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True, slots=True)
class Light:
    """What the room and the camera do to it. Lengths in pixels of the camera."""

    contrast: float = 0.6
    bright: float = 0.7
    slope: float = 0.2
    glare: float = 0.0
    glare_at: tuple[float, float] = (0.5, 0.5)
    glare_size: float = 0.3
    tilt: tuple[float, ...] = (0.0,) * 8
    wide_px: int = 420
    blur_px: float = 0.8
    noise: float = 0.015
    jpeg: int = 85
    off_by: tuple[float, ...] = (0.0,) * 8
    old: float = 0.0
    turn: float = 0.0


def light(rng: np.random.Generator, hard: float = 1.0) -> Light:
    """A room and a camera by chance; `hard` scales the troubles. [1]"""
    glare = float(rng.uniform(0.2, 0.9)) if rng.random() < 0.35 else 0.0
    spread = 0.07 * hard
    return Light(
        contrast=float(rng.uniform(0.25, 0.8)),
        bright=float(rng.uniform(0.5, 0.9)),
        slope=float(rng.uniform(-0.35, 0.35)) * hard,
        glare=glare * hard,
        glare_at=(float(rng.uniform(0, 1)), float(rng.uniform(0, 1))),
        glare_size=float(rng.uniform(0.08, 0.4)),
        tilt=tuple(float(v) for v in rng.uniform(-spread, spread, 8)),
        wide_px=int(rng.integers(260, 640)),
        blur_px=float(rng.uniform(0.4, 1.9)) * hard,
        noise=float(rng.uniform(0.004, 0.035)) * hard,
        jpeg=int(rng.integers(55, 95)),
        off_by=tuple(float(v) for v in rng.uniform(-0.012, 0.012, 8)),
        turn=float(rng.uniform(-4, 4)) * hard,
    )


def photographed(
    ink: np.ndarray, look, how: Light, rng: np.random.Generator, older: np.ndarray | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """A camera's picture (grey levels) of the glass in its case, and its corners as a hand would mark them. [px]"""
    if older is not None and how.old > 0:
        ink = (1 - how.old) * ink + how.old * older
    high, wide = ink.shape
    across = np.linspace(-0.5, 0.5, wide)[None] * how.slope
    ground = how.bright * (1 + across)
    scene = (
        ground * (1 - how.contrast * ink)
        if look.dark_on_light
        else 0.12 + (how.bright - 0.12) * how.contrast * 1.2 * ink * (1 + across)
    )
    if how.glare:
        y, x = np.mgrid[0:high, 0:wide]
        d = ((x / wide - how.glare_at[0]) ** 2 + ((y / high - how.glare_at[1]) * high / wide) ** 2) / how.glare_size**2
        scene = scene + how.glare * np.exp(-2 * d)
    tall = int(how.wide_px * high / wide)
    margin = how.wide_px // 6
    frame = (how.wide_px + 2 * margin, tall + 2 * margin)
    corners = np.float32([[0, 0], [wide, 0], [wide, high], [0, high]])
    there = np.float32(
        [
            [margin, margin],
            [margin + how.wide_px, margin],
            [margin + how.wide_px, margin + tall],
            [margin, margin + tall],
        ]
    )
    there += np.float32(how.tilt).reshape(4, 2) * how.wide_px * np.float32([1, 0.4])
    turn = cv2.getRotationMatrix2D((frame[0] / 2, frame[1] / 2), how.turn, 1.0)
    there = np.float32(cv2.transform(there[None], turn)[0])
    matrix = cv2.getPerspectiveTransform(corners, there)
    case = 0.25 if look.frame else 0.4
    picture = cv2.warpPerspective(scene.astype(np.float32), matrix, frame, flags=cv2.INTER_AREA, borderValue=case)
    inside = cv2.warpPerspective(np.ones_like(ink), matrix, frame)
    picture = picture * inside + case * (1 - inside)
    if how.blur_px > 0.1:
        picture = cv2.GaussianBlur(picture, (0, 0), how.blur_px)
    picture = picture + rng.normal(0, how.noise, picture.shape)
    grey = np.clip(picture * 255, 0, 255).astype(np.uint8)
    grey = cv2.imdecode(cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, how.jpeg])[1], cv2.IMREAD_GRAYSCALE)
    return grey, there + np.float32(how.off_by).reshape(4, 2) * how.wide_px
