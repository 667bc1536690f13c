"""From thermal pictures to parts with probabilities, the balance of power, and the case."""

from dataclasses import replace

import numpy as np
import pytest
from tests.small_board import small_board

from ohmwright.bootstrap import desk_at
from ohmwright.casebook.events import EntryDescribed, FeedSet
from ohmwright.circuit import Feed, Place
from ohmwright.errors import DataError
from ohmwright.evidence.heat_picture import Standing, part_shares, standing_of
from ohmwright.fields.plate import Plate
from ohmwright.usecases import open_case, record_reading
from ohmwright.usecases.desk import record, view_of
from ohmwright.usecases.heat_picture import heat_rise, heat_seen, laid, take_heat

PLACES = {"L1": (10.0, 20.0), "C3": (24.0, 30.0), "C4": (50.0, 20.0), "U2": (40.0, 34.0), "Q1": (66.0, 36.0)}
MM = 0.5
PAIRS = [((u, v), (u * MM, v * MM)) for u, v in ((4.0, 4.0), (150.0, 6.0), (148.0, 92.0), (6.0, 90.0))]


def board():
    known = small_board()
    for name, (x, y) in PLACES.items():
        known = known.with_part(replace(known.part(name), place=Place(x, y, width_mm=1.6, height_mm=0.8)))
    return known


def frames(heat, seed, offset=0.0):
    y, x = np.mgrid[0:96, 0:156]
    celsius = 24.0 + offset + np.random.default_rng(seed).normal(0.0, 0.05, x.shape)
    for name, watts in heat.items():
        px, py = PLACES[name]
        celsius = celsius + Plate().rise(watts, np.hypot(x * MM - px, y * MM - py) * 1e-3)
    return celsius[None].astype(np.float32)


def case():
    desk = desk_at(memory=True)
    open_case(desk, "x", board())
    record(desk, "x", EntryDescribed("VIN", 12.0, True, True), FeedSet(Feed("V33", "GND", 0.5, 3.0)))
    record_reading(desk, "x", "supply volts", "V33", "GND", 0.2)
    record_reading(desk, "x", "supply amps", "V33", "GND", 2.0)
    return desk


def seen(heat, **more):
    desk = case()
    rise = heat_rise(frames({}, 1), frames(heat, 2, 0.5), frames({}, 3))
    view = view_of(desk, "x")
    return desk, heat_seen(view.board, view.facts, rise, PAIRS, "top", **more)


def test_the_hot_part_is_named_and_moves_the_belief():
    desk, found = seen({"C4": 0.38})
    assert found.spots[0].parts[0].name == "C4"
    assert found.spots[0].parts[0].probability > 0.8
    assert found.fed_watts == pytest.approx(0.4)
    assert "as good as all of it" in found.balance
    before = {s.part: s.probability for s in view_of(desk, "x").diagnosis.suspects}
    after = {s.part: s.probability for s in take_heat(desk, "x", found, 0).diagnosis.suspects}
    assert after["C4"] > max(before.get("C4", 0.0), 0.6)
    assert after.get("C3", 0.0) < 0.1


def test_carrier_and_culprit_are_told_apart():
    """2 A through a coil of at most 0.1 ohm: up to 0.4 W is its own; the capacitor takes the current."""
    _, found = seen({"L1": 0.15, "C4": 0.2})
    standing = {spot.parts[0].name: spot.parts[0].standing for spot in found.spots}
    assert standing["L1"] is Standing.CARRIER
    assert standing["C4"] is Standing.TAKER
    assert standing_of(board(), "L1", 3.0, 2.0) is Standing.OPEN


def test_missing_heat_is_said():
    _, found = seen({"C4": 0.05})
    assert "more heat that this picture does not show" in found.balance
    _, much = seen({"C4": 0.38}, watts=0.05)
    assert "more than there can be" in much.balance


def test_a_spot_beside_all_parts_is_nothing_on_the_map():
    shares = part_shares(board(), 30.0, 5.0, 0.5, "top")
    assert sum(share for _, share in shares) < 0.2


def test_poor_marks_spread_the_probability():
    near = board().with_part(replace(board().part("C3"), place=Place(52.5, 20.0, width_mm=1.6, height_mm=0.8)))
    sharp = dict(part_shares(near, 50.2, 20.0, 0.3, "top"))
    blunt = dict(part_shares(near, 50.2, 20.0, 3.0, "top"))
    assert sharp["C4"] > 0.95
    assert blunt["C4"] < 0.75 < blunt["C4"] + blunt["C3"] + 0.2


def test_marks_on_one_line_are_refused():
    with pytest.raises(DataError):
        laid([((0.0, 0.0), (0.0, 0.0)), ((10.0, 0.0), (5.0, 0.0)), ((20.0, 0.0), (10.0, 0.0))])
    with pytest.raises(DataError, match="2 pairs"):
        laid(PAIRS[:2])


def test_cautions_stand_beside_what_was_seen():
    _, found = seen({"C4": 0.38})
    assert any("never both at once" in text for text in found.cautions)
    assert any("Local rules" in text for text in found.cautions)
