"""What a finger, a camera and an eye find: rough, and wrong in the same way each time.

Heat rises, spreading and thresholds are estimates after common practice (a 0402 about 100 K/W, a large
package 20 to 30 K/W), no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ohmwright.circuit import Board, Part
from ohmwright.facts import HeatFinding, LookFinding
from ohmwright.practice.chance import about, dice_for
from ohmwright.practice.specimen import Specimen


@dataclass(frozen=True, slots=True)
class Sense:
    """A way to feel heat: the rise it notices [K], how far it mistakes the place, how finely it sees. [mm]"""

    notices: float
    strays_mm: float
    resolves_mm: float


SENSES: Mapping[str, Sense] = {
    "finger": Sense(10.0, 1.2, 3.0),
    "alcohol film": Sense(4.0, 0.7, 1.5),
    "camera": Sense(1.0, 0.4, 0.9),
}
FALSE_ALARM = 0.01
"""Share of sound parts that look bad. [1]"""
SPREADS_MM = 7.0
MOST_NAMED = 8


def rises(board: Board, watts: Mapping[str, float]) -> dict[str, float]:
    """How much warmer each part is than the room, its own power and its neighbours'. [W] to [K]"""
    hot = [(board.part(name), power) for name, power in watts.items() if power > 1e-4]
    return {
        part.name: sum(power * _kelvin_per_watt(source, part) for source, power in hot)
        for part in board.parts
    }  # fmt: skip


def _kelvin_per_watt(source: Part, part: Part) -> float:
    own = _own(source)
    if source.name == part.name:
        return own
    distance = _distance(source, part)
    return 0.0 if distance is None else 0.35 * own * math.exp(-distance / SPREADS_MM)


def _own(part: Part) -> float:
    area = part.place.width_mm * part.place.height_mm if part.place else 2.0
    return float(110.0 / max(area, 0.3) ** 0.35)


def _distance(a: Part, b: Part) -> float | None:
    """Between centres, less both half sizes; through the board a little farther. [mm]"""
    if a.place is None or b.place is None:
        return None
    gap = math.hypot(a.place.x_mm - b.place.x_mm, a.place.y_mm - b.place.y_mm)
    gap -= 0.25 * (a.place.width_mm + a.place.height_mm + b.place.width_mm + b.place.height_mm)
    return max(gap, 0.0) + (1.6 if a.place.side != b.place.side else 0.5)


def felt(specimen: Specimen, watts: Mapping[str, float], method: str) -> tuple[HeatFinding, tuple[str, ...]]:
    """How sharply heat is placed, and at which parts."""
    board, sense, seed = specimen.board, SENSES[method], specimen.seed
    there = {name: rise for name, rise in rises(board, watts).items() if name not in specimen.off}
    seen = {name: rise * about(dice_for(seed, "felt", method, name), 1.0, 0.2) for name, rise in there.items()}
    hottest = max(seen, key=lambda name: seen[name], default="")
    if not hottest or seen[hottest] < sense.notices:
        return HeatFinding.NOTHING, ()
    place = board.part(hottest).place
    if place is None:
        return HeatFinding.PART, (hottest,)
    dice = dice_for(seed, "strays", method, hottest)
    x, y = place.x_mm + dice.normal(0.0, sense.strays_mm), place.y_mm + dice.normal(0.0, sense.strays_mm)
    near = sorted(
        (_off_centre(board.part(name), place.side, float(x), float(y)), name)
        for name in seen
        if seen[name] > 0.5 * seen[hottest] and board.part(name).place is not None
    )
    named = tuple(name for distance, name in near if distance <= near[0][0] + sense.resolves_mm)[:MOST_NAMED]
    return (HeatFinding.PART if len(named) == 1 else HeatFinding.AREA), named


def _off_centre(part: Part, side: str, x: float, y: float) -> float:
    """How far a spot lies outside a part. [mm]"""
    place = part.place
    if place is None:
        return math.inf
    width, height = place.width_mm, place.height_mm
    if round(place.angle_deg / 90.0) % 2:
        width, height = height, width
    dx, dy = max(abs(place.x_mm - x) - width / 2, 0.0), max(abs(place.y_mm - y) - height / 2, 0.0)
    return math.hypot(dx, dy) + (3.0 if place.side != side else 0.0)


def seen_at(specimen: Specimen, names: Sequence[str]) -> dict[str, LookFinding]:
    """What the eye finds at each part."""
    return {name: _seen(specimen, name) for name in names}


def _seen(specimen: Specimen, name: str) -> LookFinding:
    specimen.board.part(name)
    if name in specimen.off:
        return LookFinding.MISSING
    for defect in specimen.defects_at(name):
        visible = dice_for(specimen.seed, "visible", name, defect.mode, *defect.pins).random() < defect.seen
        if visible and defect.finding is not LookFinding.NOTHING:
            return defect.finding
    dice = dice_for(specimen.seed, "false alarm", name)
    if name not in specimen.fault.parts and dice.random() < FALSE_ALARM:
        return LookFinding(str(dice.choice(["corrosion", "reworked", "burn"])))
    return LookFinding.NOTHING
