"""Millivolts along a plane move the belief to the part where the current leaves it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from tests.small_board import small_board

from ohmwright.circuit import Board, BoardState, Feed, Place
from ohmwright.diagnosis.posterior import Posterior, posterior_of
from ohmwright.evidence.gradient import pointed_at
from ohmwright.facts import CopperShape, Facts, Gradient, GradientPoint, Quantity, Reading
from ohmwright.fields.layout import layout_of

PLACES = {
    "L1": (5.0, 20.0), "C3": (20.0, 35.0), "C4": (62.0, 20.0), "U2": (40.0, 40.0), "Q1": (70.0, 42.0),
    "R1": (12.0, 8.0), "R3": (44.0, 10.0),
}  # fmt: skip
PLANE = CopperShape(outline=((0.0, 0.0), (80.0, 0.0), (80.0, 50.0), (0.0, 50.0)))
POINTS = [(15, 20), (25, 10), (40, 25), (55, 12), (70, 12), (70, 30), (55, 40), (30, 45)]
FED = BoardState(feed=Feed("V33", "GND", 1.0, 3.0))


def placed() -> Board:
    board = small_board()
    for name, (x, y) in PLACES.items():
        board = board.with_part(replace(board.part(name), place=Place(x, y, width_mm=1.6, height_mm=0.8)))
    return board


def read(sink: tuple[float, float], step: float = 1e-5, square: float = 0.6e-3) -> Gradient:
    seen = layout_of(PLANE).seen_from(np.array([(5.0, 20.0), sink]))
    rise = seen.response(np.array([*POINTS, (15.0, 20.0)], dtype=float))
    volts = 3.0 * square * (rise[0] - rise[1])
    volts = np.round((volts[:-1] - volts[-1]) / step) * step
    points = tuple(GradientPoint(float(x), float(y), float(v)) for (x, y), v in zip(POINTS, volts, strict=True))
    return Gradient("V33", PLANE, (5.0, 20.0), 3.0, points, (15.0, 20.0), step, offset=2e-6, state=FED, key="e9")


def belief(board: Board, gradients: tuple[Gradient, ...]) -> Posterior:
    near = Reading(Quantity.DIODE, "V33", "GND", 0.0, key="e1")
    fed = Reading(Quantity.SUPPLY_VOLTS, "V33", "GND", 0.2, FED, key="e2")
    return posterior_of(board, Facts(readings=(near, fed), gradients=gradients, state=FED))


def share(result: Posterior, part: str) -> float:
    return float(result.probabilities[result.roster.with_part(part)].sum())


def test_readings_that_lead_to_a_capacitor_lift_it_over_its_twin() -> None:
    board = placed()
    before, after = belief(board, ()), belief(board, (read(PLACES["C4"]),))
    assert abs(share(before, "C3") - share(before, "C4")) < 0.02  # no reading told them apart
    assert share(after, "C4") > 0.8 > 0.05 > share(after, "C3")


def test_readings_that_lead_nowhere_leave_something_off_the_map() -> None:
    board = placed()
    after = belief(board, (read((50.0, 3.0)),))
    before = belief(board, ())
    assert share(after, "C4") < 0.5 * share(before, "C4")
    assert share(after, "C3") < 0.5 * share(before, "C3")


def test_a_blunt_meter_hardly_moves_the_belief() -> None:
    board = placed()
    blunt = belief(board, (read(PLACES["C4"], step=2e-2),))
    assert abs(share(blunt, "C4") - share(blunt, "C3")) < 0.1


def test_parts_near_the_place_are_named() -> None:
    assert "C4" in pointed_at(placed(), read(PLACES["C4"]))
    assert "C3" not in pointed_at(placed(), read(PLACES["C4"]))
