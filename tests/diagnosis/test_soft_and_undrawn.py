"""A clamp nobody has drawn has gone soft: it conducts from the net to ground, and sound junctions the other way."""

from __future__ import annotations

import numpy as np

from ohmwright.circuit import Board, Net, Part, Pin
from ohmwright.diagnosis.posterior import Posterior, posterior_of
from ohmwright.facts import EntryFact, Facts, Quantity, Reading, Symptom

OHMS, BACK, FORTH = 164.0, 0.55, 0.15
"""What the input reads with red on it in ohms; what diode mode shows with red on ground, as a sound pin does, and with
red on the net, where the soft clamp takes the current. [Ω], [V], [V]"""


def board() -> Board:
    """An input with two capacitors and pads left over, and a chip on a rail of its own."""
    nets = (Net("GND"), Net("DCIN", 12.0, rail=True, unexplained_pads=2), Net("P3V3", 3.3, rail=True))
    parts = (
        Part("J1", "connector", (Pin("1", "DCIN"), Pin("2", "GND"))),
        *(Part(f"C{n}", "capacitor", (Pin("1", "DCIN"), Pin("2", "GND"))) for n in (1, 2)),
        *(Part(f"C{n}", "capacitor", (Pin("1", "P3V3"), Pin("2", "GND"))) for n in range(3, 20)),
        Part("U5", "ic", (Pin("1", "P3V3", "VDD"), Pin("2", "GND", "GND"))),
    )
    return Board("undrawn clamp", "GND", nets, parts, entries=("DCIN",), unmapped_share=0.3)


def believed(*readings: Reading) -> Posterior:
    return posterior_of(
        board(), Facts(readings, symptom=Symptom.DEAD, entries=(EntryFact("DCIN", None, True, True),))
    )


def one_way(posterior: Posterior) -> float:
    there = [any(not d.part and d.one_way and "DCIN" in d.nets for d in h.faults) for h in posterior.hypotheses]
    return float(posterior.probabilities[np.array(there)].sum())


def test_what_conducts_one_way_only_comes_first() -> None:
    """Common practice, no source: a linear leak of 164 ohms would show 0.16 V both ways."""
    found = believed(
        Reading(Quantity.OHMS, "DCIN", "GND", OHMS),
        Reading(Quantity.DIODE, "GND", "DCIN", BACK),
        Reading(Quantity.DIODE, "DCIN", "GND", FORTH),
    )
    likeliest = found.hypotheses[int(np.argmax(found.probabilities))].defects
    assert [(d.part, d.one_way, d.nets) for d in likeliest] == [("", True, ("DCIN", "GND"))]
    assert one_way(found) > 5.0 * np.sort(found.probabilities)[-2]


def test_what_conducts_both_ways_is_not() -> None:
    found = believed(
        Reading(Quantity.OHMS, "DCIN", "GND", OHMS),
        Reading(Quantity.DIODE, "GND", "DCIN", FORTH),
        Reading(Quantity.DIODE, "DCIN", "GND", FORTH),
    )
    assert one_way(found) < 0.05
