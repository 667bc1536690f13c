"""Two faults on two rails of a map with gaps: what a gap would have to be is weighed against a second fault."""

from dataclasses import replace

import numpy as np
from tests.small_board import ENTRY, small_board

from ohmwright.circuit import Board
from ohmwright.diagnosis import Suspect
from ohmwright.diagnosis.diagnose import _akin
from ohmwright.diagnosis.posterior import Posterior, posterior_of
from ohmwright.facts import Facts, Quantity, Reading, Symptom

SHORT, LEAK = 0.2, 31.0
"""Ohms of the rail behind the coil and of the input behind the fuse: 0.4 W and 4.6 W at 3.3 V and 12 V, were it
sound."""


def gappy_board() -> Board:
    """The small board with a third of its parts missing, pads unexplained on both rails, and only the jack labelled."""
    board = small_board(unmapped_share=0.34)
    nets = tuple(
        replace(net, nominal=12.0 if net.name == "VIN" else None, unexplained_pads=3 * (net.name in ("VF", "V33")))
        for net in board.nets
    )
    return replace(board, nets=nets)


def read(**ohms: float) -> Posterior:
    """Belief after each of those nets was read both ways to ground, twice over."""
    readings = []
    for net, value in ohms.items():
        readings.append(Reading(Quantity.DIODE, "GND", net, 1e-3 * value))
        readings.append(Reading(Quantity.OHMS, net, "GND", value))
    return posterior_of(gappy_board(), Facts(tuple(readings), symptom=Symptom.DEAD, entries=ENTRY))


def belief_in(posterior: Posterior, *nets: str) -> float:
    """Belief in paths to ground at all of those nets at once."""
    at = [
        set(nets) <= {net for d in h.faults if "GND" in d.nets for net in d.nets if net != "GND"}
        for h in posterior.hypotheses
    ]
    return float(posterior.probabilities[np.array(at)].sum())


def test_a_leak_no_input_could_have_and_a_short_elsewhere_are_two_faults() -> None:
    posterior = read(VF=LEAK, VIN=LEAK + 0.1, V33=SHORT, SW=SHORT + 0.1)
    assert belief_in(posterior, "VF", "V33") + belief_in(posterior, "VIN", "V33") > 0.5


def test_a_short_alone_is_one_fault() -> None:
    posterior = read(VF=4e3, VIN=4e3, V33=SHORT, SW=SHORT + 0.1)
    assert belief_in(posterior, "VF", "V33") + belief_in(posterior, "VIN", "V33") < 0.1
    assert belief_in(posterior, "V33") + belief_in(posterior, "SW") > 0.8


def test_a_further_fault_that_changes_nothing_is_no_other_answer() -> None:
    def asks_for(*places: str) -> Suspect:
        return Suspect("+".join(places), places[0], "unmapped", (), "", 0.5, places=places)

    two = asks_for("DC", "L4")
    assert _akin(asks_for("C6", "L4"), two)
    assert not _akin(asks_for("D2", "DC", "L4"), two)
    assert _akin(asks_for("DC", "L4"), two)
