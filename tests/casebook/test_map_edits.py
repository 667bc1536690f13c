"""A map that grows: joins, names, contradictions, undo, and readings that keep their points."""

from itertools import permutations

import pytest

from ohmwright.casebook import Event, Undone, casebook_of
from ohmwright.casebook import events as h
from ohmwright.casebook.disagreeing import disagreements
from ohmwright.casebook.map_edits import is_unnamed
from ohmwright.circuit import Board, Feed, Net, Part, Pin
from ohmwright.errors import DataError
from ohmwright.facts import Quantity
from ohmwright.geometry import Pad

BLANK = Board("lamp", "GND", (Net("GND"),), ())


def laid(name, kind="capacitor", count=2):
    pins = tuple(Pin(str(n + 1)) for n in range(count))
    pads = tuple(Pad(name, pin.number, float(n), 0.0, 0.5, 0.5, 0.0, "top") for n, pin in enumerate(pins))
    return h.PartMapped(Part(name, kind, pins), pads)


def book(*entries):
    happenings = (h.CaseOpened(BLANK), *entries)
    return casebook_of([Event(n + 1, "2026-01-01T00:00:00.000+00:00", "me", what) for n, what in enumerate(happenings)])


def test_nets_grow_together_and_readings_keep_their_points():
    """Two nets found apart become one by a third join; what was read at the net that went is at the one that stays."""
    parts = (laid("C1"), laid("C2"), laid("C3"), laid("C4"))
    before = book(*parts, h.PadsJoined("C1.1", "C2.1"), h.PadsJoined("C3.1", "C4.1"))
    gone = before.board.net_at("C3.1")
    assert is_unnamed(gone)
    entries = [e.what for e in before.events[1:]]
    after = book(
        *entries, h.ReadingRecorded(Quantity.OHMS, gone, "GND", 5.0), h.PadsJoined("C1.1", "C4.1"),
        h.NetTold("C2.1", "V12", nominal=1.2),
    )  # fmt: skip
    assert {after.board.net_at(f"C{n}.1") for n in (1, 2, 3, 4)} == {"V12"}
    assert [net.name for net in after.board.nets] == ["GND", "V12"]
    assert after.board.net("V12").rail
    assert after.facts.readings[0].red == "V12"
    assert not after.orphans


def test_two_names_on_one_copper_are_a_contradiction():
    """The names stay, the beep stays on record, and both are shown beside each other."""
    parts = (laid("C1"), laid("C2"))
    named = (h.NetTold("C1.1", "V12"), h.NetTold("C2.1", "V33"))
    clash = book(*parts, *named, h.PadsJoined("C1.1", "C2.1"))
    assert not clash.orphans
    assert clash.board.net_at("C2.1") == "V33"
    (told,) = disagreements(clash)
    assert set(told.entries) == {5, 6}
    assert set(told.others) == {4}
    assert disagreements(book(*parts, *named)) == ()


def test_a_name_is_not_given_to_two_coppers_that_have_their_own():
    parts = (laid("C1"), laid("C2"))
    clash = book(*parts, h.NetTold("C1.1", "V12"), h.NetTold("C2.1", "V33"), h.NetTold("C1.1", "V33"))
    assert "two different nets" in clash.orphans[0].why


def test_a_beep_through_a_coil_joins_nothing():
    """A coil conducts: its two ends are never one net because they buzz, in whatever order that was heard."""
    parts = (laid("L1", "coil"), laid("C1"), laid("C2"))
    beeps = (h.PadsJoined("L1.1", "C1.1"), h.PadsJoined("L1.2", "C2.1"), h.PadsJoined("C1.1", "C2.1"))
    for order in permutations(beeps):
        heard = book(*parts, *order)
        assert heard.board.net_at("C1.1") == heard.board.net_at("L1.1")
        assert heard.board.net_at("C2.1") == heard.board.net_at("L1.2")
        assert heard.board.net_at("C1.1") != heard.board.net_at("C2.1")
        assert not heard.orphans
        assert not disagreements(heard)


def test_what_is_told_later_of_a_part_changes_what_a_beep_meant():
    """Two pads buzz; later the part between them turns out to be a coil."""
    parts = (laid("X1", "unknown-two-pads"), laid("C1"), laid("C2"))
    beeps = (h.PadsJoined("X1.1", "C1.1"), h.PadsJoined("X1.2", "C2.1"), h.PadsJoined("C1.1", "C2.1"))
    assert book(*parts, *beeps).board.net_at("C1.1") == book(*parts, *beeps).board.net_at("C2.1")
    after = book(*parts, *beeps, laid("X1", "coil"))
    assert after.board.net_at("C1.1") != after.board.net_at("C2.1")


