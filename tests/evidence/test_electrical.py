"""Predictions, sensitivities and the joint likelihood against independent computations."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import multivariate_normal
from tests.small_board import small_board, two

from ohmwright.circuit import Board, BoardState, Feed, Net, Part, Pin, Spread
from ohmwright.evidence import Column, Electrical, Stack, joint
from ohmwright.facts import Meter, Quantity, Reading
from ohmwright.faults import DefectKind, hypotheses_of
from ohmwright.operation.wiring import BACKGROUND

SLOPES = [
    Reading(Quantity.DIODE, "GND", "V33", 0.4),
    Reading(Quantity.OHMS, "V33", "GND", 2000.0),
    Reading(Quantity.OHMS, "VF", "SW", 2000.0),
    Reading(Quantity.SUPPLY_VOLTS, "V33", "GND", 0.4, BoardState(feed=Feed("V33", "GND", 0.8, 1.0))),
    Reading(Quantity.VOLTS, "SW", "V33", 0.01, BoardState(feed=Feed("SW", "GND", 0.8, 1.0))),
]


@pytest.mark.parametrize("reading", SLOPES, ids=lambda r: f"{r.quantity.value} {r.red} {r.black}")
def test_sensitivities_agree_with_finite_differences(reading: Reading) -> None:
    """The adjoint against central differences of the same nonlinear solution."""
    board = small_board()
    electrical = Electrical(board)
    line = electrical.line(reading)
    short = next(h for h in hypotheses_of(board) if h.parts == ("C3",) and h.defects[0].kind is DefectKind.PATH)
    forward = line.forward
    for defects in ((), short.defects):
        column = Column(line.state, defects)
        lean = forward.predict(line.probe, [column]).lean[:, 0]
        step = 1e-4
        for unknown in range(forward.meter_at + 2):
            offset = np.zeros((forward.n_unknowns, 2))
            offset[unknown] = (step, -step)
            y = forward.predict(line.probe, [column, column], offset).y
            assert lean[unknown] == pytest.approx((y[0] - y[1]) / (2 * step), abs=2e-5, rel=2e-3)


def one_rail(ohms: float) -> Board:
    parts = (
        Part(
            "D1",
            "diode",
            (Pin("1", "GND", "anode"), Pin("2", "V", "cathode")),
            parameters=(("forward", Spread(0.55, 0.01)),),
        ),
        two("R1", "resistor", "V", "GND", ohms),
    )
    return Board("one rail", "GND", (Net("GND"), Net("V")), parts, unmapped_share=0.0)


@pytest.mark.parametrize(
    ("ohms", "millivolts"),
    [
        (10.0, (3, 5, 10, 15)),
        (47.0, (14, 23, 47, 70)),
        (220.0, (66, 110, 220, 330)),
        (470.0, (141, 235, 448, 514)),
        (1000.0, (297, 447, 520, 543)),
    ],
)
def test_diode_reading_of_a_resistance_beside_a_junction(ohms: float, millivolts: tuple[int, ...]) -> None:
    """V = I R below 0.2 V; above, Kirchhoff's law with the Shockley equation, solved here by bisection."""
    electrical = Electrical(one_rail(ohms))
    for current, near in zip((0.3e-3, 0.5e-3, 1e-3, 1.5e-3), millivolts, strict=True):
        meter = Meter(diode_current=current, lead_resistance=0.0)
        line = electrical.line(Reading(Quantity.DIODE, "GND", "V", 0.3, meter=meter))
        y = line.forward.predict(line.probe, [Column(line.state)]).y[0]
        shown = float(line.probe.unscaled(y))
        assert shown == pytest.approx(_bisected(ohms, current), abs=2e-6)
        assert 1e3 * shown == pytest.approx(near, abs=12)


def _bisected(ohms: float, current: float) -> float:
    n_vt = 1.5 * 0.025864925786  # kT/q at 300.15 K, CODATA 2018
    saturation = 1e-3 / math.expm1(0.55 / n_vt)
    low, high = 0.0, 1.0
    for _ in range(80):
        v = 0.5 * (low + high)
        if v / ohms + v / 1e8 + v / BACKGROUND.median + saturation * math.expm1(v / n_vt) < current:
            low = v
        else:
            high = v
    return low


def test_joint_likelihood_is_that_of_a_multivariate_normal() -> None:
    """With strays made impossible, against scipy.stats.multivariate_normal."""
    rng = np.random.default_rng(5)
    lean, spread, noise = rng.normal(size=(4, 3, 6)), rng.uniform(0.2, 1.0, (3, 6)), rng.uniform(0.1, 0.3, 4)
    y, observed = rng.normal(size=(4, 6)), rng.normal(size=4)
    stack = Stack(
        observed,
        np.zeros(4, dtype=bool),
        np.full(4, 50.0),
        noise,
        np.full(4, 1e-300),
        np.full(4, 10.0),
        np.zeros((4, 4), dtype=bool),
        np.full((4, 4), -np.inf),
        y,
        np.array([lean[:, :, k] @ np.diag(spread[:, k] ** 2) @ lean[:, :, k].T for k in range(6)]),
    )
    result = joint(stack)
    for k in range(6):
        covariance = lean[:, :, k] @ np.diag(spread[:, k] ** 2) @ lean[:, :, k].T + np.diag(noise**2)
        assert result.log_likelihood[k] == pytest.approx(
            multivariate_normal(y[:, k], covariance).logpdf(observed), rel=1e-9
        )


def test_one_stray_reading_is_named() -> None:
    stack = Stack(
        np.array([1.0, 1.02, 5.0]),
        np.zeros(3, dtype=bool),
        np.full(3, 50.0),
        np.full(3, 0.05),
        np.full(3, 0.01),
        np.full(3, 10.0),
        np.zeros((3, 3), dtype=bool),
        np.full((3, 3), -np.inf),
        np.ones((3, 1)),
        np.full((1, 3, 3), 0.01),
    )
    stray = joint(stack).stray[:, 0]
    assert stray[2] > 0.99
    assert stray[:2].max() < 0.01


def test_a_load_switch_closes_when_its_source_is_fed() -> None:
    """A short behind a switch is invisible cold at the rail, and takes the limit once the rail is fed."""
    board = small_board()
    electrical = Electrical(board)
    behind = next(
        h
        for h in hypotheses_of(board)
        if h.parts == ("C7",) and h.defects[0].severity and h.defects[0].severity.median < 0.1
    )
    cold = electrical.line(Reading(Quantity.OHMS, "V33", "GND", 1000.0))
    fed = electrical.line(
        Reading(Quantity.SUPPLY_AMPS, "V33", "GND", 0.1, BoardState(feed=Feed("V33", "GND", 3.3, 0.5)))
    )
    assert fed.state.switched_on == {"Q1"}
    y = [
        [
            float(line.probe.unscaled(line.forward.predict(line.probe, [electrical.column(line, d)]).y[0]))
            for d in ((), behind.defects)
        ]
        for line in (cold, fed)
    ]
    assert y[0][1] > 1000.0
    assert y[1][0] < 0.05
    assert y[1][1] == pytest.approx(0.5, rel=0.01)
