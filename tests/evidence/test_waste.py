"""What a sound board may waste: the arithmetic of P = V²/R, and what follows for a reading on an input."""

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.small_board import small_board

from ohmwright.evidence import Electrical, roster_of
from ohmwright.evidence.waste import STEEP, WATTS, against, least_shifts
from ohmwright.facts import Quantity, Reading
from ohmwright.faults import hypotheses_of


def test_least_resistance_is_what_takes_the_watts_at_the_nets_own_volts() -> None:
    electrical = Electrical(small_board())
    forward = electrical.forward
    elements = forward.wiring.elements
    assert np.isfinite(forward.least).any()
    for k, e in enumerate(forward.elements):
        volts = forward.wiring.board.net(elements[e].a).nominal if elements[e].label.startswith("background ") else None
        if volts is None or volts < 3.0:
            assert forward.least[k] == -math.inf
        else:
            least = elements[e].median * math.exp(forward.least[k])
            assert volts**2 / least == pytest.approx(WATTS)


def test_nothing_speaks_against_what_wastes_less_and_each_factor_of_e_weighs_the_same() -> None:
    least, spread = np.array([-2.0, -np.inf]), np.array([2.0, 1.0])
    shift = np.array([[0.0, -9.0], [-1.0, 0.0], [-1.5, 0.0], [-2.0, 0.0]])
    assert against(shift, spread, least) == pytest.approx([0.0, 0.0, STEEP, 2.0 * STEEP])


@pytest.mark.parametrize(("volts", "limited"), [(1.0, False), (2.9, False), (3.3, True)])
def test_no_rail_below_three_volts_has_a_limit(volts: float, limited: bool) -> None:
    board = small_board()
    nets = tuple(replace(net, nominal=volts) if net.name == "V33" else net for net in board.nets)
    forward = Electrical(replace(board, nets=nets)).forward
    assert np.isfinite(least_shifts(forward.wiring, (), (("V33", 1.0),))).tolist() == [limited]


def test_an_input_that_would_burn_watts_is_a_worse_excuse_than_one_that_would_not() -> None:
    """20 Ω on 12 V would waste 7 W, shared by two nets; 90 Ω less than a watt on each."""

    def sound(ohms: float, limited: bool) -> float:
        board = small_board(unmapped_share=0.3)
        electrical = Electrical(board)
        if not limited:
            electrical.forward.least[:] = -np.inf
        readings = [Reading(Quantity.OHMS, net, "GND", ohms) for net in ("VIN", "VF")]
        readings += [Reading(Quantity.DIODE, "GND", net, 1e-3 * ohms) for net in ("VIN", "VF")]
        lines = [electrical.line(reading) for reading in readings]
        roster = roster_of(hypotheses_of(board)[:1], electrical.register)
        return float(electrical.weigh(lines, roster, np.zeros(1)).joint.log_likelihood[0])

    assert sound(20.0, limited=True) < sound(20.0, limited=False) - 2.0
    assert sound(90.0, limited=True) == pytest.approx(sound(90.0, limited=False))
