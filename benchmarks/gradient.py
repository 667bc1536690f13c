"""``python -m benchmarks.gradient [N [SEED]]``: how often the stated error of a millivolt trace holds the truth.

The sink, the points, what a square has, where the probe really stands, and the warm contact are drawn from what
the reckoning assumes; the display rounds. Seeds are fixed before anything is run.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from ohmwright.facts import CopperShape, Gradient, GradientPoint
from ohmwright.fields.layout import Layout, layout_of
from ohmwright.fields.network import Array
from ohmwright.fields.pointing import pointing_of
from ohmwright.fields.tracks import chain


@dataclass(frozen=True, slots=True)
class Copper:
    """One copper, how it is fed and read. [mm], [A], [V]"""

    shape: CopperShape
    source: tuple[float, float]
    black: tuple[float, float]
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


COPPERS = {
    "traces": Copper(
        CopperShape(
            (
                *chain([(0, 0), (60, 0), (60, 40)], 1.0),
                *chain([(30, 0), (30, 30), (10, 30)], 0.5),
                *chain([(60, 20), (90, 20)], 2.0),
            )
        ),
        (0.0, 0.0), (0.0, 0.0), 1.0, 1e-4, 8,
    ),
    "plane": Copper(
        CopperShape(outline=((0.0, 0.0), (200.0, 0.0), (200.0, 150.0), (0.0, 150.0))),
        (10.0, 10.0), (150.0, 20.0), 5.0, 1e-4, 16,
    ),
    "drawn copper": Copper(
        CopperShape(
            outline=((0.0, 0.0), (80.0, 0.0), (80.0, 30.0), (40.0, 30.0), (40.0, 60.0), (0.0, 60.0)),
            holes=(((10.0, 10.0), (20.0, 10.0), (20.0, 20.0), (10.0, 20.0)),),
        ),
        (70.0, 10.0), (75.0, 25.0), 3.0, 1e-5, 10,
    ),
}  # fmt: skip


def trials(copper: Copper, n: int, seed: int) -> Held:
    """How often the truth is held in n trials."""
    chance = np.random.default_rng(seed)
    held = []
    for _ in range(n):
        gradient, truth = invented(copper, chance)
        found = pointing_of(gradient)
        at = (float(truth[0]), float(truth[1]))
        held.append((found.holds(at), found.in_ellipse(at), found.radius_mm, float(np.hypot(*(found.mean - truth)))))
    region, ellipse, radius, error = np.array(held, dtype=float).T
    return Held(
        float(region.mean()), float(ellipse.mean()), float(np.median(radius)), float(np.median(error)),
        float(np.quantile(error, 0.9)),
    )  # fmt: skip


def invented(copper: Copper, chance: np.random.Generator, contact_mm: float = 0.3) -> tuple[Gradient, Array]:
    """Readings for a sink drawn by chance, and where it is."""
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
    square = copper.shape.square_ohms * np.exp(copper.shape.log_sd * chance.normal())
    volts = copper.current * square * (rise[:-1] - rise[-1]) + chance.normal(0.0, 5e-6)
    shown = np.round(volts / copper.step) * copper.step
    points = tuple(GradientPoint(float(x), float(y), float(v)) for (x, y), v in zip(told, shown, strict=True))
    gradient = Gradient(
        "V12", copper.shape, copper.source, copper.current, points, copper.black, copper.step, contact_mm
    )
    return gradient, np.asarray(truth)


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
    for name, copper in COPPERS.items():
        held = trials(copper, n, seed=seed)
        print(
            f"{name}: n = {n}, seed {seed}, in the region {held.region:.3f}, in the ellipse {held.ellipse:.3f}; "
            f"radius {held.radius_mm:.2f} mm, error {held.error_mm:.2f} mm, 90 % under {held.error_90_mm:.2f} mm",
            flush=True,
        )


if __name__ == "__main__":
    main()
