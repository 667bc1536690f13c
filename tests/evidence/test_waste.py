"""What a sound board may waste: the arithmetic of P = V²/R, and what follows for a reading on an input."""

from dataclasses import replace

import numpy as np
import pytest
from tests.small_board import small_board

from ohmwright.circuit import Board
from ohmwright.evidence import Electrical, roster_of
from ohmwright.evidence.forward import Forward
from ohmwright.evidence.waste import STEEP, WATTS, Budget, against
from ohmwright.facts import Quantity, Reading
from ohmwright.faults import hypotheses_of


def budget_at(board: Board, net: str) -> tuple[Forward, Budget | None]:
    """What that net may waste, None where nothing limits it."""
    forward = Electrical(board).forward
    wiring = forward.wiring
    mine = {k for k, e in enumerate(forward.elements) if wiring.elements[e].label == f"background {net}"}
    return forward, next((b for b in forward.budgets if mine & set(b.own.tolist())), None)


def test_a_net_takes_what_all_on_it_takes_at_its_own_volts() -> None:
    """P = V²/R, summed over the background and each load that nobody told."""
    forward, budget = budget_at(small_board(), "VF")
    assert budget is not None
    hangs = [e for e in forward.wiring.elements if e.label == "background VF" or (e.part, e.label) == ("U1", "load 1")]
    assert len(hangs) == 2
    assert budget.watts.sum() == pytest.approx(sum(12.0**2 / e.median for e in hangs))


def test_nothing_speaks_against_what_wastes_less_and_each_factor_of_e_weighs_the_same() -> None:
    """A rail of two loads: what they share, and what each has of its own, lower it together."""
    loads = Budget(np.array([0.5, 0.5]) * WATTS, np.array([0, 1]), np.array([2, 2]))
    spread = np.array([1.0, 1.0, 2.0])
    shift = np.array([[0.0, 0.0, 0.0], [3.0, 0.0, 0.5], [0.0, 0.0, -0.5], [-1.0, -1.0, -0.5]])
    assert against(shift, spread, (loads,)) == pytest.approx([0.0, 0.0, STEEP, 2.0 * STEEP])


@pytest.mark.parametrize(("volts", "limited"), [(1.0, False), (2.9, False), (3.3, True)])
def test_no_rail_below_three_volts_has_a_limit(volts: float, limited: bool) -> None:
    board = small_board()
    nets = tuple(replace(net, nominal=volts) if net.name == "V33" else net for net in board.nets)
    assert (budget_at(replace(board, nets=nets), "V33")[1] is not None) == limited


def test_an_input_that_would_burn_watts_is_a_worse_excuse_than_one_that_would_not() -> None:
    """20 Ω on 12 V would waste 7 W; 200 Ω less than a watt, on whichever of two nets it is."""

    def sound(ohms: float, limited: bool) -> float:
        board = small_board(unmapped_share=0.3)
        electrical = Electrical(board)
        if not limited:
            electrical.forward.budgets = ()
        readings = [Reading(Quantity.OHMS, net, "GND", ohms) for net in ("VIN", "VF")]
        readings += [Reading(Quantity.DIODE, "GND", net, 1e-3 * ohms) for net in ("VIN", "VF")]
        lines = [electrical.line(reading) for reading in readings]
        roster = roster_of(hypotheses_of(board)[:1], electrical.register)
        return float(electrical.weigh(lines, roster, np.zeros(1)).joint.log_likelihood[0])

    assert sound(20.0, limited=True) < sound(20.0, limited=False) - 2.0
    assert sound(200.0, limited=True) == pytest.approx(sound(200.0, limited=False))
