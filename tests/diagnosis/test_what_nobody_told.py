"""Parts nobody has drawn, kinds nobody knows, and whether the board works."""

from __future__ import annotations

from dataclasses import replace

from tests.small_board import ENTRY, small_board, two

from ohmwright.circuit import Board, BoardState, Part, Pin
from ohmwright.diagnosis import Level, diagnose
from ohmwright.diagnosis.joined import hidden_links, may_be_joined
from ohmwright.facts import Act, Deed, Facts, Quantity, Reading
from ohmwright.planning import advise

LOW = (
    Reading(Quantity.OHMS, "SW", "GND", 1.2, key="e1"),
    Reading(Quantity.OHMS, "V33", "GND", 1.25, key="e2"),
)


def without_the_coil(share: float) -> Board:
    board = small_board()
    return replace(board, parts=tuple(p for p in board.parts if p.name != "L1"), unmapped_share=share)


def test_two_rails_that_read_alike_are_joined_where_parts_are_missing() -> None:
    assert hidden_links(without_the_coil(0.3), Facts(readings=LOW)) == (("SW", "V33"),)


def test_nothing_is_joined_on_a_whole_map_or_where_readings_differ() -> None:
    apart = (LOW[0], replace(LOW[1], value=3.0))
    assert hidden_links(without_the_coil(0.0), Facts(readings=LOW)) == ()
    assert hidden_links(without_the_coil(0.3), Facts(readings=apart)) == ()


def test_a_part_of_the_map_between_two_rails_needs_no_hidden_one() -> None:
    assert hidden_links(replace(small_board(), unmapped_share=0.3), Facts(readings=LOW)) == ()


def behind_a_switch(*, drawn: bool) -> Board:
    """A sense resistor behind the load switch, whose far side has a net of its own."""
    board = replace(small_board(), unmapped_share=0.3)
    nets = (*board.nets, replace(board.net("VSW"), name="VSENSED"))
    parts = tuple(part for part in board.parts if drawn or part.name != "Q1")
    return replace(board, nets=nets, parts=(*parts, two("R9", "sense", "VSW", "VSENSED", 0.01)))


def test_a_switch_on_the_map_may_join_what_metal_carries_on_from_it() -> None:
    """A switch that is through and a sense resistor behind it: two mapped parts are between, not a hidden one."""
    across = (Reading(Quantity.OHMS, "V33", "VSENSED", 0.2, key="e1"),)
    assert hidden_links(behind_a_switch(drawn=True), Facts(readings=across)) == ()
    assert hidden_links(behind_a_switch(drawn=False), Facts(readings=across)) == (("V33", "VSENSED"),)
    alike = (
        Reading(Quantity.OHMS, "V33", "GND", 2860.0, key="e1"),
        Reading(Quantity.OHMS, "VSENSED", "GND", 2861.0, key="e2"),
    )
    assert may_be_joined(behind_a_switch(drawn=True), Facts(readings=alike)) == ()
    assert may_be_joined(behind_a_switch(drawn=False), Facts(readings=alike)) == (("V33", "VSENSED"),)
    own = (Reading(Quantity.OHMS, "VSW", "GND", 1.2, key="e1"), Reading(Quantity.OHMS, "VSENSED", "GND", 1.2, key="e2"))
    assert hidden_links(behind_a_switch(drawn=False), Facts(readings=own)) == ()


def test_a_fault_behind_a_hidden_coil_is_looked_for_on_the_rail_itself() -> None:
    facts = Facts(readings=LOW, entries=ENTRY, acts=(Act(Deed.STILL_DEAD, "", "e3"),))
    posterior, _ = diagnose(without_the_coil(0.3), facts)
    on_rail = posterior.roster.at("C3") | posterior.roster.at("C4") | posterior.roster.at("U2")
    assert posterior.probabilities[on_rail].sum() > 0.3


def test_other_rails_are_compared_while_something_off_the_map_is_blamed() -> None:
    board = without_the_coil(0.3)
    bare = replace(
        board,
        parts=(*(p for p in board.parts if p.name not in ("U1", "C6")), two("C9", "capacitor", "SW", "GND")),
    )
    facts = Facts(
        readings=(
            LOW[0],
            replace(LOW[0], state=BoardState(off=frozenset({"C9"})), key="e5"),
        ),
        entries=ENTRY,
        state=BoardState(off=frozenset({"C9"})),
        acts=(Act(Deed.STILL_DEAD, "", "e3"), Act(Deed.TOOK_OFF, "C9", "e4")),
    )
    posterior, diagnosis = diagnose(bare, facts)
    advice = advise(bare, facts, posterior, diagnosis)
    assert any(test.title.startswith("Compare ohms, from V33") for test in advice.tests)


