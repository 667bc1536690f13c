"""R from the slope of two feeds with the leads taken out, and what finds the place. Figures by hand."""

import pytest
from tests.small_board import small_board
from tests.small_case import desk_with_case

from ohmwright.casebook.events import FeedOff, FeedSet, PartTakenOff, ReadingRecorded
from ohmwright.circuit import Feed
from ohmwright.errors import RefusedError
from ohmwright.facts import Quantity
from ohmwright.usecases.desk import record
from ohmwright.usecases.guarded_feed import held_feed
from ohmwright.usecases.path_of_feeds import path_of_feeds


@pytest.fixture
def desk(tmp_path):
    return desk_with_case(tmp_path)


def held(desk, limit, volts, amps, leads=0.05, set_volts=0.8):
    record(desk, "c", FeedSet(Feed("VIN", "GND", set_volts, limit, leads)))
    for quantity, value in ((Quantity.SUPPLY_VOLTS, volts), (Quantity.SUPPLY_AMPS, amps)):
        record(desk, "c", ReadingRecorded(quantity, "VIN", "GND", value, desk.meter, "supply"))
    record(desk, "c", FeedOff())


def test_nothing_before_the_first_feed(desk):
    assert path_of_feeds(desk, "c", "VIN") is None


def test_one_current_asks_for_a_second(desk):
    held(desk, 0.5, 0.0825, 0.5)
    seen = path_of_feeds(desk, "c", "VIN")
    assert seen.slope is None
    assert "collapsed" in seen.words
    assert "take 1 A too" in seen.words


def test_two_currents_give_the_resistance_and_the_way(desk):
    """0.115 Ω and 0.05 Ω of leads: 0.0825 V at 0.5 A, 0.165 V at 1 A."""
    held(desk, 0.5, 0.0825, 0.5)
    held(desk, 1.0, 0.165, 1.0)
    seen = path_of_feeds(desk, "c", "VIN")
    assert seen.slope.best == pytest.approx(0.115, abs=1e-6)
    assert seen.finder.method == "heat"
    assert "50 mΩ of leads taken out" in seen.words
    at_the_pads = path_of_feeds(desk, "c", "VIN", 0.0)
    assert at_the_pads.slope.best == pytest.approx(0.165, abs=1e-6)


def test_next_to_nothing_is_for_millivolts(desk):
    held(desk, 1.0, 0.053, 1.0)
    held(desk, 3.0, 0.159, 3.0)
    seen = path_of_feeds(desk, "c", "VIN")
    assert seen.slope.best == pytest.approx(0.003, abs=1e-6)
    assert seen.finder.method == "millivolts"


def test_a_junction_in_the_path_is_no_short(desk):
    held(desk, 0.5, 0.45, 0.5)
    held(desk, 1.0, 0.525, 1.0)
    seen = path_of_feeds(desk, "c", "VIN")
    assert seen.slope.junction
    assert seen.finder.method == "reading"


def test_a_path_that_the_limit_never_reaches_asks_for_other_volts(desk):
    """3 Ω and 0.05 Ω of leads: 0.8 V gives 262 mA, 0.4 V gives 131 mA."""
    held(desk, 0.5, 0.8, 0.8 / 3.05)
    seen = path_of_feeds(desk, "c", "VIN")
    assert seen.words == "below the limit: 3.05 Ω with leads and any junction; take 400 mV too, for the slope"
    held(desk, 0.5, 0.4, 0.4 / 3.05, set_volts=0.4)
    seen = path_of_feeds(desk, "c", "VIN")
    assert seen.slope.best == pytest.approx(3.0, abs=1e-6)
    assert seen.finder.method == "heat"


def test_feeds_of_another_board_say_nothing_of_this_one(desk):
    held(desk, 0.5, 0.0825, 0.5)
    record(desk, "c", PartTakenOff(small_board().parts[0].name))
    assert path_of_feeds(desk, "c", "VIN") is None
    held(desk, 1.0, 0.165, 1.0)
    assert path_of_feeds(desk, "c", "VIN").slope is None


def test_a_rail_that_takes_nothing_has_no_path(desk):
    held(desk, 0.5, 0.8, 0.001)
    assert "no short that a feed finds" in path_of_feeds(desk, "c", "VIN").words


def test_the_energy_of_all_steps_counts(desk):
    """300 J in all: after 290 J the guard of the next step has 10 left, and after 300 there is none."""
    assert held_feed(desk, "c", "VIN", None, 1, 20.0).rules.energy == 300.0
    assert held_feed(desk, "c", "VIN", None, 1, 20.0, 290.0).rules.energy == pytest.approx(10.0)
    with pytest.raises(RefusedError) as told:
        held_feed(desk, "c", "VIN", None, 1, 20.0, 301.0)
    assert "301 J went into VIN" in told.value.what
    assert "millivolts" in told.value.hint
