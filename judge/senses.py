"""What an eye, a finger and a camera find: rough, and wrong in the same way each time.

The figures are estimates, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from judge.standing import Standing
from judge.world import Case, TruePart, random_of
from ohmwright.circuit import Place
from ohmwright.facts import HeatFinding, LookFinding

NOTICED: Mapping[str, float] = {"crack": 0.6, "burn": 0.85, "corrosion": 0.75}
"""Share of what is there to be seen that this eye sees at all. [1]"""
REWORK_NOTICED = 0.5
FALSE_ALARM = 0.012
"""Share of healthy parts that look bad. [1]"""
GRAVE = (LookFinding.BURN, LookFinding.CRACK, LookFinding.CORROSION, LookFinding.REWORKED)
"""Findings, the gravest first."""
MOST_NAMED = 7


@dataclass(frozen=True, slots=True)
class Sense:
    """A way to feel heat: the rise it notices [K], how far it mistakes the place and how finely it sees [mm], and
    the spread of what it makes of like parts. [1]"""

    notices: float
    strays_mm: float
    resolves_mm: float
    blur: float


SENSES: Mapping[str, Sense] = {"finger": Sense(9.0, 1.6, 3.2, 0.12), "camera": Sense(0.8, 0.5, 1.0, 0.05)}


def looked(case: Case, standing: Standing, names: Iterable[str]) -> tuple[LookFinding, tuple[str, ...]]:
    """The gravest finding among some parts and the parts that show it; all of them where nothing is found."""
    asked = tuple(dict.fromkeys(names))
    seen = {name: _seen(case, standing, name) for name in asked}
    for finding in GRAVE:
        found = tuple(name for name in asked if seen[name] is finding)
        if found:
            return finding, found
    return LookFinding.NOTHING, asked


def _seen(case: Case, standing: Standing, name: str) -> LookFinding:
    case.world.part[name]  # a part that is not there is an error of the asker
    if name in standing.off:
        return LookFinding.NOTHING
    luck = random_of(case.seed, "look", name)
    draw, false, which = (float(luck.random()) for _ in range(3))
    for fault in standing.active(case.world, case.faults):
        if fault.part != name:
            continue
        if fault.seen and draw < NOTICED[fault.seen]:
            return LookFinding(fault.seen)
        if fault.wrong_part and draw < REWORK_NOTICED:
            return LookFinding.REWORKED
    if false < FALSE_ALARM and name not in standing.replaced:
        return GRAVE[int(which * len(GRAVE))]
    return LookFinding.NOTHING


def felt(case: Case, standing: Standing, rises: Mapping[str, float], rail: str) -> tuple[HeatFinding, tuple[str, ...]]:
    """How sharply heat is placed and at which parts of the map.

    Parameters
    ----------
    rises : mapping
        True rise of each part. [K]
    rail : str
        The net that is fed: the errors of one method on one rail are always the same.
    """
    sense = SENSES[case.heat_method]
    luck = random_of(case.seed, "heat", case.heat_method, rail)
    there = [p for p in case.world.parts if p.name not in standing.off]
    # Bare metal shines cold to a camera and thick parts hide their inside: an error of the kind of part
    # before all, and a little one of each part.
    kinds = {kind: float(luck.normal(0.0, 0.18)) for kind in sorted({p.kind for p in case.world.parts})}
    own = {p.name: kinds[p.kind] + float(luck.normal(0.0, sense.blur)) for p in case.world.parts}
    seen = {p.name: rises[p.name] * math.exp(own[p.name]) for p in there}
    stray = luck.normal(0.0, sense.strays_mm, 2)
    if not there:
        return HeatFinding.NOTHING, ()
    hottest = max(there, key=lambda part: seen[part.name])
    background = sorted(seen.values())[len(seen) // 2]
    if seen[hottest.name] - (background if case.heat_method == "camera" else 0.0) < sense.notices:
        return HeatFinding.NOTHING, ()
    x, y = hottest.place.x_mm + float(stray[0]), hottest.place.y_mm + float(stray[1])
    near = sorted(
        (_off(part.place, hottest.place.side, x, y), part.name)
        for part in there
        if part.name not in case.hidden and seen[part.name] > 0.45 * seen[hottest.name]
    )
    return _named(near, sense, hottest, case)


def _named(
    near: list[tuple[float, str]], sense: Sense, hottest: TruePart, case: Case
) -> tuple[HeatFinding, tuple[str, ...]]:
    close = [name for distance, name in near if distance <= near[0][0] + sense.resolves_mm][:MOST_NAMED]
    if not close:
        return HeatFinding.NOTHING, ()
    sharp = len(close) == 1 and near[0][0] <= sense.resolves_mm + sense.strays_mm
    # What is warm but not on the map is at best "somewhere about here".
    return (HeatFinding.PART if sharp and hottest.name not in case.hidden else HeatFinding.AREA), tuple(close)


def _off(place: Place, side: str, x: float, y: float) -> float:
    """How far a spot lies outside a part. [mm]"""
    dx = max(abs(place.x_mm - x) - place.width_mm / 2.0, 0.0)
    dy = max(abs(place.y_mm - y) - place.height_mm / 2.0, 0.0)
    return math.hypot(dx, dy) + (2.5 if place.side != side else 0.0)
