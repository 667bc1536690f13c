"""What is missing from the map at one end of a pair shows there to ground as well."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.small_board import small_board

from ohmwright.circuit import Board
from ohmwright.diagnosis import posterior_of
from ohmwright.evidence import Electrical
from ohmwright.facts import EntryFact, Facts, Quantity, Reading

LINK, ONE, OTHER = 2_000.0, 1_500.0, 20_000.0
"""Resistances between two rails, and from each of them to ground: what three readings in turn show follows from them.
[Ω]"""


def _beside(first: float, second: float) -> float:
    return first * second / (first + second)


def _board(**hidden: int) -> Board:
    board = small_board(unmapped_share=0.1)
    return replace(board, nets=tuple(replace(net, unexplained_pads=hidden.get(net.name, 0)) for net in board.nets))


PAIR = Reading(Quantity.OHMS, "V33", "VSW", round(_beside(LINK, ONE + OTHER), 1), key="e1")
GROUND = Reading(Quantity.OHMS, "V33", "GND", round(_beside(ONE, LINK + OTHER), 1), key="e2")
FAR = Reading(Quantity.OHMS, "VSW", "GND", round(_beside(OTHER, LINK + ONE), 1), key="e3")


def _strays(board: Board, *readings: Reading) -> list[float]:
    electrical = Electrical(board)
    return electrical._strays([electrical.line(reading) for reading in readings]).tolist()


def test_a_pair_strays_less_once_the_end_with_parts_missing_is_read_to_ground() -> None:
    board = _board(V33=3)
    alone, both = _strays(board, PAIR)[0], _strays(board, PAIR, GROUND)
    assert alone > 4.0 * both[0]
    assert both[1] == pytest.approx(alone)
    in_diode_mode = replace(GROUND, quantity=Quantity.DIODE, red="GND", black="V33", value=0.4)
    assert _strays(board, PAIR, in_diode_mode)[0] == alone, "what leaks kilohms hardly shows in diode mode"


def test_a_pair_strays_by_what_may_be_missing_between_its_nets() -> None:
    board = _board(V33=3, VSW=3)
    assert _strays(board, PAIR, GROUND, FAR)[0] == pytest.approx(_strays(board, PAIR)[0])


def test_a_ground_reading_off_the_map_makes_its_pair_cheap() -> None:
    electrical = Electrical(_board(V33=3))
    lines = [electrical.line(reading) for reading in (PAIR, GROUND, FAR)]
    again = electrical._again(lines, np.array([0.5, 0.9, 0.2]))
    width = lines[0].probe.width
    assert again[1, 0] == pytest.approx(np.log(0.5 * 0.9 / width))
    assert again[2, 0] == pytest.approx(np.log(0.5 * 0.2 / width))
    assert np.isneginf(again[0]).all()
    assert np.isneginf(np.diag(again)).all()


def test_a_leak_between_two_rails_is_found_though_parts_are_missing_on_one() -> None:
    """Three readings between three nodes give all three resistances (star and delta, any handbook of circuits)."""
    facts = Facts(readings=(GROUND, FAR, PAIR), entries=(EntryFact("VIN", 12.0, True, True, "e0"),))
    posterior = posterior_of(_board(V33=3), facts)
    across = [{"V33", "VSW"} in [set(d.nets) for d in h.faults] for h in posterior.hypotheses]
    assert float(posterior.probabilities[across].sum()) > 0.4
    assert across[int(posterior.probabilities.argmax())]
