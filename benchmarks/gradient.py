"""``python -m benchmarks.gradient [N [SEED]]``: how often the stated error of a millivolt trace holds the truth.

The sink, the points, what a square has, where the probe really stands, and the warm contact are drawn from what
the reckoning assumes; the display rounds. How current spreads over an area is not: readings on planes and drawn
copper come from `benchmarks.copper_truth`, finite elements that share nothing with the program and are finer than
its grid. Seeds are fixed before anything is run.
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from benchmarks.copper_truth import Elements
from ohmwright.facts import CopperShape, Gradient, GradientPoint
from ohmwright.fields.layout import Layout, layout_of
from ohmwright.fields.network import Array
from ohmwright.fields.pointing import pointing_of
from ohmwright.fields.tracks import chain

Spot = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Copper:
    """One copper, how it is fed and read. [mm], [A], [V]"""

    shape: CopperShape
    source: Spot
    black: Spot
    current: float
    step: float
    points: int


@dataclass(frozen=True, slots=True)
class Held:
    """Share of trials that held the truth; radius and errors in millimetres."""

    region: float
    ellipse: float
    radius_mm: float
    error_mm: float
    error_90_mm: float
    doubted: float
    """Share of trials in which the readings were said not to fit the copper. [1]"""


def _box(width: float, height: float) -> tuple[Spot, ...]:
    return (0.0, 0.0), (width, 0.0), (width, height), (0.0, height)


def _round(x: float, y: float, radius: float) -> tuple[Spot, ...]:
    return tuple((x + radius * math.cos(k * math.pi / 12), y + radius * math.sin(k * math.pi / 12)) for k in range(24))


def _slot(x: float, y: float, width: float, height: float) -> tuple[Spot, ...]:
    return tuple((x + u, y + v) for u, v in _box(width, height))


TREE = CopperShape(
    (
        *chain([(0, 0), (60, 0), (60, 40)], 1.0),
        *chain([(30, 0), (30, 30), (10, 30)], 0.5),
        *chain([(60, 20), (90, 20)], 2.0),
    )
)
ELL = ((0.0, 0.0), (80.0, 0.0), (80.0, 30.0), (40.0, 30.0), (40.0, 60.0), (0.0, 60.0))
SLANTED = ((0.0, 8.0), (14.0, 0.0), (70.0, 3.0), (86.0, 26.0), (64.0, 52.0), (22.0, 47.0), (3.0, 33.0))
NECKED = ((0.0, 0.0), (30.0, 0.0), (30.0, 13.0), (42.0, 13.0), (42.0, 0.0), (80.0, 0.0), (80.0, 40.0), (42.0, 40.0),
          (42.0, 17.0), (30.0, 17.0), (30.0, 40.0), (0.0, 40.0))  # fmt: skip
COPPERS = {
    "traces": (Copper(TREE, (0.0, 0.0), (0.0, 0.0), 1.0, 1e-4, 8),),
    "planes": (
        Copper(CopperShape(outline=_box(200.0, 150.0)), (10.0, 10.0), (150.0, 20.0), 5.0, 1e-4, 16),
        Copper(CopperShape(outline=_box(100.0, 60.0)), (5.0, 30.0), (90.0, 55.0), 3.0, 1e-5, 10),
        Copper(CopperShape(outline=_box(60.0, 60.0)), (55.0, 5.0), (5.0, 55.0), 2.0, 1e-4, 12),
        Copper(CopperShape(outline=_box(120.0, 25.0)), (4.0, 4.0), (115.0, 20.0), 3.0, 1e-6, 8),
    ),
    "drawn copper": (
        Copper(CopperShape(outline=ELL, holes=(_slot(10.0, 10.0, 10.0, 10.0),)), (70.0, 10.0), (75.0, 25.0), 3.0, 1e-5,
               10),
        Copper(CopperShape(outline=SLANTED, holes=(_round(24.0, 20.0, 5.0), _round(52.0, 34.0, 7.0))), (75.0, 20.0),
               (20.0, 40.0), 3.0, 1e-5, 10),
        Copper(CopperShape(outline=_box(70.0, 50.0), holes=(_slot(12.0, 15.0, 46.0, 1.5), _slot(0.5, 31.0, 50.0, 1.2))),
               (5.0, 5.0), (60.0, 45.0), 3.0, 1e-5, 12),
        Copper(CopperShape(outline=NECKED), (5.0, 5.0), (75.0, 35.0), 2.0, 1e-6, 8),
        Copper(CopperShape(outline=_box(70.0, 60.0), holes=(_slot(12.0, 14.0, 45.0, 30.0),)), (5.0, 55.0), (65.0, 5.0),
               3.0, 1e-4, 12),
    ),
}  # fmt: skip


def trials(coppers: tuple[Copper, ...], n: int, seed: int) -> Held:
    """How often the truth is held in n trials, shared out over some coppers."""
    chance = np.random.default_rng(seed)
    held = []
    for k in range(n):
        copper = coppers[k * len(coppers) // n]
        gradient, truth = invented(copper, chance) if copper.shape.runs else invented_area(copper, chance)
        found = pointing_of(gradient)
        at = (float(truth[0]), float(truth[1]))
        off = float(np.hypot(*(found.mean - truth)))
        held.append((found.holds(at), found.in_ellipse(at), found.radius_mm, off, found.odds_of_fit < 0.01))
    region, ellipse, radius, error, doubted = np.array(held, dtype=float).T
    return Held(
        float(region.mean()), float(ellipse.mean()), float(np.median(radius)), float(np.median(error)),
        float(np.quantile(error, 0.9)), float(doubted.mean()),
    )  # fmt: skip


@lru_cache(maxsize=1)
def _elements(shape: CopperShape) -> Elements:
    area = abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(shape.outline, (*shape.outline[1:], shape.outline[0]),
                                                             strict=True))) / 2.0  # fmt: skip
    return Elements(shape.outline, shape.holes, min(max((area / 40_000.0) ** 0.5, 0.25), 0.8))


def invented_area(copper: Copper, chance: np.random.Generator, contact_mm: float = 0.3) -> tuple[Gradient, Array]:
    """Readings on an area for a sink drawn by chance, from finite elements, and where it is."""
    real = _elements(copper.shape)
    truth = real.drawn(chance, 1)[0]
    told = real.drawn(chance, copper.points)
    stood = told + chance.normal(0.0, contact_mm, told.shape)
    while not (on := real.inside(stood)).all():
        stood[~on] = told[~on] + chance.normal(0.0, contact_mm, (int((~on).sum()), 2))
    rise = real.volts(np.array(copper.source), truth, np.concatenate((stood, [copper.black])))
    return _shown(copper, told, rise, contact_mm, chance), truth


def invented(copper: Copper, chance: np.random.Generator, contact_mm: float = 0.3) -> tuple[Gradient, Array]:
    """Readings on traces for a sink drawn by chance, and where it is."""
    layout = layout_of(copper.shape)
    cells = layout.cells(5000)
    share = cells.measure / cells.measure.sum()
    pick = chance.choice(len(share), p=share)
    shift = chance.uniform(-1.0, 1.0, 2 if layout.dimensions == 2 else 1)
    truth = cells.at[pick] + cells.half[pick] * shift
    told = layout.nearest(cells.at[chance.choice(len(share), copper.points, replace=False, p=share)])
    real = _slipped(layout, told, contact_mm, chance)
    ends, black = np.array([copper.source, truth]), layout.nearest(np.array([copper.black]))
    rise = np.subtract(*layout.seen_from(ends).response(np.concatenate((real, black))))
    return _shown(copper, told, rise, contact_mm, chance), np.asarray(truth)


def _shown(copper: Copper, told: Array, rise: Array, contact_mm: float, chance: np.random.Generator) -> Gradient:
    """What the meter shows of a rise in squares, the last of which is under the black probe."""
    square = copper.shape.square_ohms * np.exp(copper.shape.log_sd * chance.normal())
    volts = copper.current * square * (rise[:-1] - rise[-1]) + chance.normal(0.0, 5e-6)
    shown = np.round(volts / copper.step) * copper.step
    points = tuple(GradientPoint(float(x), float(y), float(v)) for (x, y), v in zip(told, shown, strict=True))
    return Gradient("V12", copper.shape, copper.source, copper.current, points, copper.black, copper.step, contact_mm)


def _slipped(layout: Layout, told: Array, contact_mm: float, chance: np.random.Generator) -> Array:
    if layout.dimensions == 2:
        return layout.nearest(told + chance.normal(0.0, contact_mm, told.shape))
    low, high = layout.around(told, 1.0)[0]
    along = (high - low) / np.maximum(np.hypot(*(high - low).T), 1e-9)[:, None]
    return layout.nearest(told + along * chance.normal(0.0, contact_mm, (len(told), 1)))


def main() -> None:
    """Print a line for each copper."""
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 20261125
    for name, coppers in COPPERS.items():
        if len(coppers) > 1:
            for k, one in enumerate(coppers, 1):
                _say(f"{name} {k}", trials((one,), n // len(coppers), seed + k), n // len(coppers), seed + k)
        else:
            _say(name, trials(coppers, n, seed), n, seed)


def _say(name: str, held: Held, n: int, seed: int) -> None:
    print(
        f"{name}: n = {n}, seed {seed}, in the region {held.region:.3f}, in the ellipse {held.ellipse:.3f}; "
        f"radius {held.radius_mm:.2f} mm, error {held.error_mm:.2f} mm, 90 % under {held.error_90_mm:.2f} mm, "
        f"doubted {held.doubted:.3f}",
        flush=True,
    )


if __name__ == "__main__":
    main()
