"""An input whose missing parts have no pin of a chip: nothing there conducts from ground, and nothing is broken."""

from __future__ import annotations

import pytest

from ohmwright.circuit import Board, BoardState, Net, Part, Pin
from ohmwright.diagnosis.posterior import Posterior, posterior_of
from ohmwright.facts import EntryFact, Facts, Quantity, Reading, Symptom
from ohmwright.operation import hidden_pin, wiring_of

CALM = hidden_pin("DC_CALM")


def part(name: str, kind: str, *nets: str) -> Part:
    return Part(name, kind, tuple(Pin(str(k), net) for k, net in enumerate(nets, 1)))


def board(unexplained: int = 2) -> Board:
    """A jack, a fuse and a bead, behind which something nobody has drawn hangs; a chip on a rail of its own."""
    nets = (
        Net("GND"),
        Net("DC", 12.0, rail=True),
        Net("DC_FUSE", 12.0, rail=True),
        Net("DC_CALM", 12.0, rail=True, unexplained_pads=unexplained),
        Net("P3V3", 3.3, rail=True),
    )
    chip = Part("U5", "ic", (Pin("1", "P3V3", "VDD"), Pin("2", "GND", "GND")))
    parts = (
        part("J2", "connector", "DC", "GND"),
        part("F3", "fuse", "DC", "DC_FUSE"),
        part("L6", "ferrite", "DC_FUSE", "DC_CALM"),
        part("C8", "capacitor", "DC_CALM", "GND"),
        part("C9", "capacitor", "P3V3", "GND"),
        chip,
    )
    return Board("calm input", "GND", nets, parts, entries=("DC",), unmapped_share=0.3)


def believed(*readings: Reading, unexplained: int = 2) -> Posterior:
    entry = (EntryFact("DC", None, True, True),)
    return posterior_of(board(unexplained), Facts(readings, symptom=Symptom.DEAD, entries=entry))


def diode(net: str, volts: float | None) -> Reading:
    return Reading(Quantity.DIODE, "GND", net, volts)


def opens(posterior: Posterior, name: str) -> float:
    return float(
        sum(
            p
            for p, h in zip(posterior.probabilities, posterior.hypotheses, strict=True)
            if any(d.part == name and d.kind.value == "open" for d in h.defects)
        )
    )


def test_metal_that_reads_next_to_nothing_is_not_broken_as_nothing_conducts_behind_it() -> None:
    """Common practice, no source: an input of capacitors and a FET's drain reads OL both ways."""
    found = believed(diode("DC", None), diode("DC_FUSE", None), Reading(Quantity.OHMS, "DC_FUSE", "DC_CALM", 0.1))
    assert ("", CALM) in found.taken
    assert opens(found, "L6") < 0.05


def test_out_of_range_alone_makes_no_bead_likely() -> None:
    found = believed(diode("DC", None), diode("DC_FUSE", None))
    assert opens(found, "L6") + opens(found, "F3") < 0.5


def test_a_pin_that_was_read_is_there() -> None:
    found = believed(diode("DC_CALM", 0.61), diode("DC_FUSE", None))
    assert found.taken == ()
    assert opens(found, "L6") > 0.7


@pytest.mark.parametrize("volts", [0.45, 0.62, 0.75])
def test_a_usual_drop_asks_for_nothing(volts: float) -> None:
    assert believed(diode("DC_CALM", volts)).taken == ()


def test_what_is_taken_for_absent_does_not_conduct() -> None:
    wiring = wiring_of(board())
    there, gone = wiring.present(BoardState()), wiring.present(BoardState(), (("", CALM),))
    assert [wiring.elements[k].label for k in range(len(there)) if there[k] != gone[k]] == [CALM]