def test_rails_are_compared_before_a_converter_without_a_drawn_coil_comes_off() -> None:
    """Behind a switch node there is a coil, drawn or not, and behind that a rail that may carry the fault."""
    facts = Facts(readings=(LOW[0],), entries=ENTRY, acts=(Act(Deed.STILL_DEAD, "", "e3"),))
    board = without_the_coil(0.3)
    posterior, diagnosis = diagnose(board, facts)
    on_switch = [k for k, d in enumerate(posterior.roster.defects) if "U1" in d.part]
    assert posterior.by_defect[on_switch].sum() > 0.5
    first = advise(board, facts, posterior, diagnosis).tests[0]
    assert first.title.startswith("Compare ohms, from V33")


def test_an_unmarked_part_with_its_own_reading_is_what_it_reads() -> None:
    """A resistor found by itself clears nothing: the fault elsewhere stays as likely as it was."""
    board = replace(
        small_board(), parts=(*small_board().parts, Part("X9", "unknown-two-pads", (Pin("1", "IO1"), Pin("2", "GND"))))
    )
    before = Facts(readings=(LOW[1],), entries=ENTRY)
    state = BoardState(off=frozenset({"X9"}))
    own = Reading(Quantity.PART_OHMS, "X9.1", "X9.2", 10_000.0, state, key="e7")
    after = replace(before, readings=(*before.readings, own), state=state)
    first, second = diagnose(board, before)[0], diagnose(board, after)[0]
    assert ("X9", "resistor") in second.taken
    rail = [float(p.probabilities[p.roster.at("C3")].sum()) for p in (first, second)]
    assert abs(rail[0] - rail[1]) < 0.05


def test_a_board_that_works_is_not_searched() -> None:
    facts = Facts(entries=ENTRY, acts=(Act(Deed.WORKS, "", "e1"),))
    posterior, diagnosis = diagnose(small_board(), facts)
    advice = advise(small_board(), facts, posterior, diagnosis)
    assert advice.tests == ()
    assert "works" in advice.stop


def test_readings_alone_never_claim_that_nothing_is_wrong() -> None:
    sound = tuple(
        Reading(Quantity.OHMS, net, "GND", ohms, key=f"e{k}")
        for k, (net, ohms) in enumerate((("V33", 6e3), ("VF", 4e4), ("VCC", 5e4), ("SW", 6e3), ("IO1", 9e3)))
    )
    _, diagnosis = diagnose(small_board(), Facts(readings=sound, entries=ENTRY))
    assert not any(claim.level is not Level.PROVEN and "nothing" in claim.words for claim in diagnosis.claims)


def test_a_cure_proves_nothing_of_a_board_nobody_saw_dead() -> None:
    cured = (Act(Deed.REPLACED, "C3", "e2"), Act(Deed.WORKS, "C3", "e3"))
    state = BoardState(replaced=frozenset({"C3"}))
    readings = (LOW[1], replace(LOW[1], value=6e3, state=state, key="e4"))
    for seen_dead in (False, True):
        acts = ((Act(Deed.STILL_DEAD, "", "e1"),) if seen_dead else ()) + tuple(replace(a, state=state) for a in cured)
        facts = Facts(readings=readings, entries=ENTRY, acts=acts, state=state)
        _, diagnosis = diagnose(small_board(), facts)
        assert any(claim.level is Level.PROVEN for claim in diagnosis.claims) is seen_dead


def test_a_doubtful_reading_is_taken_again_once() -> None:
    odd = Reading(Quantity.DIODE, "GND", "FB", 1.9, key="e8")
    facts = Facts(readings=(replace(LOW[1], value=6e3), odd), entries=ENTRY)
    board = replace(small_board(), nets=tuple(replace(n) for n in small_board().nets))
    posterior, diagnosis = diagnose(board, facts)
    again = [t for t in advise(board, facts, posterior, diagnosis).tests if t.title.startswith("Read again")]
    assert [t.steps[-1].black for t in again] == ["FB"]
    twice = replace(facts, readings=(*facts.readings, replace(odd, key="e9")))
    posterior, diagnosis = diagnose(board, twice)
    assert not any(t.title.startswith("Read again") for t in advise(board, twice, posterior, diagnosis).tests)
