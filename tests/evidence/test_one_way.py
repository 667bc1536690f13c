"""A junction gone soft: it leaks with red on the rail and not with red on ground."""

import math

import numpy as np
import pytest
from tests.small_board import ENTRY, small_board

from ohmwright.circuit import BoardState, Feed
from ohmwright.diagnosis.diagnose import diagnose
from ohmwright.evidence import Electrical, roster_of
from ohmwright.facts import Facts, Quantity, Reading
from ohmwright.faults import hypotheses_of

CLAMPED = [h for h in hypotheses_of(small_board()) if h.defects and h.defects[0].one_way]
SOFT_AT = 0.27
"""Volts at a milliampere. [V]"""


def shows(reading: Reading, one_way: bool) -> float:
    """What a path of some hundred ohms from VF to ground through the clamp makes of a reading, on its scale."""
    electrical = Electrical(small_board())
    paths = [
        h
        for h in hypotheses_of(electrical.board)
        if h.parts == ("D1",) and h.defects[0].mode == "leak" and h.defects[0].severity.low in (50.0, 100.0)
        and h.defects[0].one_way == one_way
    ]  # fmt: skip
    roster = roster_of(paths[:1], electrical.register)
    found = electrical.weigh([electrical.line(reading)], roster, np.zeros(1))
    return float(electrical.line(reading).probe.unscaled(float(found.stack.y[0, 0])))


def test_every_soft_path_conducts_from_its_pin_to_ground() -> None:
    assert {h.parts[0] for h in CLAMPED} >= {"D1", "U1", "U2"}
    assert all(h.defects[0].nets[1] == "GND" for h in CLAMPED)
    assert all(not h.defects[0].residue and not h.defects[0].joint for h in CLAMPED)


def test_ohms_with_red_on_the_rail_see_it_and_diode_mode_with_red_on_ground_does_not() -> None:
    ohms, diode = Reading(Quantity.OHMS, "VF", "GND", 270.0), Reading(Quantity.DIODE, "GND", "VF", 0.5)
    assert shows(ohms, True) == pytest.approx(math.sqrt(50.0 * 500.0), rel=0.1)
    assert shows(diode, True) > 0.3
    assert shows(diode, False) < shows(diode, True) - 0.05


def test_leads_the_other_way_round_change_sides() -> None:
    ohms, diode = Reading(Quantity.OHMS, "GND", "VF", 1e6), Reading(Quantity.DIODE, "VF", "GND", 0.27)
    assert shows(ohms, True) > 500.0
    assert shows(diode, True) == pytest.approx(shows(diode, False), rel=0.5)


def test_a_feed_into_the_rail_drives_it_forward() -> None:
    feed = Feed("VF", "GND", 0.8, 1.0)
    amps = Reading(Quantity.SUPPLY_AMPS, "VF", "GND", 0.0, BoardState().with_feed(feed))
    assert shows(amps, True) == pytest.approx(0.8 / math.sqrt(50.0 * 500.0), rel=0.2)


def test_a_low_reading_one_way_and_a_sound_one_the_other_is_one_fault_and_no_contradiction() -> None:
    """270 Ω where diode mode, red on ground, reads as it does on the sound board: no resistance does that. The figures
    are those of a junction of 0.27 V at a milliampere, read both ways (Shockley)."""
    board = small_board()
    sound = {net: Reading(Quantity.DIODE, "GND", net, volts) for net, volts in (("VIN", 0.52), ("VF", 0.52))}
    readings = (*sound.values(), *(Reading(Quantity.OHMS, net, "GND", 1e3 * SOFT_AT) for net in ("VIN", "VF")))
    facts = Facts(readings=readings, entries=ENTRY)
    posterior, diagnosis = diagnose(board, facts)
    best = posterior.hypotheses[int(np.argmax(posterior.probabilities))]
    assert best.defects
    assert best.defects[0].one_way
    assert "one way" in diagnosis.suspects[0].words
    lines = posterior.joint.stray[:, posterior.class_of[int(np.argmax(posterior.probabilities))]]
    assert (lines < 0.5).all()
