"""Commands in, events and answers out."""

from dataclasses import replace

import pytest
from tests.casebook.boards import two_capacitors
from tests.usecases.fakes import FakeBench, fake_desk

from ohmwright import usecases
from ohmwright.casebook import events as h
from ohmwright.circuit import Feed
from ohmwright.errors import CaseConflictError, DataError, InstrumentError, RefusedError, UnknownNameError
from ohmwright.facts import HeatFinding, LookFinding, Quantity, Symptom
from ohmwright.planning.advice import Step, Test, TestKind


@pytest.fixture
def desk():
    """A desk with one case."""
    made = fake_desk()
    usecases.open_case(made, "lamp", two_capacitors(), symptom=Symptom.DEAD)
    return made


def last(desk):
    """What was written last."""
    return desk.store.events("lamp")[-1].what


@pytest.mark.parametrize(
    ("text", "value"), [("0.425", 0.425), (".425", 0.425), ("OL", None), ("o", None), ("z", 0.0), ("425m", 0.425)]
)
def test_figures_as_the_bench_writes_them(desk, text, value):
    """Text, overload and one key."""
    view = usecases.record_reading(desk, "lamp", "diode", "VIN", "GND", text)

    assert view.facts.readings[-1].value == value


def test_ohms_with_a_letter_for_the_point(desk):
    """IEC 60062: 4k7 is 4700 ohm."""
    assert usecases.record_reading(desk, "lamp", "ohms", "VIN", "GND", "4k7").facts.readings[-1].value == 4700.0


def test_as_expected_is_recorded_no_finer_than_the_expectation(desk):
    """The middle of the healthy hump, at a resolution of half its width, and said to be so."""
    reading = usecases.record_reading(desk, "lamp", "diode", "VIN", "GND", "e").facts.readings[-1]

    assert reading.value == pytest.approx(0.45)
    assert reading.meter.diode_resolution == pytest.approx(0.05)
    assert last(desk).entered == "as expected"


def test_near_zero_is_no_exact_zero(desk):
    """Its meter is coarser than the usual one."""
    reading = usecases.record_reading(desk, "lamp", "ohms", "VIN", "GND", "near zero").facts.readings[-1]

    assert (reading.value, reading.meter.ohms_resolution) == (0.0, 1.0)


def test_same_as_before_repeats_the_last_at_those_points(desk):
    """Also after the board changed, where it says that nothing changed."""
    usecases.record_reading(desk, "lamp", "diode", "VIN", "GND", "0.123")
    usecases.take_off(desk, "lamp", "L1")
    view = usecases.record_reading(desk, "lamp", "diode", "VIN", "GND", "s")

    assert [r.value for r in view.facts.readings] == [0.123, 0.123]
    assert view.facts.readings[-1].state.off == {"L1"}


@pytest.mark.parametrize(
    ("quantity", "red", "value"),
    [("diode", "VIN", "banana"), ("diode", "VIM", "0.4"), ("ohm", "VIN", "1"), ("volts", "VIN", "1"),
     ("diode", "VSYS", "e"), ("diode", "VSYS", "s"), ("part ohms", "C1.1", "1")],
)  # fmt: skip
def test_bad_readings_are_refused_and_nothing_is_written(desk, quantity, red, value):
    """What, where, and what to try."""
    before = desk.store.events("lamp")

    with pytest.raises(DataError) as caught:
        usecases.record_reading(desk, "lamp", quantity, red, "GND", value)
    assert caught.value.hint
    assert desk.store.events("lamp") == before


def test_feed_beyond_a_gate_is_refused_with_its_name(desk):
    """And the hint says what to do first."""
    with pytest.raises(RefusedError, match="more than") as caught:
        usecases.set_feed(desk, "lamp", Feed("VIN", "GND", 5.0, 1.0))
    assert "first feed" in caught.value.where
    assert isinstance(last(desk), h.SymptomTold)


def test_reason_passes_gates_and_stays_on_record(desk):
    """Each gate passed is an event of its own, before the feed."""
    view, permit = usecases.set_feed(desk, "lamp", Feed("VIN", "GND", 5.0, 1.0), override="coils measured at noon")

    assert [(o.gate, o.reason) for o in view.facts.overrides] == [
        ("first feed", "coils measured at noon"), ("coils", "coils measured at noon"),
    ]  # fmt: skip
    assert permit.notices
    assert not view.facts.discharged


def test_no_reason_passes_a_gate_that_may_not_be_passed(desk):
    """Nor does a blank one pass those that may."""
    with pytest.raises(RefusedError, match="60 V"):
        usecases.set_feed(desk, "lamp", Feed("VIN", "GND", 100.0, 1.0), override="I am sure")
    with pytest.raises(RefusedError):
        usecases.set_feed(desk, "lamp", Feed("VIN", "GND", 5.0, 1.0), override="  ")
    assert not usecases.view_of(desk, "lamp").facts.overrides


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -1.0])
def test_a_figure_that_slips_through_comparisons_is_refused(desk, bad):
    """Not-a-number is neither above nor below any limit of the safety rules."""
    for feed in (Feed("VIN", "GND", bad, 1.0), Feed("VIN", "GND", 0.5, bad)):
        with pytest.raises(DataError, match="cannot be"):
            usecases.set_feed(desk, "lamp", feed)
    with pytest.raises(DataError, match="cannot be"):
        usecases.describe_entry(desk, "lamp", h.EntryDescribed("VIN", bad))


