"""From millivolts along copper to where the current leaves it, with the error that belongs to it.

Every piece of the copper is weighed by how likely the readings are with the sink there; pieces that matter
are split until the answer is smooth.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import special

from ohmwright.errors import ReadingError
from ohmwright.facts.gradient import Gradient
from ohmwright.fields.layout import Cells, Layout, Seen, layout_of
from ohmwright.fields.likelihood import Fit, fitted, screened
from ohmwright.fields.network import Array

COARSE, MOST_CELLS, ENOUGH = 1200, 1000, 120
NEAR = 12.0
"""Pieces are split while they are no further below the best than this. [nat]"""
ROUNDS = 8
LEVEL = 0.95


@dataclass(frozen=True, eq=False)
class Bench:
    """The readings on their copper, ready to be asked about any place of the sink."""

    gradient: Gradient
    layout: Layout

    @cached_property
    def places(self) -> Array:
        """Where red stood, shape (m, 2). [mm]"""
        return self.layout.nearest(np.array([p.where for p in self.gradient.points]).reshape(-1, 2))

    @cached_property
    def volts(self) -> Array:
        """Shape (m,). [V]"""
        return np.array([p.volts for p in self.gradient.points])

    @cached_property
    def _probes(self) -> tuple[Array, ...]:
        pairs = self.layout.around(self.places, math.sqrt(3.0) * max(self.gradient.contact_mm, 0.01))
        return (self.places, *(one for pair in pairs for one in pair))

    @cached_property
    def _source(self) -> Array:
        return self.layout.nearest(np.array([self.gradient.source]))

    @cached_property
    def _black(self) -> Array | None:
        black = self.gradient.black
        return None if black is None else self.layout.nearest(np.array([black]))

    @cached_property
    def _taps(self) -> Array:
        extra = () if self._black is None else (self._black,)
        return np.concatenate((self._source, *self._probes, *extra))

    @cached_property
    def _seen(self) -> tuple[Seen, Array]:
        seen = self.layout.seen_from(self._taps)
        return seen, seen.response(self._source)[:, 0]

    @cached_property
    def _seen_coarser(self) -> tuple[tuple[Seen, Array], ...]:
        """The probes where they are said to be, and black, on the coarser grids."""
        probes = self.places if self._black is None else np.concatenate((self.places, self._black))
        seen = tuple(coarse.seen_from(probes) for coarse in self.layout.coarser)
        return tuple((one, one.response(self._source)[:, 0]) for one in seen)

    def _between(self, rise: Array) -> Array:
        """Squares between the probes, from how far each is up; of the last row where black stands on the copper."""
        m = len(self.places)
        return rise[:m] - (0.0 if self._black is None else rise[-1])

    def fine(self, sinks: Array) -> Array:
        """Squares between the probes of each reading where they are said to be, shape (m, n). [1]"""
        return self._between(self._rise(sinks)[1:])

    def missed(self, sinks: Array) -> Array:
        """What the grid misses of each reading, squared, shape (m, n): about what coarser grids differ by. [1]

        Where no current flows there is nothing to miss. One figure for all readings, as it was, made a dead stretch
        behind a neck that is read seven times speak for a sheet that has next to no resistance.
        """
        return self._missed(sinks, self._rise(sinks))

    def _rise(self, sinks: Array) -> Array:
        """Squares at each tap with one ampere from the source to each place of the sink, shape (taps, n)."""
        seen, from_source = self._seen
        return from_source[:, None] - seen.response(sinks)

    def _missed(self, sinks: Array, rise: Array) -> Array:
        fine, out = self._between(rise[1:]), np.zeros((len(self.places), len(sinks)))
        for seen, from_source in self._seen_coarser:
            out += (self._between(from_source[:, None] - seen.response(sinks)) - fine) ** 2
        return out / max(len(self._seen_coarser), 1)

    def squares(self, sinks: Array) -> tuple[Array, Array]:
        """Squares between each reading's probes as the current sees them, and how they vary with where red stands.

        A probe is somewhere near the point it is said to be at: mean and variance are taken over three
        points along each direction (Gauss-Hermite), so that the bend at the sink itself is not missed.

        Parameters
        ----------
        sinks : ndarray, shape (n, 2)
            [mm]

        Returns
        -------
        k : ndarray, shape (m, n)
        spread : ndarray, shape (m, n)
            Squared. [1]
        """
        rise = self._rise(sinks)
        m = len(self.places)
        parts = [rise[1 + n * m : 1 + (n + 1) * m] for n in range(len(self._probes))]
        mean, spread = parts[0].copy(), self._missed(sinks, rise)
        for n in range(1, len(parts), 2):
            below, above = parts[n] - parts[0], parts[n + 1] - parts[0]
            shift = (below + above) / 6.0
            mean += shift
            spread += (below**2 + above**2) / 6.0 - shift**2
        return mean - (0.0 if self._black is None else rise[-1]), spread

    def fit(self, sinks: Array) -> Fit:
        """How well each place of the sink, shape (n, 2), explains the readings. [mm]"""
        k, spread = self.squares(sinks)
        return fitted(math.copysign(1.0, self.gradient.current) * k, spread, self.volts, self.gradient)

    def _over(self, cells: Cells) -> tuple[Array, Array]:
        """Squares and their variance with the sink somewhere in each piece."""
        k, spread = self.squares(cells.at)
        for step in self._steps(cells.half):
            apart = self.squares(cells.at + step)[0] - self.squares(cells.at - step)[0]
            spread = spread + apart**2 / 12.0
        return math.copysign(1.0, self.gradient.current) * k, spread

    def screen(self, cells: Cells) -> Array:
        """Roughly how likely the sink is in each piece, as a logarithm."""
        return screened(*self._over(cells), self.volts, self.gradient) + np.log(cells.measure)

    def fit_over(self, cells: Cells) -> Fit:
        """How well a sink somewhere in each piece explains the readings."""
        return fitted(*self._over(cells), self.volts, self.gradient)

    def _steps(self, half: Array) -> tuple[Array, ...]:
        if self.layout.dimensions == 1:
            return (half,)
        return half * np.array([1.0, 0.0]), half * np.array([0.0, 1.0])


@dataclass(frozen=True, eq=False)
class Pointing:
    """Where the current leaves the copper.

    Parameters
    ----------
    bench : Bench
    cells : Cells
        Pieces of the copper, fine where it matters.
    probability : ndarray, shape (n,)
        Of each; they sum to one.
    fit : Fit
    """

    bench: Bench
    cells: Cells
    probability: Array
    fit: Fit

    @cached_property
    def mean(self) -> Array:
        """Middle of where it may be, on the copper. [mm]"""
        return np.asarray(self.probability @ self.cells.at)

    @cached_property
    def best(self) -> Array:
        """The likeliest place. [mm]"""
        return np.asarray(self.cells.at[int(np.argmax(self.density))])

    @cached_property
    def density(self) -> Array:
        """Logarithm of probability per area or length, shape (n,), up to a constant."""
        return self.fit.log_likelihood

    @cached_property
    def _floor(self) -> float:
        order = np.argsort(-self.density, kind="stable")
        held = np.cumsum(self.probability[order])
        # On a branch without a reading all places are alike, but for rounding.
        return float(self.density[order[min(int(np.searchsorted(held, LEVEL)), len(order) - 1)]]) - 1e-6

    @cached_property
    def region(self) -> Array:
        """Which cells make up the smallest part of the copper that holds 95 %, shape (n,)."""
        return np.asarray(self.density >= self._floor)

    @property
    def extent(self) -> float:
        """Area or length of that part. [mm²] or [mm]"""
        return float(self.cells.measure[self.region].sum())

    @property
    def radius_mm(self) -> float:
        """Of a circle as large, or half of a length as long."""
        return math.sqrt(self.extent / math.pi) if self.bench.layout.dimensions == 2 else self.extent / 2.0

    @cached_property
    def covariance(self) -> Array:
        """Shape (2, 2). [mm²]"""
        off = self.cells.at - self.mean
        within = (self.cells.half**2 / 3.0 * self.probability[:, None]).sum(axis=0)
        return np.asarray((off * self.probability[:, None]).T @ off + np.diag(within + 1e-9))

    @cached_property
    def ellipse(self) -> tuple[float, float, float]:
        """Half axes of the ellipse about the mean that holds 95 %, and the angle of the longer one. [mm], [deg]"""
        size, axes = np.linalg.eigh(self.covariance)
        off = (self.cells.at - self.mean) @ axes / np.sqrt(size)
        distance = np.hypot(*off.T)
        order = np.argsort(distance, kind="stable")
        held = np.cumsum(self.probability[order])
        scale = float(distance[order[min(int(np.searchsorted(held, LEVEL)), len(order) - 1)]])
        long, short = scale * math.sqrt(size[1]), scale * math.sqrt(size[0])
        return long, short, math.degrees(math.atan2(axes[1, 1], axes[0, 1]))

    def in_ellipse(self, at: tuple[float, float]) -> bool:
        """Whether a place lies in it. [mm]"""
        long, short, angle = self.ellipse
        x, y = np.array(at) - self.mean
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        return bool(((c * x + s * y) / long) ** 2 + ((c * y - s * x) / max(short, 1e-9)) ** 2 <= 1.0)

    def holds(self, at: tuple[float, float]) -> bool:
        """Whether a place lies in the smallest part that holds 95 %. [mm]"""
        return bool(self.bench.fit(np.array([at])).log_likelihood[0] >= self._floor)

    @cached_property
    def log_evidence(self) -> float:
        """Log likelihood of the readings where the sink may be anywhere on the copper."""
        shown = self.fit.log_likelihood + np.log(self.cells.measure / self._whole)
        return float(np.logaddexp.reduce(shown))

    @cached_property
    def _whole(self) -> float:
        return float(self.bench.layout.cells(COARSE).measure.sum())

    def log_ratio(self, at: Array) -> Array:
        """How much better a sink at each place, shape (n, 2) [mm], explains the readings than one anywhere. [nat]"""
        return np.asarray(self.bench.fit(at).log_likelihood - self.log_evidence)

    @cached_property
    def square_ohms(self) -> tuple[float, float]:
        """What a square has after all, and its standard deviation. [Ω]"""
        current = abs(self.bench.gradient.current)
        mean = float(self.probability @ self.fit.theta)
        second = float(self.probability @ (self.fit.theta**2 + self.fit.theta_sd**2))
        return mean / current, math.sqrt(max(second - mean**2, 0.0)) / current

    @property
    def _spare(self) -> int:
        """Readings beyond what is solved for. [1]"""
        return len(self.bench.volts) - 1 - self.bench.layout.dimensions - (self.bench.gradient.black is None)

    @property
    def strain(self) -> float:
        """How much worse the readings fit than they should, where that is plain; else 1. [1]"""
        return max(float(self.fit.misfit.min()) / self._spare, 1.0) if self.odds_of_fit < 0.01 else 1.0

    @cached_property
    def odds_of_fit(self) -> float:
        """How often readings would fit no better than these if the copper is as drawn; near 0: it is not. [1]"""
        spare = self._spare
        if spare < 1:
            return 1.0
        return float(special.gammaincc(spare / 2.0, float(self.fit.misfit.min()) / 2.0))


def pointing_of(gradient: Gradient) -> Pointing:
    """Weigh every piece of the copper by the readings.

    Raises
    ------
    ReadingError
        If there are too few readings to say anything.
    """
    if len(gradient.points) < 2:
        raise ReadingError(
            f"{len(gradient.points)} readings along the copper.",
            why="one number has no direction",
            hint="read at two points or more, far apart",
        )
    return weighed(Bench(gradient, layout_of(gradient.copper)))


def weighed(bench: Bench) -> Pointing:
    """Weigh pieces of the copper, and split those that matter until the answer is smooth."""
    layout = bench.layout
    cells = layout.cells(COARSE if layout.dimensions == 2 else COARSE // 4)
    for turn in range(ROUNDS):
        worth = bench.screen(cells)
        order = np.argsort(-worth, kind="stable")
        share = np.exp(worth[order] - worth[order[0]])
        holding = int(np.searchsorted(np.cumsum(share), LEVEL * share.sum())) + 1
        near = int((worth >= worth[order[0]] - NEAR).sum())
        kept = order[: min(max(near, 40), MOST_CELLS)]
        cells = cells.chosen(np.sort(kept))
        if holding > ENOUGH or turn == ROUNDS - 1 or float(cells.half.max()) < 0.01:
            break
        cells = layout.split(cells)
    fit = bench.fit_over(cells)
    worth = fit.log_likelihood + np.log(cells.measure)
    share = np.exp(worth - worth.max())
    return Pointing(bench, cells, np.asarray(share / share.sum()), fit)
