"""Boards made up from a seed, so that pictures of known geometry can be had in any number."""

from __future__ import annotations

import numpy as np

from ohmwright.circuit import Board, Net, Part, Pin, Place
from ohmwright.geometry import pad_centres, part_pattern

SMALL = [
    *(("capacitor", p) for p in ("0402", "0603", "0805", "1206")), *(("resistor", p) for p in ("0402", "0603", "0805")),
]  # fmt: skip
LARGE = [
    ("ic", "SOIC-8", 8), ("ic", "TSSOP-16", 16), ("ic", "QFN-16", 17), ("ic", "QFN-32", 33), ("ic", "LQFP-48", 48),
    ("fet-n", "SOT-23", 3), ("ic", "SOT-23-5", 5), ("ic", "SOT-23-6", 6), ("ic", "MSOP-8", 8), ("ic", "DFN-8", 9),
]  # fmt: skip


def made_board(seed: int, *, width: float = 60.0, height: float = 42.0, large: int = 9, small: int = 40) -> Board:
    """A board of that many chips and small parts, at random where they do not lie on each other."""
    random = np.random.default_rng(seed)
    parts: list[Part] = []
    taken: list[tuple[float, float, float]] = []
    for n in range(large + small):
        if n < large:
            kind, package, count = LARGE[int(random.integers(len(LARGE)))]
            name = f"U{n + 1}"
        else:
            kind, package = SMALL[int(random.integers(len(SMALL)))]
            count, name = 2, f"X{n + 1}"
        pins = tuple(Pin(str(i + 1), f"N{int(random.integers(12))}") for i in range(count))
        angle = float(random.choice([0, 90, 180, 270])) if random.random() < 0.9 else float(random.integers(360))
        for _ in range(60):
            place = Place(float(random.uniform(4, width - 4)), float(random.uniform(4, height - 4)), "top", 0, 0, angle)
            part = Part(name, kind, pins, package=package, place=place)
            reach = 0.3 + max(
                max(np.hypot(p.x_mm - place.x_mm, p.y_mm - place.y_mm) for p in pad_centres(part)) + 0.4,
                max(part_pattern(part).body_mm) * 0.72,
            )
            inside = reach < min(place.x_mm, place.y_mm, width - place.x_mm, height - place.y_mm)
            if inside and all(np.hypot(place.x_mm - x, place.y_mm - y) > reach + r for x, y, r in taken):
                parts.append(part)
                taken.append((place.x_mm, place.y_mm, reach))
                break
    nets = (Net("GND"), *(Net(f"N{i}") for i in range(12)))
    return Board(f"made {seed}", "GND", nets, tuple(parts))
