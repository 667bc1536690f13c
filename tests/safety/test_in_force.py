"""What is minded whatever is done next: solvent and heat, fed boards, dangerous volts (60 V DC: IEC 62368-1, ES1)."""

from dataclasses import replace

import pytest
from tests.small_board import small_board
from tests.small_case import desk_with_case

from ohmwright.casebook.events import EntryDescribed, FeedOff, FeedSet, PartCleaned
from ohmwright.circuit import Feed
from ohmwright.errors import RefusedError
from ohmwright.facts import EntryFact, Facts, Quantity, Reading
from ohmwright.safety import in_force
from ohmwright.usecases import clean, reflow, replace_part, take_off, view_of
from ohmwright.usecases.describe_entry import describe_entry
from ohmwright.usecases.desk import record
from ohmwright.usecases.map_board import describe_entry_at
from ohmwright.usecases.set_feed import permit_for

HALF_A_VOLT = Feed("VIN", "GND", 0.5, 0.5)


@pytest.fixture
def desk(tmp_path):
    return desk_with_case(tmp_path)


def codes(desk):
    view = view_of(desk, "c")
    return [notice.code for notice in in_force(view.board, view.facts)]


@pytest.mark.parametrize("work", [clean, reflow, replace_part, take_off])
def test_no_iron_and_no_solvent_on_a_fed_board(desk, work):
    part = small_board().parts[0].name
    record(desk, "c", FeedSet(HALF_A_VOLT))
    before = view_of(desk, "c").sequence
    with pytest.raises(RefusedError) as refused:
        work(desk, "c", part)
    assert "The supply is on at VIN" in str(refused.value)
    assert "switch the supply off" in refused.value.hint
    assert view_of(desk, "c").sequence == before
    assert codes(desk) == ["fed"]
    record(desk, "c", FeedOff())
    work(desk, "c", part)


def test_what_was_cleaned_is_to_dry_before_power_and_once_only(desk):
    part = small_board().parts[0].name
    record(desk, "c", PartCleaned(part))
    assert codes(desk) == ["solvent"]
    permit, _, _ = permit_for(desk, "c", HALF_A_VOLT)
    assert permit.notices[0].code == "solvent"
    assert "dry" in permit.notices[0].text
    assert "Local rules" in permit.notices[0].text
    record(desk, "c", FeedSet(HALF_A_VOLT))
    assert codes(desk) == ["fed"]


@pytest.mark.parametrize(("volts", "refused"), [(5.0, False), (60.0, False), (60.5, True), (230.0, True)])
@pytest.mark.parametrize("how", ["net", "place"])
def test_an_entry_of_mains_is_handed_on(desk, volts, refused, how):
    def tell():
        if how == "net":
            describe_entry(desk, "c", EntryDescribed("VIN", volts, True, True))
        else:
            describe_entry_at(desk, "c", "VIN", volts, True, True)

    if not refused:
        tell()
        return
    with pytest.raises(RefusedError) as told:
        tell()
    assert "qualified person" in told.value.hint
    assert "Local rules" in told.value.hint


def test_dangerous_volts_that_were_read_stay_in_sight():
    fed = replace(Facts().state, feed=HALF_A_VOLT)
    facts = Facts(readings=(Reading(Quantity.VOLTS, "SW", "GND", -325.0, fed),))
    first = in_force(small_board(), facts)[0]
    assert first.code == "over 60 V"
    assert "325 V was read at SW" in first.text
    assert in_force(small_board(), Facts(readings=(Reading(Quantity.VOLTS, "SW", "GND", 48.0, fed),))) == ()
    assert in_force(small_board(), Facts(entries=(EntryFact("VIN", 325.0),)))[0].code == "over 60 V"
