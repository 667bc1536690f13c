"""What was seen under a feed that has ended goes on record under that feed, while the board is as it was."""

import pytest
from tests.small_board import small_board
from tests.small_case import desk_with_case

from ohmwright.casebook.events import FeedOff, FeedSet, HeatRecorded, PartTakenOff, ReadingRecorded
from ohmwright.circuit import Feed
from ohmwright.errors import DataError
from ohmwright.facts import HeatFinding, Quantity
from ohmwright.usecases.desk import book_of, record

FED, OTHER = Feed("VIN", "GND", 0.5, 1.0), Feed("VIN", "GND", 0.8, 2.0)
PART = small_board().parts[0].name


@pytest.fixture
def desk(tmp_path):
    desk = desk_with_case(tmp_path)
    shown = [ReadingRecorded(q, "VIN", "GND", 0.4, desk.meter, "supply")
             for q in (Quantity.SUPPLY_VOLTS, Quantity.SUPPLY_AMPS)]  # fmt: skip
    record(desk, "c", FeedSet(FED), *shown, FeedOff())
    return desk


def warm(feed):
    return HeatRecorded(HeatFinding.PART, (PART,), 0.2, "camera", ((PART, 0.9),), feed)


def test_under_the_feed_that_ended(desk):
    record(desk, "c", warm(FED))
    (heat,) = book_of(desk, "c").facts.heats
    assert heat.state.feed == FED
    assert book_of(desk, "c").facts.state.feed is None


@pytest.mark.parametrize("feed", [None, OTHER])
def test_under_no_feed_or_one_that_never_was_nothing_gets_warm(desk, feed):
    with pytest.raises(DataError):
        record(desk, "c", warm(feed))


def test_after_work_on_the_board_it_is_too_late(desk):
    record(desk, "c", PartTakenOff(PART))
    with pytest.raises(DataError):
        record(desk, "c", warm(FED))


def test_a_feed_that_is_on_counts_before_one_that_ended(desk):
    record(desk, "c", FeedSet(OTHER), warm(FED))
    assert book_of(desk, "c").facts.heats[0].state.feed == OTHER
