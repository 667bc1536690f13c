"""``python -m benchmarks.heat [N [SEED]]``: do the stated probabilities of thermal pictures hold?

Scenes come from `benchmarks.heat_scenes`. For the strongest spot of each: how often the parts that are named with so
much together hold the one that is warm there, how often what is said with such a probability is so, how often a
reflection is taken for heat, what the balance of power says; and a weak fault in single pictures against lock-in.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from benchmarks.heat_scenes import Scene, Wishes, scene
from ohmwright.circuit import BoardState, Feed
from ohmwright.errors import DataError
from ohmwright.facts import Facts
from ohmwright.usecases.heat_picture import BALANCED, HeatSeen, HotSpot, heat_rise, heat_seen

FED = Facts(state=BoardState(feed=Feed("V33", "GND", 0.5, 2.0)))
BINS = (0.0, 0.05, 0.2, 0.5, 0.8, 0.95, 1.0001)
NEAR_MM = 6.0
"""A spot further than that from everything warm is no heat of the board. [mm]"""


@dataclass(frozen=True, slots=True)
class Told:
    """What was said of the strongest spot of one scene, and what was so."""

    shares: tuple[tuple[str, float], ...]
    truth: str
    """The part; `elsewhere` where it is not on the map; `nothing` for no heat at all; empty where no spot was found."""
    ratio: float
    off_mm: float
    kelvin: float


def looked(one: Scene, third: bool = True) -> HeatSeen:
    """The pictures read as a user's are."""
    if one.frames is not None:
        series = one.frames.astype(np.float32)
        rise = heat_rise(series, series, hertz=one.hertz, rate=one.rate)
    else:
        before, during, after = (taken.astype(np.float32) for taken in (one.before, one.during, one.after))
        rise = heat_rise(before, during, after if third else None)
    return heat_seen(one.board, FED, rise, one.pairs, "top", one.watts)


def told(one: Scene, third: bool = True) -> Told:
    """What is said of the strongest spot, and what is so."""
    seen = looked(one, third)
    ratio = seen.seen_watts / one.watts
    if not seen.spots:
        return Told((), "", ratio, math.nan, 0.0)
    spot = seen.spots[0]
    shares = tuple((part.name, part.probability) for part in spot.parts)
    name, off = _nearest(one, spot)
    known = {part.name for part in one.board.parts}
    truth = "nothing" if off > NEAR_MM else name if name in known else "elsewhere"
    return Told((*shares, ("elsewhere", spot.elsewhere)), truth, ratio, off, spot.kelvin)


def _nearest(one: Scene, spot: HotSpot) -> tuple[str, float]:
    off = {name: math.hypot(spot.x_mm - x, spot.y_mm - y) for name, (x, y) in one.shown.items()}
    name = min(off, key=lambda n: off[n])
    return name, off[name]


def named(all_told: Iterable[Told], level: float) -> float:
    """How often the shortest list of parts that is said to hold the warm one with that probability does."""
    held = []
    for one in (t for t in all_told if t.truth not in ("", "nothing")):
        total, inside = 0.0, False
        for name, share in sorted(one.shares, key=lambda item: -item[1]):
            inside = inside or name == one.truth
            total += share
            if total >= level:
                break
        held.append(inside)
    return float(np.mean(held)) if held else math.nan


def reliability(all_told: Iterable[Told]) -> list[tuple[float, float, int]]:
    """Mean probability said, share that was so, and how many, in each bin."""
    judged = [one for one in all_told if one.truth not in ("", "nothing")]
    said = [(share, name == one.truth) for one in judged for name, share in one.shares]
    p, so = np.array([s for s, _ in said]), np.array([t for _, t in said], dtype=float)
    out = []
    for low, high in pairwise(BINS):
        here = (p >= low) & (p < high)
        if here.any():
            out.append((float(p[here].mean()), float(so[here].mean()), int(here.sum())))
    return out


def told_of(n: int, seed: int, wishes: Wishes, third: bool = True) -> list[Told]:
    """Scenes read one after the other."""
    out = []
    for k in range(n):
        try:
            out.append(told(scene(seed + k, wishes), third))
        except DataError as error:
            print(f"scene {seed + k}: {error}")
    return out


def summary(words: str, all_told: list[Told]) -> str:
    """One line."""
    n = len(all_told)
    found = [t for t in all_told if t.truth]
    right = np.mean([t.truth == max(t.shares, key=lambda s: s[1])[0] for t in found]) if found else math.nan
    ratio = np.array([t.ratio for t in found])
    false = sum(t.truth == "nothing" for t in all_told)
    return (
        f"{words}: n = {n}, spot found {len(found) / n:.3f}, no heat at all {false / n:.3f}, "
        f"likeliest is right {right:.3f}, held by the 90 % list {named(all_told, 0.9):.3f}, by the 95 % list "
        f"{named(all_told, 0.95):.3f}; seen over fed {np.median(ratio):.2f} "
        f"({np.quantile(ratio, 0.05):.2f} to {np.quantile(ratio, 0.95):.2f}), called balanced "
        f"{np.mean((ratio >= BALANCED[0]) & (ratio <= BALANCED[1])):.3f}"
    )


def main() -> None:
    """Print a line for each kind of scene."""
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 20261127
    usual = told_of(n, seed, Wishes())
    print(summary("off, on, off again", usual), flush=True)
    for said, so, count in reliability(usual):
        print(f"  said {said:.3f}, so {so:.3f} ({count})", flush=True)
    print(summary("off and on only", told_of(n // 3, seed, Wishes(), third=False)), flush=True)
    weak = Wishes(watts=(0.01, 0.06), carrier=0.0, unmapped=0.0)
    print(summary("weak, off, on, off again", told_of(n // 3, seed, weak)), flush=True)
    print(summary("weak, lock-in", told_of(n // 3, seed, replace(weak, series=True))), flush=True)
    lost = Wishes(hidden=0.5, unmapped=0.0, carrier=1.0)
    print(summary("half of the parts out of sight", told_of(n // 3, seed, lost)), flush=True)


if __name__ == "__main__":
    main()
