"""From thermal pictures to what the feed has warmed: drift taken out, reflections told apart.

What shines from elsewhere does not follow the feed. In a pair of pictures it is seen only if a third one,
with the supply off again, shows that it moved; in a series it is what neither swings with the feed nor lags it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ohmwright.errors import DataError

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
DOUBT = 5.0
"""Changes beyond so many standard deviations while the supply did not change are not heat of the board. [1]"""
EARLIEST, LATEST = 15.0, -170.0
"""Heat follows its power by up to half a turn where it has far to go; nothing of it comes before. [deg]"""
STRONGEST_LAG, UNSURE = -55.0, 45.0
"""Lag of the strongest heat, and how far that may be off: 40° over an 0402 to 75° over a coil (`wave.disc_wave`, 0.1 to
1 Hz), more where a mirror is stronger. Where nobody has said when the feed went on, it is set by that. [deg]"""


@dataclass(frozen=True, eq=False)
class Rise:
    """What the feed has warmed, seen from the camera.

    Parameters
    ----------
    kelvin : ndarray, shape (h, w)
        Rise, or its swing with the feed. [K]
    noise : float
        Standard deviation of a pixel. [K]
    doubtful : ndarray of bool, shape (h, w)
        Where something changed that does not follow the feed.
    phase : ndarray, shape (h, w), or None
        Lag behind the feed, negative. [deg]
    swing : ndarray of complex, shape (h, w), or None
        Of a series what swings with the feed, noise and all, with that lag. [K]
    moved : float
        How far the camera moved between the pictures; they were laid on each other. [px]
    checked : bool
        Whether reflections could be told apart at all.
    drift : float
        What was taken out as common to the picture. [K]
    hertz : float or None
        Of the feed, for a series. [Hz]
    """

    kelvin: Array
    noise: float
    doubtful: Mask
    phase: Array | None = None
    checked: bool = False
    drift: float = 0.0
    hertz: float | None = None
    swing: NDArray[np.complex128] | None = None
    moved: float = 0.0


def difference(before: Array, during: Array, after: Array | None = None) -> Rise:
    """What is warmer with the supply on.

    Parameters
    ----------
    before, during, after : ndarray, shape (h, w)
        Supply off, on, and off again where that was taken. [°C]
    """
    if before.shape != during.shape or (after is not None and after.shape != before.shape):
        raise DataError("These pictures differ in size.", hint="take all of them with the camera fixed in one place")
    from ohmwright.fields.steadied import steadied  # only who has pictures pays for loading what lays them together

    pictures = [during, before] if after is None else [during, before, after]
    noise = pixel_noise(during - before)
    pictures, bare, moved = steadied(pictures, 0, noise)
    before, after = pictures[1], None if after is None else pictures[2]
    change, drift = _levelled(during - before)
    doubtful = np.zeros(change.shape, dtype=bool)
    if after is not None:
        left, _ = _levelled(after - before)
        doubtful = (left < -DOUBT * noise) | (left > np.maximum(change, 0.0) + DOUBT * noise)
        doubtful = _grown(doubtful)
    return Rise(change, noise, doubtful | bare, None, after is not None, drift, moved=moved)


def lock_in(frames: Array, times: Array, hertz: float, start: float | None = None) -> Rise:
    """What swings with a feed that is switched on and off evenly.

    Parameters
    ----------
    frames : ndarray, shape (n, h, w)
        [°C]
    times : ndarray, shape (n,)
        [s]
    hertz : float
        Of the feed.
    start : float, optional
        When the feed went on first. A camera is seldom started with the feed to a fraction of a period: without it
        the lag is counted from the strongest heat. [s]
    """
    from ohmwright.fields.steadied import steadied_series  # as above

    n = len(frames)
    frames, moved = steadied_series(frames) if n > 2 else (frames, 0.0)
    span = float(times[-1] - times[0]) if n > 1 else 0.0
    if n < 12 or span * hertz < 2.0:
        raise DataError(
            f"{n} frames over {span:.1f} s are too few for a feed of {hertz:g} Hz.",
            hint="record three periods or more, with eight frames in each",
        )
    if float(np.diff(times).max()) * hertz > 0.45:
        raise DataError("The frames are too far apart for this feed.", hint="switch the feed more slowly")
    turn = 2.0 * math.pi * hertz * (times - (start or 0.0))
    along = (times - times.mean()) / max(span, 1e-9)
    # Of an even on-off feed the fundamental counts; drift is taken as a bend of the third degree.
    columns = [np.ones(n), along, along**2, along**3, np.sin(turn), np.cos(turn)]
    design = np.stack(columns, axis=1)
    flat = frames.reshape(n, -1)
    solved, *_ = np.linalg.lstsq(design, flat, rcond=None)
    left = flat - design @ solved
    shape = frames.shape[1:]
    inverse = np.linalg.inv(design.T @ design)
    spare = max(n - design.shape[1], 1)
    residual = np.sqrt((left**2).sum(axis=0) / spare)
    noise = float(np.median(residual) * math.sqrt(inverse[4, 4]))
    swing = (solved[4] + 1j * solved[5]).reshape(shape)
    own = (residual * math.sqrt(inverse[4, 4])).reshape(shape)
    amplitude = np.abs(swing)
    restless = (own > 4.0 * noise) & (amplitude < DOUBT * own)
    strong = amplitude > DOUBT * noise
    slack = 0.0
    if start is None:
        swing, slack = _turned(swing, strong & ~restless), UNSURE
    phase = np.degrees(np.angle(swing))
    # counted from half way between what is too early and too late, so that no turn is lost at ±180°
    middle = (EARLIEST + LATEST) / 2.0
    odd = strong & (np.abs((phase - middle + 180.0) % 360.0 - 180.0) > (EARLIEST - LATEST) / 2.0 + slack)
    amplitude = np.where(amplitude > 2.0 * noise, np.sqrt(np.maximum(amplitude**2 - noise**2, 0.0)), 0.0)
    drift = float(np.ptp(frames.mean(axis=(1, 2))))
    return Rise(amplitude, noise, _grown(odd | restless), phase, True, drift, hertz, swing, moved)


def _turned(swing: NDArray[np.complex128], strong: Mask) -> NDArray[np.complex128]:
    """What swings, counted from when the feed must have gone on for the strongest heat to lag as it does."""
    heat = swing[strong]
    together = complex((heat * np.abs(heat)).sum())
    if not abs(together) > 0.0:
        return swing
    return np.asarray(swing * (together.conjugate() / abs(together)) * np.exp(1j * math.radians(STRONGEST_LAG)))


def pixel_noise(picture: Array) -> float:
    """Standard deviation of one pixel, from how neighbours differ. [K]"""
    steps = np.concatenate((np.diff(picture, axis=0).ravel(), np.diff(picture, axis=1).ravel()))
    return max(float(np.median(np.abs(steps - np.median(steps)))) * 1.4826 / math.sqrt(2.0), 1e-4)


def _levelled(change: Array) -> tuple[Array, float]:
    """A picture with the plane of its cold part taken out, and the height of that plane in the middle. [K]"""
    rows, columns = change.shape
    v, u = np.mgrid[0:rows, 0:columns]
    design = np.stack((np.ones(change.size), u.ravel() / columns - 0.5, v.ravel() / rows - 0.5), axis=1)
    flat = change.ravel()
    noise = pixel_noise(change)
    keep = flat <= np.quantile(flat, 0.5)
    plane = np.array([float(np.median(flat[keep])), 0.0, 0.0])
    for _ in range(6):
        keep = np.abs(flat - design @ plane) < 2.5 * noise
        if keep.sum() < max(30, 0.02 * flat.size):
            plane = np.array([float(np.quantile(flat, 0.1)), 0.0, 0.0])
            break
        plane, *_ = np.linalg.lstsq(design[keep], flat[keep], rcond=None)
    return np.asarray((flat - design @ plane).reshape(change.shape)), float(plane[0])


def _grown(mask: Mask) -> Mask:
    """A mask with its neighbours."""
    out = mask.copy()
    out[1:] |= mask[:-1]
    out[:-1] |= mask[1:]
    out[:, 1:] |= mask[:, :-1]
    out[:, :-1] |= mask[:, 1:]
    return out