def test_feed_is_on_record_before_the_supply_goes_on(desk):
    """A supply that fails is switched off, and the board counts as charged."""
    seen = []

    class Failing(FakeBench):
        def feed(self, permit):
            seen.append(isinstance(last(desk), h.FeedSet))
            raise InstrumentError("the supply does not answer")

    bench = Failing({})
    step = Step("feed", feed=Feed("VIN", "GND", 0.5, 1.0))
    with pytest.raises(InstrumentError):
        usecases.run_test(desk, "lamp", Test(TestKind.FEED, "Feed", "", (step,), 1, 0, 1, 1), bench)
    facts = usecases.view_of(desk, "lamp").facts

    assert seen == [True]
    assert bench.done == ["feed off"]
    assert facts.state.feed is None
    assert not facts.discharged


def test_heat_needs_to_know_the_watts(desk):
    """Taken from the supply's own figures in the same state."""
    usecases.set_feed(desk, "lamp", Feed("VIN", "GND", 0.5, 1.0))
    with pytest.raises(DataError, match="power"):
        usecases.record_heat(desk, "lamp", HeatFinding.NOTHING, ())
    usecases.record_reading(desk, "lamp", "supply volts", "VIN", "GND", 0.5)
    usecases.record_reading(desk, "lamp", "supply amps", "VIN", "GND", 0.8)

    assert usecases.record_heat(desk, "lamp", HeatFinding.PART, ("C1",)).facts.heats[0].watts == pytest.approx(0.4)


def test_undo_takes_back_the_last_that_counts(desk):
    """Twice undone is two entries, not one and its undo."""
    usecases.record_look(desk, "lamp", ("C1",), LookFinding.CRACK)
    usecases.take_off(desk, "lamp", "C1")
    usecases.undo(desk, "lamp")
    view = usecases.undo(desk, "lamp")

    assert view.facts.looks == ()
    assert view.facts.acts == ()
    assert view.facts.symptom is Symptom.DEAD


def test_undo_of_what_is_not_there(desk):
    """And of what must stay."""
    with pytest.raises(UnknownNameError):
        usecases.undo(desk, "lamp", 99)
    with pytest.raises(DataError, match="opening"):
        usecases.undo(desk, "lamp", 1)


def test_amendment_that_cannot_stand_is_refused(desk):
    """Volts on an unfed board."""
    usecases.record_reading(desk, "lamp", "diode", "VIN", "GND", "0.4")

    with pytest.raises(DataError):
        usecases.amend(desk, "lamp", 3, h.ReadingRecorded(Quantity.VOLTS, "VIN", "GND", 1.0))
    assert (
        usecases.amend(desk, "lamp", 3, h.ReadingRecorded(Quantity.DIODE, "VIN", "GND", 0.5)).facts.readings[0].value
        == 0.5
    )


def test_stale_sequence_is_a_conflict(desk):
    """Another bench was faster."""
    usecases.take_off(desk, "lamp", "C1", expected=2)

    with pytest.raises(CaseConflictError):
        usecases.refit(desk, "lamp", "C1", expected=2)


def test_why_names_the_reading(desk):
    """And offers the nearest suspect for a slip."""
    view = usecases.record_reading(desk, "lamp", "diode", "VIN", "GND", "z")

    assert usecases.why(view, "C1")[0].reasons[0].event == "e3"
    with pytest.raises(UnknownNameError):
        usecases.why(view, "C9")


class Silent:
    """Watches, and types what it was given."""

    def __init__(self, typed=""):
        self.typed, self.refusals, self.cautions, self.unread = typed, 0, [], 0

    def before_test(self, view, test):
        self.cautions += [c.code for c in test.cautions]
        return True

    def figures(self, step):
        return self.typed if step.quantity == "diode" else ""

    def after_step(self, step, entries):
        pass

    def mind(self, cautions):
        self.cautions += cautions

    def unreadable(self, error):
        self.unread += 1
        self.typed = "z"

    def refused(self, error):
        self.refusals += 1


@pytest.mark.parametrize("typed", ["", "z", "0.002", "banana"])
def test_whole_case_to_the_proof(desk, typed):
    """A refused feed is passed over; each step is on record before the next; the proof names its signs."""
    bench = FakeBench({"diode": 0.002, "part ohms": 0.1})
    onlooker = Silent(typed)
    view = usecases.work_through(desk, "lamp", bench, onlooker)

    assert view.diagnosis.claims[0].part == "C1"
    assert onlooker.unread == (typed == "banana")
    assert (onlooker.refusals, onlooker.cautions, bench.done) == (1, ["discharge"], ["off C1"])
    report = usecases.write_up(view)
    assert "proven: C1 is shorted" in report
    assert "sign 2" in report
    assert "C1 is still off the board" in report
    assert "**" not in usecases.write_up(view, markdown=False)


def test_fed_test_is_left_switched_off(desk):
    """Nobody walks away from a fed board, even when the case is cut short."""
    feed = Test(TestKind.FEED, "Feed", "", (Step("feed", feed=Feed("VIN", "GND", 0.5, 1.0)),), 1, 0, 1, 1)
    think = desk.engine.think
    thought = think(two_capacitors(), usecases.view_of(desk, "lamp").facts)
    only_feed = replace(desk.engine, think=lambda b, f: replace(thought, advice=replace(thought.advice, tests=(feed,))))
    bench = FakeBench({})
    onlooker = Silent()
    view = usecases.work_through(replace(desk, engine=only_feed), "lamp", bench, onlooker, most=1)

    assert bench.done == ["feed", "feed off"]
    assert onlooker.cautions == ["Shield your eyes; local rules apply."]
    assert view.facts.state.feed is None
