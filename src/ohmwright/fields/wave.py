"""Watts of sources that swing with a switched feed, from the thermal wave they send over the board.

A source that swings at the angular frequency w heats a plate as in `plate`, with q² = (h + i w C) / k t for 1 / L².
Spread evenly over a disc of radius a it gives, per watt (the fin's modified Bessel equation, continuous in value and
in slope at a; Carslaw and Jaeger, "Conduction of Heat in Solids", 2nd ed., chapters 4 and 13, from memory)

    r < a:  (1 - q a K1(q a) I0(q r)) / (pi a² k t q²)        r > a:  I1(q a) K0(q r) / (pi a k t q)

and over the whole plate 1 / (h + i w C), however it spreads: of the plate's figures only the capacity scales the watts.
At a quarter of a hertz the wave dies within 2 to 3 mm, which is no more than a part's own body, so the size of each
source is solved for, and with it how fast heat spreads. When the feed went on is solved for too: all sources are
switched by one switch, so they share one phase, whatever the camera's clock says.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import iv, kv

from ohmwright.fields.plate import Plate

Array = NDArray[np.float64]
Wave = NDArray[np.complex128]
RADII = (0.4e-3, 0.8e-3, 1.2e-3, 1.7e-3, 2.4e-3, 3.4e-3, 4.8e-3)
"""Of a source: half an 0402 to a large coil. [m]"""
SPREADS = (-2.0, -1.0, 0.0, 1.0, 2.0)
"""How well the board conducts, in standard deviations of what is taken for granted. [1]"""
REACH = 10e-3
"""The wave of a part is judged that far; it has died by then. [m]"""
MIRROR_REACH = 6e-3
"""So far about a source it is asked whether its lag grows. [m]"""


def disc_wave(plate: Plate, r: Array, hertz: float, radius: float) -> Wave:
    """Complex amplitude for one watt of amplitude over a disc, at distances r from its middle. [K/W], [m], [Hz]"""
    loss = plate.loss + 2j * math.pi * hertz * plate.capacity
    q = np.sqrt(loss / plate.square)
    inside = (1.0 - q * radius * kv(1, q * radius) * iv(0, q * np.minimum(r, radius))) / (math.pi * radius**2 * loss)
    outside = iv(1, q * radius) * kv(0, q * np.maximum(r, radius)) / (math.pi * radius * plate.square * q)
    return np.asarray(np.where(r < radius, inside, outside))


def wave_watts(swing: Wave, use: NDArray[np.bool_], at: Sequence[tuple[float, float]], hertz: float, plate: Plate,
               metre: float, noise: float) -> tuple[float, ...]:  # fmt: skip
    """Amplitude of the power of each source; nothing for what is mirrored. [W]

    Parameters
    ----------
    swing : ndarray of complex, shape (h, w)
        [K]
    use : ndarray of bool, shape (h, w)
        Pixels that are to be trusted.
    at : sequence of (float, float)
        Column and row of each source. [px]
    metre : float
        Side of a pixel on the board. [m]
    noise : float
        Standard deviation of either part of a pixel's complex amplitude. [K]
    """
    rows, columns = np.mgrid[0 : swing.shape[0], 0 : swing.shape[1]]
    away = [np.hypot(columns - x, rows - y) * metre for x, y in at]
    heat = list(range(len(at)))
    watts = np.zeros(len(at), dtype=complex)
    while heat:
        watts[:] = 0.0
        near = use & (np.min([away[n] for n in heat], axis=0) < REACH)
        if near.sum() <= len(heat) + 1:
            return (0.0,) * len(at)
        fit = _fitted(swing[near], [away[n][near] for n in heat], hertz, plate, noise)
        watts[heat] = fit.watts
        worst = _mirrored(fit, [away[n][near] for n in heat], [at[n] for n in heat], metre, noise)
        if worst is None:
            break
        watts[heat[worst]] = 0.0
        heat.pop(worst)
    together = complex((watts * np.abs(watts)).sum())
    turned = watts * (together.conjugate() / max(abs(together), 1e-300))
    return tuple(float(max(w, 0.0)) for w in turned.real)


@dataclass(frozen=True, eq=False)
class _Fit:
    """Sources whose waves explain what swings.

    Parameters
    ----------
    left : float
        Squares left over. [K²]
    watts : ndarray of complex, shape (n,)
        [W]
    waves : ndarray of complex, shape (m, n)
        What each does to each pixel. [K]
    missed : ndarray of complex, shape (m,)
        What is left in each pixel. [K]
    """

    left: float
    watts: Wave
    waves: Wave
    missed: Wave


def _mirrored(
    fit: _Fit, off: list[Array], at: list[tuple[float, float]], metre: float, noise: float
) -> int | None:
    """The source that is least like heat, where there is one that is none.

    A large mirrored thing is fitted by several sources that make up for each other, so they are judged together first.
    """
    worst: tuple[float, list[int]] = (0.0, [])
    for k in range(len(at)):
        beside = [j for j in range(len(at)) if math.dist(at[j], at[k]) * metre < 2.0 * MIRROR_REACH]
        lagging = _lagging(fit, beside, np.min([off[j] for j in beside], axis=0), noise)
        if lagging < worst[0]:
            worst = lagging, beside
    alone = [(_lagging(fit, [k], off[k], noise), k) for k in worst[1]]
    return min(alone)[1] if alone else None


def _lagging(fit: _Fit, which: list[int], r: Array, noise: float) -> float:
    """How much better sources are explained by waves than by something mirrored, as a logarithm of odds. [nat]

    A mirror brightens everywhere at once: turned by one phase, nothing of it is left in quadrature, whatever its
    shape. Heat lags the more the farther it has gone.
    """
    here = r < MIRROR_REACH
    wave = fit.waves[here][:, which].sum(axis=1)
    own = wave + fit.missed[here]
    together = complex((own * np.abs(own)).sum())
    back = together.conjugate() / max(abs(together), 1e-300)
    at_once, as_wave = (own * back).imag, ((own - wave) * back).imag
    # `noise` is that of either part of a pixel's complex amplitude.
    return float(at_once @ at_once - as_wave @ as_wave) / (2.0 * max(noise, 1e-12) ** 2)


def _fitted(seen: Wave, off: list[Array], hertz: float, plate: Plate, noise: float) -> _Fit:
    best: tuple[float, _Fit] | None = None
    for spread in SPREADS:
        carrying = Plate(plate.square * math.exp(spread * plate.factor), plate.loss, plate.capacity, plate.factor)
        fit = _best_sizes(_waves(carrying, hertz), off, seen)
        worth = fit.left / max(noise, 1e-12) ** 2 + spread**2
        if best is None or worth < best[0]:
            best = worth, fit
    assert best is not None
    return best[1]


def _waves(plate: Plate, hertz: float) -> list[tuple[Array, Wave]]:
    r = np.concatenate((np.linspace(0.0, REACH, 200), np.linspace(REACH * 1.02, 15.0 * REACH, 200)))
    return [(r, disc_wave(plate, r, hertz, radius)) for radius in RADII]


def _best_sizes(waves: list[tuple[Array, Wave]], off: list[Array], seen: Wave) -> _Fit:
    """Least squares, with the size of each source chosen in turn."""
    shapes = [[np.interp(r, at, wave) for at, wave in waves] for r in off]
    chosen = [len(waves) // 2] * len(off)
    best = _solved([s[k] for s, k in zip(shapes, chosen, strict=True)], seen)
    for _ in range(3):
        before = best.left
        for n in range(len(off)):
            for size in range(len(waves)):
                trial = [*chosen[:n], size, *chosen[n + 1 :]]
                found = _solved([s[k] for s, k in zip(shapes, trial, strict=True)], seen)
                if found.left < best.left:
                    best, chosen = found, trial
        if best.left >= before * (1.0 - 1e-6):
            break
    return best


def _solved(columns: list[Wave], seen: Wave) -> _Fit:
    # What swings evenly over the picture is no part's heat.
    design = np.stack([*columns, np.ones(seen.shape, dtype=complex)], axis=1)
    solved, *_ = np.linalg.lstsq(design, seen, rcond=None)
    missed = seen - design @ solved
    watts = np.asarray(solved[:-1], dtype=complex)
    return _Fit(float(np.vdot(missed, missed).real), watts, design[:, :-1] * watts, missed)