def test_silence_forbids_and_an_earlier_beep_stands():
    parts = (laid("C1"), laid("C2"), laid("C3"))
    quiet = book(*parts, h.PadsJoined("C1.1", "C2.1"), h.PadsApart("C1.1", "C3.1"), h.PadsJoined("C2.1", "C3.1"))
    assert quiet.board.net_at("C2.1") != quiet.board.net_at("C3.1")
    (told,) = disagreements(quiet)
    assert told.entries == (6, 7)
    undone = book(*(e.what for e in quiet.events[1:]), Undone(6))
    assert undone.board.net_at("C1.1") == undone.board.net_at("C3.1")
    assert not disagreements(undone)


def test_a_reading_of_many_ohms_is_a_silence():
    read = h.ReadingRecorded(Quantity.OHMS, "C1.1", "C2.1", 4700.0)
    apart = book(laid("C1"), laid("C2"), read, h.PadsJoined("C1.1", "C2.1"))
    assert apart.board.net_at("C1.1") != apart.board.net_at("C2.1")
    ground = h.ReadingRecorded(Quantity.DIODE, "C1.1", "GND", 0.45)
    (told,) = disagreements(book(laid("C1"), ground, h.NetTold("C1.1", ground=True)))
    assert told.entries == (3, 4)


def test_ground_is_one_net_and_gives_chips_their_role():
    grown = book(laid("U1", "buck", 3), laid("C1"), h.PadsJoined("U1.3", "C1.2"), h.NetTold("C1.2", ground=True))
    assert grown.board.net_at("U1.3") == "GND"
    assert grown.board.part("U1").pin("3").role == "GND"


def test_undo_takes_a_join_back_and_what_rests_on_a_part_is_told():
    parts = (laid("C1"), laid("C2"))
    joined = (*parts, h.PadsJoined("C1.1", "C2.1"))
    assert book(*joined, Undone(4)).board.part("C1").pin("1").net is None
    read = h.ReadingRecorded(Quantity.DIODE, "C1.1", "GND", 0.4)
    lost = book(*joined, read, Undone(2))
    assert {orphan.sequence for orphan in lost.orphans} == {4, 5}


def test_a_pad_that_is_read_gets_a_net_of_its_own():
    seen = book(laid("C1"), h.ReadingRecorded(Quantity.DIODE, "C1.1", "GND", 0.4))
    assert seen.board.net_at("C1.1") == "the C1.1 net"
    assert not seen.orphans


def test_a_part_laid_anew_keeps_what_is_known_of_its_pins():
    first = book(laid("C1"), laid("C2"), h.PadsJoined("C1.1", "C2.1"), h.PinNamed("C1.1", "", "plus"), laid("C1"))
    pin = first.board.part("C1").pin("1")
    assert (pin.net, pin.name) == (first.board.net_at("C2.1"), "plus")


def test_a_part_that_was_read_at_is_not_erased():
    used = book(laid("C1"), h.ReadingRecorded(Quantity.DIODE, "C1.1", "GND", 0.4), h.PartErased("C1"))
    assert "C1" in used.board.part_by_name
    assert "measured" in used.orphans[0].why
    assert "C1" not in book(laid("C1"), h.PartErased("C1")).board.part_by_name
    fed = book(laid("C1"), h.FeedSet(Feed("C1.1", "GND", 0.5, 1.0)), h.PartErased("C1"))
    assert fed.orphans


def test_a_new_part_of_an_old_name_does_not_get_its_copper():
    """C1 is erased while its net lives on at C2; another C1 starts a net of its own."""
    again = book(
        laid("C1"), laid("C2"), laid("C3"), h.PadsJoined("C1.1", "C2.1"), h.PartErased("C1"), laid("C1"),
        h.PadsJoined("C1.1", "C3.1"),
    )  # fmt: skip
    assert again.board.net_at("C1.1") != again.board.net_at("C2.1")


@pytest.mark.parametrize(
    "bad",
    [
        laid("C 1"), laid("GND"), laid("C1", "capacitator"),
        h.PartMapped(Part("C1", "capacitor", (Pin("1", "GND"), Pin("2"))), laid("C1").pads),
        h.PartMapped(Part("C1", "capacitor", (Pin("1"), Pin("2"))), laid("C2").pads),
        h.PartMapped(Part("C1", "capacitor", (Pin("1"), Pin("1"))), laid("C1").pads),
        h.ScaleSet(0.0), h.ScaleSet(1e9), h.NetTold("C9.1", "V12"), h.PadsJoined("C9.1", "C8.1"),
    ],
)  # fmt: skip
def test_bad_edits_change_nothing(bad):
    there = book(bad)
    assert len(there.orphans) == 1
    assert there.board == BLANK


def test_names_of_nets_are_plain():
    for name in ("a.b", "x" * 60, "the C1.1 net", "C1"):
        assert book(laid("C1"), h.NetTold("C1.1", name)).orphans, name
    with pytest.raises(DataError):
        book(laid("C1"), h.NetTold("C1.1", "V", nominal=2e6)).board.net("V")
