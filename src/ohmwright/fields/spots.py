"""The hottest points of a picture, each as a source on a plate: where it is to a fraction of a pixel, and how strong.

Sources are taken out one after the other, the hottest first, so that a weaker one beside it shows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import kv

from ohmwright.fields.plate import Plate
from ohmwright.fields.rise import Rise
from ohmwright.fields.wave import wave_watts

Array = NDArray[np.float64]
MOST = 6
CLEAR = 6.0
"""A spot is one if it stands out by so many standard deviations. [1]"""
LENGTHS, RADII = (2.0, 4.0, 8.0, 16.0, 32.0), (0.7, 1.5, 3.0)
"""Over how many pixels heat spreads, and how large a source is: all are tried. [px]"""
MIRROR_MM = 4.0
"""So far about its middle a mirrored place is left out of the picture. [mm] estimate"""


@dataclass(frozen=True, slots=True)
class Spot:
    """A source of heat in a picture.

    Parameters
    ----------
    x, y : float
        [px]
    sd : float
        Of either, from the picture alone. [px]
    kelvin : float
        Rise at its middle. [K]
    pixels : float
        Rise summed over the picture for this source alone. [K px²]
    lag : float or None
        Behind the feed. [deg]
    """

    x: float
    y: float
    sd: float
    kelvin: float
    pixels: float
    lag: float | None = None


def spots_of(rise: Rise) -> tuple[Spot, ...]:
    """The spots of a picture, hottest first; those in doubtful places are left out."""
    from scipy import ndimage  # only who has a picture pays for loading it

    left = np.where(rise.doubtful, 0.0, rise.kelvin)
    found: list[Spot] = []
    for _ in range(MOST):
        smooth = ndimage.gaussian_filter(left, 0.8)
        y, x = np.unravel_index(int(np.argmax(np.where(rise.doubtful, -np.inf, smooth))), smooth.shape)
        floor = CLEAR * rise.noise * 0.45
        if smooth[y, x] < floor or (found and smooth[y, x] < 0.04 * found[0].kelvin):
            break
        spot, model = _fitted(left, ~rise.doubtful, int(x), int(y), rise.noise)
        lag = None if rise.phase is None else float(rise.phase[y, x])
        if spot.kelvin > floor and not any(math.hypot(spot.x - s.x, spot.y - s.y) < 2.0 for s in found):
            found.append(Spot(spot.x, spot.y, spot.sd, spot.kelvin, spot.pixels, lag))
        left = left - model
        # What is left at the spot itself is the model's fault, not another source.
        rows, columns = np.ogrid[: left.shape[0], : left.shape[1]]
        left[(rows - y) ** 2 + (columns - x) ** 2 <= 9.0] = 0.0
    return tuple(found)


def _shape(r: Array, length: float, radius: float) -> Array:
    reach, table = _table(length, radius)
    return np.asarray(np.interp(r, reach, table, right=0.0))


@lru_cache(maxsize=32)
def _table(length: float, radius: float) -> tuple[Array, Array]:
    reach = np.concatenate((np.linspace(0.0, 30.0, 400), np.linspace(30.5, 1500.0, 600)))
    return reach, kv(0, np.sqrt(reach**2 + radius**2) / length) / kv(0, radius / length)


def watts_of(rise: Rise, spots: tuple[Spot, ...], mm_per_px: float, plate: Plate) -> tuple[float, ...]:
    """Power of each spot, if the board is such a plate: all spots and a level at once, by least squares. [W]

    Of a series the amplitude of the swing.
    """
    if not spots:
        return ()
    if rise.hertz is not None and rise.swing is not None:
        at = [(spot.x, spot.y) for spot in spots]
        return wave_watts(rise.swing, ~rise.doubtful, at, rise.hertz, plate, mm_per_px * 1e-3, rise.noise)
    rows, columns = np.mgrid[0 : rise.kelvin.shape[0], 0 : rise.kelvin.shape[1]]
    use = ~rise.doubtful
    metre = mm_per_px * 1e-3
    # A part spreads heat over its own body; what lies nearer than that is not judged.
    shapes, near = [], np.zeros_like(use)
    for spot in spots:
        r = np.hypot(columns - spot.x, rows - spot.y) * metre
        near |= r < 1.2e-3
        shapes.append(plate.rise(1.0, r))
    keep = use & ~near
    seen = rise.kelvin[keep]
    level = [np.ones(seen.shape), columns[keep] - columns.mean(), rows[keep] - rows.mean()]
    solved, *_ = np.linalg.lstsq(np.stack([*(s[keep] for s in shapes), *level], axis=1), seen, rcond=None)
    return tuple(float(max(w, 0.0)) for w in solved[: len(spots)])


def sources_of(
    rise: Rise, mm_per_px: float, plate: Plate
) -> tuple[tuple[Spot, ...], tuple[float, ...], int]:
    """Spots with their watts, and how many places of a series are mirrored.

    What swings everywhere at once is no wave of heat, however warm it is. It may outshine what is: where there is such
    a place it is looked for the rest once more without it.
    """
    mirrors = 0
    for _ in range(3):
        spots = spots_of(rise)
        powers = watts_of(rise, spots, mm_per_px, plate)
        if rise.hertz is None:
            return spots, powers, 0
        no_heat = [spot for spot, power in zip(spots, powers, strict=True) if not power > 0.0]
        if not no_heat:
            break
        mirrors += len(no_heat)
        rows, columns = np.mgrid[0 : rise.kelvin.shape[0], 0 : rise.kelvin.shape[1]]
        near = [np.hypot(columns - spot.x, rows - spot.y) * mm_per_px < MIRROR_MM for spot in no_heat]
        rise = replace(rise, doubtful=rise.doubtful | np.any(near, axis=0))
    kept = [(spot, power) for spot, power in zip(spots, powers, strict=True) if power > 0.0]
    return tuple(spot for spot, _ in kept), tuple(power for _, power in kept), mirrors


def _fitted(picture: Array, good: NDArray[np.bool_], x: int, y: int, noise: float) -> tuple[Spot, Array]:
    """The best source near a pixel, and what it does to the whole picture."""
    reach = 12
    top, left = max(0, y - reach), max(0, x - reach)
    window = picture[top : y + reach + 1, left : x + reach + 1]
    use = good[top : y + reach + 1, left : x + reach + 1]
    v, u = np.mgrid[top : top + window.shape[0], left : left + window.shape[1]]
    values, us, vs = window[use], u[use].astype(float), v[use].astype(float)
    best = (math.inf, float(x), float(y), LENGTHS[0], RADII[0], 0.0)
    for step, wide in ((0.5, 3), (0.125, 4)):
        cx, cy = best[1], best[2]
        for length, radius in ((a, b) for a in LENGTHS for b in RADII):
            for dx in range(-wide, wide + 1):
                for dy in range(-wide, wide + 1):
                    px, py = cx + dx * step, cy + dy * step
                    shape = _shape(np.hypot(us - px, vs - py), length, radius)
                    height = max(float(shape @ values) / float(shape @ shape), 0.0)
                    off = values - height * shape
                    worth = float(off @ off)
                    if worth < best[0]:
                        best = (worth, px, py, length, radius, height)
    worth, px, py, length, radius, height = best
    shape = _shape(np.hypot(us - px, vs - py), length, radius)
    slope = (_shape(np.hypot(us - px - 0.1, vs - py), length, radius) - shape) / 0.1 * height
    # Where the model does not fit, the misfit counts as noise.
    noise = max(noise, math.sqrt(worth / max(len(values) - 5, 1)))
    sd = noise / max(math.sqrt(float(slope @ slope)), 1e-9)
    rows, columns = np.mgrid[0 : picture.shape[0], 0 : picture.shape[1]]
    model = height * _shape(np.hypot(columns - px, rows - py), length, radius)
    return Spot(px, py, max(sd, 0.1), height, float(model.sum())), model
