"""Which points a round reads and which way round the probes stand."""

from __future__ import annotations

from tests.casebook.boards import two_capacitors

from ohmwright.bootstrap import desk_at
from ohmwright.casebook.events import EntryDescribed
from ohmwright.usecases.desk import record, view_of
from ohmwright.usecases.open_case import open_case
from ohmwright.usecases.plan_round import planned_round


def test_rails_are_read_in_diode_mode_with_red_on_ground():
    """As service manuals write their tables: red on ground, black on the point."""
    desk = desk_at(memory=True)
    board = two_capacitors()
    open_case(desk, "round", board)
    record(desk, "round", EntryDescribed("VIN", 5.0, True, True))
    stops = planned_round(view_of(desk, "round"))
    diode = [stop for stop in stops if stop.quantity == "diode"]
    assert {net.name for net in board.nets if net.rail and net.name != board.ground} <= {
        board.net_at(stop.black) for stop in diode
    }  # fmt: skip
    assert all(stop.red == board.ground for stop in diode)
    points = [(stop.quantity, stop.red, stop.black) for stop in stops]
    assert len(points) == len(set(points))
