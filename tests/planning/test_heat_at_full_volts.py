"""Heat where it can be seen: what leaks is fed the volts its rail works at, and no more watts than one part takes."""

import pytest
from tests.small_board import ENTRY, small_board

from ohmwright.circuit import Feed
from ohmwright.diagnosis.diagnose import diagnose
from ohmwright.facts import Facts, Heat, HeatFinding, Quantity, Reading
from ohmwright.planning import TestKind as Kind
from ohmwright.planning.candidates import LOW_VOLTS, MOST_WATTS, feeds_of, heat
from ohmwright.planning.foresight import foresee
from ohmwright.planning.scene import Scene, scene_of
from ohmwright.planning.worth import Weighed, repairs_of, weigh_all

LEAKS = (Reading(Quantity.DIODE, "GND", "V33", 0.012), Reading(Quantity.OHMS, "V33", "GND", 12.0))
"""A rail of 3.3 V that reads 12 Ω, with two capacitors and a chip on it."""


def scene(*heats: Heat) -> Scene:
    board, facts = small_board(), Facts(readings=LEAKS, entries=ENTRY, heats=heats)
    return scene_of(diagnose(board, facts)[0])


def weighed(one: Scene) -> list[Weighed]:
    view = foresee(one.posterior)
    return weigh_all(one, view, repairs_of(one, view))


def test_heat_is_offered_at_the_volts_of_the_rail_and_tells_more_there() -> None:
    offers = [w for w in weighed(scene()) if w.candidate.kind is Kind.HEAT and w.candidate.feed is not None]
    at_rail = [w for w in offers if w.candidate.feed and w.candidate.feed.plus == "V33"]
    by_volts = {w.candidate.feed.volts: w.offer.bits for w in at_rail if w.candidate.feed}
    assert set(by_volts) == {LOW_VOLTS, 3.3}
    assert by_volts[3.3] > 2.0 * by_volts[LOW_VOLTS]


@pytest.mark.parametrize(("net", "volts"), [("V33", 3.3), ("VCC", 5.0), ("VF", 12.0)])
def test_an_inner_rail_is_fed_no_more_than_one_part_can_take(net: str, volts: float) -> None:
    low, full = feeds_of(scene(), net)
    assert (low.volts, full.volts) == (LOW_VOLTS, volts)
    assert full.volts * full.limit <= MOST_WATTS + 1e-9


def test_a_rail_nobody_knows_the_volts_of_is_fed_low_only() -> None:
    assert [feed.volts for feed in feeds_of(scene(), "SW")] == [LOW_VOLTS]


def test_heat_is_felt_again_at_more_volts_and_never_at_fewer() -> None:
    low, full = feeds_of(scene(), "V33")
    bare = scene()
    cold = Heat(HeatFinding.NOTHING, (), 0.0, bare.state.with_feed(low))
    warm = Heat(HeatFinding.NOTHING, (), 0.0, bare.state.with_feed(full))
    assert heat(scene(cold), low) is None
    assert heat(scene(cold), full) is not None
    assert heat(scene(warm), low) is None


@pytest.mark.parametrize(("volts", "offered"), [(24.0, True), (30.0, True), (36.0, False), (48.0, False)])
def test_no_hand_is_sent_to_feel_above_thirty_volts(volts: float, offered: bool) -> None:
    assert (heat(scene(), Feed("VIN", "GND", volts, 0.1)) is not None) == offered
