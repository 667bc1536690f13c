"""A trace on record: judged, kept, laid beside the earlier one; and files that are no traces."""

from dataclasses import replace

import pytest
from tests.casebook.boards import two_capacitors
from tests.traces.made import made

from ohmwright.bootstrap import desk_at
from ohmwright.casebook.events import EntryDescribed, FeedSet
from ohmwright.circuit import Feed
from ohmwright.errors import DataError, FileFormatError, InstrumentError, ReadingError
from ohmwright.facts import Behaviour
from ohmwright.usecases.desk import book_of, record
from ohmwright.usecases.open_case import open_case
from ohmwright.usecases.ports import SupplyReading
from ohmwright.usecases.sweep_supply import knee_words, pairs_from_words
from ohmwright.usecases.trace_supply import log_supply, record_trace, trace_from_csv, trace_lines
from ohmwright.usecases.trace_views import trace_list, trace_shown

FEED = Feed("VIN", "GND", 0.8, 1.0)
RETRIES = [(20, lambda x: 0.02 + 0.13 * (x % 1.4 < 0.5))]


@pytest.fixture
def desk():
    made_desk = desk_at(memory=True)
    open_case(made_desk, "lamp", two_capacitors())
    record(made_desk, "lamp", EntryDescribed("VIN", 24.0, True, True), FeedSet(FEED))
    return made_desk


def test_a_trace_is_judged_kept_and_laid_beside_the_one_before(desk):
    view, first = record_trace(desk, "lamp", made([(2, 0.02), (8, 0.2)], volts=0.8), good=True)
    view, second = record_trace(desk, "lamp", made([(2, 0.02), (2, 0.2), (6, 0.05)], volts=0.8, seed=3))
    assert [t.behaviour for t in view.facts.traces] == [first.behaviour, second.behaviour]
    name, like = second.beside[0]
    assert "working" in name
    assert like.parts_at == pytest.approx(4.0, abs=0.3)
    assert any("parts at" in line for line in trace_lines(second))


def test_retries_are_told_with_their_period(desk):
    view, read = record_trace(desk, "lamp", made(RETRIES, volts=19.5))
    assert read.behaviour is Behaviour.RETRIES
    assert view.facts.traces[0].period == pytest.approx(1.4, rel=0.01)
    assert "embedded controller" in read.words


def test_no_trace_without_a_supply():
    desk = desk_at(memory=True)
    open_case(desk, "lamp", two_capacitors())
    with pytest.raises(DataError, match="No supply is on"):
        record_trace(desk, "lamp", made([(10, 0.1)]))
    assert not book_of(desk, "lamp").facts.traces


def test_a_supply_is_logged_as_fast_as_it_answers():
    clock = iter(0.05 * k for k in range(400))

    class Steady:
        def measure(self) -> SupplyReading:
            return SupplyReading(0.8, 0.1, False)

    trace = log_supply(Steady(), FEED, 5.0, lambda: next(clock))
    assert len(trace.times) == 100
    assert trace.rate == pytest.approx(20.0)
    assert trace.watts[0] == pytest.approx(0.08)


def test_a_log_file_is_read_with_and_without_heading_and_volts():
    lines = [f"{0.1 * k:.1f},0.02" for k in range(20)]
    assert len(trace_from_csv("\n".join(lines), FEED).times) == 20
    headed = "seconds;amps;volts\n" + "\n".join(f"{line};0.79".replace(",", ";") for line in lines)
    assert trace_from_csv(headed, FEED).volts[0] == 0.79


def test_decimal_commas_stand_between_semicolons_or_tabs():
    """As spreadsheets of half of Europe write them; taken for four columns they had been a trace of other numbers."""
    for between in (";", "\t"):
        lines = [f"0,{k:02}{between}0,25{between}0,8" for k in range(20)]
        trace = trace_from_csv("\ufeffs;A;V\n" + "\n".join(lines), FEED)
        assert (trace.times[3], trace.amps[3], trace.volts[3]) == (0.03, 0.25, 0.8)


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("\n".join(f"0.{k:02},0.1" for k in range(20)) + "\n0.3,1e300", "line 21"),
        ("words\n" * 100, "line 41"),
        ("0,0.1\n0.1," + "1" * 200_000, "line 2"),
    ],
)
def test_a_hostile_log_is_refused_by_its_line(text, where):
    with pytest.raises(FileFormatError) as caught:
        trace_from_csv(text, FEED)
    assert caught.value.where == where
    assert len(str(caught.value)) < 400


@pytest.mark.parametrize("text", ["", "0,1\n", "0.0,0.1\n" * 20, "0,0.1\n1,no\n", "0\n1\n2\n"])
def test_what_is_no_log_is_refused(text):
    with pytest.raises((DataError, FileFormatError)):
        trace_from_csv(text, FEED)


def test_pairs_and_knees_in_words():
    points = [f"{v}={1e-3 * v + 0.05 * max(v - 12, 0):.5f}" for v in range(1, 21)]
    assert knee_words(pairs_from_words(points)).startswith("knee at 12")
    assert knee_words(pairs_from_words([f"{v}={1e-3 * v}" for v in range(1, 21)])).startswith("no knee")
    with pytest.raises(ReadingError):
        pairs_from_words(["0.5"])


def test_a_good_trace_of_such_a_board_is_laid_beside_though_it_is_another_case(desk):
    record_trace(desk, "lamp", made([(2, 0.02), (8, 0.2)], volts=0.8), good=True)
    for name in ("the same board once more", "another board"):
        board = two_capacitors() if "same" in name else replace(two_capacitors(), name="stove")
        open_case(desk, name, board)
        record(desk, name, EntryDescribed("VIN", 24.0, True, True), FeedSet(FEED))
    _, bad = record_trace(desk, "the same board once more", made([(2, 0.02), (2, 0.2), (6, 0.05)], volts=0.8, seed=3))
    assert [name for name, _ in bad.beside] == ["a working board, case lamp"]
    assert bad.beside[0][1].parts_at == pytest.approx(4.0, abs=0.3)
    shown = trace_shown(desk, "the same board once more", trace_list(desk, "the same board once more")[0]["sequence"])
    assert [(one["good"], one["parts_at"] is not None) for one in shown["beside"]] == [(True, True)]
    _, other = record_trace(desk, "another board", made([(2, 0.02), (8, 0.2)], volts=0.8, seed=4))
    assert not other.beside


def test_a_supply_that_falls_silent_loses_nothing_it_showed():
    clock = iter(0.05 * k for k in range(400))
    left = iter(range(30))

    class Pulled:
        def measure(self) -> SupplyReading:
            if next(left, None) is None:
                raise InstrumentError("The instrument does not answer.")
            return SupplyReading(0.8, 0.1, False)

    trace = log_supply(Pulled(), FEED, 10.0, lambda: next(clock))
    assert len(trace.times) == 30
    assert trace.length == pytest.approx(29 * 0.05)
    with pytest.raises(InstrumentError):
        log_supply(Pulled(), FEED, 10.0, lambda: next(clock))
