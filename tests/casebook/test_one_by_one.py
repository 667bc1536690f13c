"""A case told one event at a time is the case told whole, whatever is entered, taken back or put right."""

from hypothesis import given, settings
from hypothesis import strategies as st

from ohmwright.casebook import Amended, CaseOpened, Event, Undone, casebook_after, casebook_of
from ohmwright.casebook import events as h
from ohmwright.circuit import Board, Feed, Net, Part, Pin
from ohmwright.facts import LookFinding, Quantity
from ohmwright.geometry import Pad

BLANK = Board("lamp", "GND", (Net("GND"),), ())
PARTS = {"C1": "capacitor", "C2": "capacitor", "L1": "coil", "F1": "fuse", "U1": "buck"}
PADS = [f"{name}.{pin}" for name in PARTS for pin in ("1", "2")]


def laid(name, kind):
    pins = (Pin("1"), Pin("2"))
    pads = tuple(Pad(name, pin.number, float(n), 0.0, 0.5, 0.5, 0.0, "top") for n, pin in enumerate(pins))
    return h.PartMapped(Part(name, kind, pins), pads)


pad = st.sampled_from(PADS)
part = st.sampled_from(sorted(PARTS))
point = st.one_of(pad, st.just("GND"))
entries = st.one_of(
    st.builds(laid, part, st.sampled_from(["capacitor", "coil", "fuse"])),
    st.builds(h.PadsJoined, pad, pad), st.builds(h.PadsJoined, pad, pad), st.builds(h.PadsApart, pad, pad),
    st.builds(h.NetTold, pad, st.sampled_from(["", "V12", "V33"]), st.booleans()), st.builds(h.PartErased, part),
    st.builds(h.ReadingRecorded, st.sampled_from([Quantity.OHMS, Quantity.DIODE]), point, point,
              st.sampled_from([None, 0.1, 0.4, 900.0])),
    st.builds(h.LookRecorded, st.tuples(part), st.sampled_from(list(LookFinding))),
    st.builds(h.PartTakenOff, part), st.builds(h.PartRefitted, part),
    st.builds(h.FeedSet, st.builds(Feed, pad, st.just("GND"), st.just(1.0), st.just(1.0))), st.just(h.FeedOff()),
    st.just(h.ScaleSet(2.0, "told")), st.just(h.Inspected("top", 0.0, 0.0, 5.0, 5.0, 10.0)),
)  # fmt: skip


@st.composite
def stories(draw):
    told = [CaseOpened(BLANK), *(laid(name, kind) for name, kind in draw(st.permutations(sorted(PARTS.items()))))]
    for _ in range(draw(st.integers(0, 22))):
        number = st.integers(2, len(told))
        told.append(
            draw(
                st.one_of(
                    entries, entries, entries, st.builds(Undone, number),
                    st.builds(Amended, st.one_of(number, st.just(0)), entries, st.one_of(number, st.just(0))),
                )
            )
        )  # fmt: skip
    return [Event(n + 1, "2026-01-01T00:00:00.000+00:00", "me", what) for n, what in enumerate(told)]


@settings(max_examples=70, deadline=None)
@given(stories())
def test_one_event_at_a_time_is_the_same_as_all_at_once(events):
    book = casebook_of(events[:1])
    for n, event in enumerate(events[1:], 2):
        book = casebook_after(book, event)
        assert book == casebook_of(events[:n])


def test_marks_stay_few_and_an_old_entry_can_be_taken_back():
    told = [CaseOpened(BLANK), *(laid(name, kind) for name, kind in PARTS.items())]
    told += [h.ScaleSet(1.0 + 0.001 * n, "told") for n in range(300)]
    events = [Event(n + 1, "", "me", what) for n, what in enumerate(told)]
    book = casebook_of(events[:1])
    for event in events[1:]:
        book = casebook_after(book, event)
    assert len(book.marks) < 30
    back = Event(len(events) + 1, "", "me", Undone(100))
    assert casebook_after(book, back) == casebook_of([*events, back])


@st.composite
def turns(draw):
    """Beeps around a part of which it is told only later that it conducts: what earlier beeps meant changes."""
    near = ["C1.1", "C2.1", "F1.1", "F1.2"]
    told = [CaseOpened(BLANK), *(laid(name, "capacitor") for name in ("C1", "C2", "F1"))]
    beeps = st.builds(h.PadsJoined, st.sampled_from(near), st.sampled_from(near))
    other = st.one_of(
        st.builds(laid, st.just("F1"), st.sampled_from(["fuse", "capacitor"])), st.just(h.PadsApart("C1.1", "C2.1"))
    )
    for _ in range(draw(st.integers(3, 10))):
        told.append(draw(st.one_of(beeps, beeps, other, st.builds(Undone, st.integers(5, max(5, len(told)))))))
    return [Event(n + 1, "2026-01-01T00:00:00.000+00:00", "me", what) for n, what in enumerate(told)]


@settings(max_examples=120, deadline=None)
@given(turns())
def test_what_a_beep_meant_may_change_later(events):
    book = casebook_of(events[:1])
    for n, event in enumerate(events[1:], 2):
        book = casebook_after(book, event)
        assert book == casebook_of(events[:n])
