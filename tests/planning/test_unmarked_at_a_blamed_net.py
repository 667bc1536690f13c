"""Before something off the map is blamed at a net, unmarked parts on that net are read across."""

from __future__ import annotations

from ohmwright.circuit import Board, BoardState, Net, Part, Pin
from ohmwright.diagnosis import diagnose
from ohmwright.facts import Act, Deed, EntryFact, Facts, Quantity, Reading, Symptom
from ohmwright.planning import advise

OFF = BoardState(off=frozenset({"C4"}))
LOW = 21.0
"""What the inner net reads to ground whether or not its only drawn part is on it. [Ω]"""


def board() -> Board:
    """A jack's net and one behind an unmarked part, on which pads are left over; a rail with many capacitors."""
    rails = [Net(name, 12.0, rail=True, unexplained_pads=2) for name in ("JACK", "INNER")]
    nets = (Net("GND"), *rails, Net("P5V", 5.0, rail=True))
    parts = (
        Part("J1", "connector", (Pin("1", "JACK"), Pin("2", "GND"))),
        Part("X3", "unknown-two-pads", (Pin("1", "JACK"), Pin("2", "INNER"))),
        Part("C4", "capacitor", (Pin("1", "INNER"), Pin("2", "GND"))),
        *(Part(f"C{n}", "capacitor", (Pin("1", "P5V"), Pin("2", "GND"))) for n in range(10, 40)),
    )
    return Board("unmarked part", "GND", nets, parts, entries=("JACK",), unmapped_share=0.4)


def facts(*more: Reading) -> Facts:
    readings = (
        Reading(Quantity.OHMS, "INNER", "GND", LOW, key="e1"),
        Reading(Quantity.OHMS, "INNER", "GND", LOW, OFF, key="e3"),
        Reading(Quantity.PART_OHMS, "C4.1", "C4.2", None, OFF, key="e4"),
        *more,
    )
    acts = (Act(Deed.STILL_DEAD, "", "e0"), Act(Deed.TOOK_OFF, "C4", "e2"))
    entry = (EntryFact("JACK", None, True, True),)
    return Facts(readings, symptom=Symptom.DEAD, entries=entry, acts=acts, state=OFF)


def first_titles(known: Facts) -> list[str]:
    return [test.title for test in advise(board(), known, *diagnose(board(), known)).tests]


def test_an_unmarked_part_at_the_blamed_net_is_read_across() -> None:
    assert any("JACK" in title and "INNER" in title for title in first_titles(facts())[:2])


def test_it_is_asked_once() -> None:
    across = Reading(Quantity.OHMS, "INNER", "JACK", 0.1, OFF, key="e5")
    assert not any(title.startswith("Ohms between") for title in first_titles(facts(across)))


def test_metal_between_leaves_both_sides_in_doubt() -> None:
    across = Reading(Quantity.OHMS, "INNER", "JACK", 0.1, OFF, key="e5")
    known = facts(across)
    belief, _ = diagnose(board(), known)
    at = dict.fromkeys(("JACK", "INNER"), 0.0)
    for p, hypothesis in zip(belief.probabilities.tolist(), belief.hypotheses, strict=True):
        for defect in hypothesis.faults:
            for net in at:
                at[net] += p if not defect.part and net in defect.nets else 0.0
    assert min(at.values()) > 0.15
