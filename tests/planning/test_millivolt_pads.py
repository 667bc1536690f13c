"""Where millivolts are read: copper that carries the fed current drops as much as a part of a few milliohms."""

from __future__ import annotations

import math

from tests.planning.test_advice import ENTRY, FED, asked, low_rail
from tests.small_board import small_board

from ohmwright.evidence.probe import COPPER, probe_of
from ohmwright.facts import HANDHELD, Facts, Quantity, Reading
from ohmwright.planning import TestKind

# resistivity of copper at 20 °C, 1/58 Ω mm²/m: IEC 60028
SQUARE = 1e-6 / 58.0 / 35e-6


def test_millivolts_across_a_part_are_read_on_its_own_pads() -> None:
    advice = asked(small_board(), Facts(readings=low_rail(), entries=ENTRY, state=FED))
    across = [t for t in advice.tests if t.kind is TestKind.MILLIVOLTS]
    assert across, "the coil tells on which side of it the short is"
    for test in across:
        part = test.title.rpartition(" ")[2]
        read = next(step for step in test.steps if step.act == "read")
        assert {read.red.rpartition(".")[0], read.black.rpartition(".")[0]} == {part}
        assert read.red != read.black


def test_copper_between_pads_of_different_parts_counts_as_doubt() -> None:
    board = small_board()
    coil = board.part("L1")
    own = [f"L1.{pin.number}" for pin in coil.pins]
    far = [
        next(f"{part.name}.{pin.number}" for part, pin in board.pins_on[net] if part.name != "L1") for net in coil.nets
    ]
    near, apart = (
        probe_of(board, Reading(Quantity.VOLTS, *pads, 0.0, FED, HANDHELD)) for pads in (own, far)
    )
    assert near.copper == 0.0
    assert apart.copper == COPPER
    assert math.isclose(COPPER, 40 * SQUARE, rel_tol=0.05), "40 squares of 35 µm"
    fed = FED.feed
    assert fed is not None
    dropped = COPPER * fed.limit
    assert float(apart.noise(0.0)) > 0.9 * dropped * float(apart.slope(0.0)) > 10 * float(near.noise(0.0))
