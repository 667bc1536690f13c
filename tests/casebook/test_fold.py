"""Undo, amend and the states readings belong to."""

import pytest
from tests.casebook.boards import two_capacitors

from ohmwright.casebook import Amended, CaseOpened, Event, Happening, Undone, casebook_of, facts_of
from ohmwright.casebook import events as h
from ohmwright.circuit import Feed, Part, Pin
from ohmwright.errors import DataError
from ohmwright.facts import Deed, Quantity

FEED = Feed("VIN", "GND", 0.5, 1.0)


def case(*happenings: Happening) -> tuple[Event, ...]:
    """Events numbered from 1, the opening first."""
    return tuple(
        Event(n, "2026-01-01T00:00:00Z", "kim", w) for n, w in enumerate((CaseOpened(two_capacitors()), *happenings), 1)
    )


def diode(value: float | None, red: str = "VIN") -> h.ReadingRecorded:
    """A reading against ground. [V]"""
    return h.ReadingRecorded(Quantity.DIODE, red, "GND", value)


def test_reading_belongs_to_the_state_it_was_taken_in():
    """A part taken off between two readings divides them."""
    facts = facts_of(case(diode(0.1), h.PartTakenOff("C1"), diode(0.4)))

    assert [r.state.off for r in facts.readings] == [frozenset(), frozenset({"C1"})]
    assert [r.key for r in facts.readings] == ["e2", "e4"]


def test_feeding_charges_the_board_until_it_is_discharged():
    """Switching off is not discharging."""
    fed = case(h.FeedSet(FEED), h.FeedOff())

    assert not facts_of(fed).discharged
    assert facts_of((*fed, Event(4, "", "", h.Discharged()))).discharged


def test_undo_and_undo_of_the_undo():
    """Nothing is erased, so an undo can be taken back."""
    events = case(diode(0.1), Undone(2))

    assert facts_of(events).readings == ()
    assert len(facts_of((*events, Event(4, "", "", Undone(3)))).readings) == 1


def test_undo_lists_what_rested_on_it():
    """Volts need a feed: without it the reading is an orphan, and shown."""
    book = casebook_of(case(h.FeedSet(FEED), h.ReadingRecorded(Quantity.VOLTS, "VSYS", "GND", 0.4), Undone(2)))

    assert [o.sequence for o in book.orphans] == [3]
    assert book.facts.readings == ()


def test_undoing_a_lift_leaves_the_reading_of_the_loose_part_an_orphan():
    """A part that never came off was never read by itself."""
    loose = h.ReadingRecorded(Quantity.PART_OHMS, "C1.1", "C1.2", 0.2)
    book = casebook_of(case(h.PartTakenOff("C1"), loose, Undone(2)))

    assert [o.sequence for o in book.orphans] == [3]


def test_amended_figures_take_the_place_of_the_old():
    """The reason then cites the amendment."""
    facts = facts_of(case(diode(0.1), Amended(2, diode(0.4))))

    assert [(r.value, r.key) for r in facts.readings] == [(0.4, "e3")]


def test_forgotten_act_is_put_in_before_the_reading_it_matters_to():
    """'I had already lifted that coil.'"""
    facts = facts_of(case(diode(0.1), diode(0.4), Amended(0, h.PartTakenOff("L1"), position=3)))

    assert [r.state.off for r in facts.readings] == [frozenset(), frozenset({"L1"})]


def test_undone_amendment_brings_the_first_entry_back():
    """An amendment is an event like any other."""
    facts = facts_of(case(diode(0.1), Amended(2, diode(0.4)), Undone(3)))

    assert [r.value for r in facts.readings] == [0.1]


def test_amendment_of_an_amendment():
    """The chain is followed from any of its links."""
    facts = facts_of(case(diode(0.1), Amended(2, diode(0.2)), Amended(2, diode(0.3)), Amended(3, diode(0.4))))

    assert [r.value for r in facts.readings] == [0.4]


def test_replacing_and_trying_is_one_story():
    """The trial names the part repaired last."""
    facts = facts_of(case(h.PartTakenOff("C1"), h.PartReplaced("C1"), h.BoardTried(True)))

    assert [(a.deed, a.part) for a in facts.acts][-1] == (Deed.WORKS, "C1")
    assert facts.state.off == frozenset()
    assert facts.state.replaced == frozenset({"C1"})


def test_skipped_test_is_offered_again_once_the_board_changed():
    """What was not worth it before may be worth it now."""
    events = case(h.TestSkipped("read VIN"), h.PartTakenOff("C1"))

    assert facts_of(events[:2]).skipped == ("read VIN",)
    assert facts_of(events).skipped == ()


def test_joined_pads_make_a_net_and_contradictions_are_named():
    """Events name pads; two nets that should be one are an orphaned entry with its reason."""
    placed = h.PartPlaced(Part("R9", "resistor", (Pin("1"), Pin("2"))))
    book = casebook_of(case(placed, h.PadsJoined("R9.1", "C1.1"), h.PadsJoined("C1.1", "C2.1")))

    assert book.board.net_at("R9.1") == "VIN"
    assert [o.sequence for o in book.orphans] == [4]
    assert "two different nets" in book.orphans[0].why


def test_events_must_begin_with_an_opening():
    """A case without a board is none."""
    with pytest.raises(DataError, match="opening"):
        casebook_of(case(diode(0.1))[1:])
