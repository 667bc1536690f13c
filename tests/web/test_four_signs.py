"""Readings, traces, heat and millivolts each move the suspects through the page's own doors, and the advice answers.

One shorted capacitor of three along one rail: ohms alone cannot tell them apart. What the camera and the meter show is
made from closed forms (a point source on a plate, images of a rectangle), which the tests of `fields` hold against
other solutions.
"""

import numpy as np
import pytest
from fastapi.testclient import TestClient
from tests.web.test_entry_route import HOST, state

from ohmwright.bootstrap import desk_at
from ohmwright.casebook.events import EntryDescribed, FeedSet, ReadingRecorded
from ohmwright.circuit import Feed
from ohmwright.facts import CopperShape, Quantity
from ohmwright.fields.layout import layout_of
from ohmwright.fields.plate import Plate
from ohmwright.formats.board_json import read_board_json
from ohmwright.practice.choice import boards
from ohmwright.usecases import open_case
from ohmwright.usecases.by_hand import ByHand
from ohmwright.usecases.desk import record
from ohmwright.web.app import create_app
from ohmwright.web.session import CaseSession
from ohmwright.web.supply_desk import SupplyDesk

RAIL, GUILTY, OTHERS = "V33", "C13", ("C11", "C12")
OCTETS = {"content-type": "application/octet-stream"}
PX = 0.5
"""Millimetres a pixel of the invented camera."""


@pytest.fixture(scope="module")
def board():
    return read_board_json(boards()["logger"])


@pytest.fixture
def opened(tmp_path, board):
    """A case of one's own whose entry is told, and how it stands."""
    sessions = []

    def begin(*entries):
        desk = desk_at(tmp_path / "cases.sqlite")
        open_case(desk, "own", board, note="file")
        record(desk, "own", EntryDescribed("V5IN", 5.0, True, True), *entries)
        sessions.append(CaseSession(desk, "own", ByHand("own")))
        supplies = SupplyDesk(sessions[-1], tmp_path / "cases.sqlite")
        return TestClient(create_app(sessions[-1], supplies=supplies), headers=HOST)

    yield begin
    for session in sessions:
        session.close()


@pytest.fixture
def fed(opened):
    """Half a volt on the rail, which collapses at an ampere."""
    feed = Feed(RAIL, "GND", 0.5, 1.0)
    desk_meter = desk_at().meter
    shown = ((Quantity.SUPPLY_VOLTS, 0.4), (Quantity.SUPPLY_AMPS, 1.0))
    return opened(FeedSet(feed), *(ReadingRecorded(q, RAIL, "GND", v, desk_meter, "supply") for q, v in shown))


def suspected(case, *parts):
    """How likely the parts are, together. [1]"""
    return sum(s["probability"] for s in case["diagnosis"]["suspects"] if s["part"] in parts)


def advised(case):
    return [test["title"] for test in case["advice"]["tests"][:2]]


def sent(page, name, body):
    answer = page.post(f"/api/{name}", json={"seen": state(page)["sequence"], **body})
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_a_reading_moves_the_suspects_and_the_advice(opened):
    page = opened()
    before = state(page)
    sent(page, "reading", {"quantity": "ohms", "red": RAIL, "black": "GND", "figures": "0.35"})
    after = state(page)
    assert suspected(after, GUILTY, *OTHERS) > 3.0 * suspected(before, GUILTY, *OTHERS)
    assert advised(after) != advised(before)


@pytest.mark.parametrize(("amps", "volts", "part"), [(0.0, 5.0, "F1"), (1.0, 0.3, "C1")])
def test_a_trace_moves_the_suspects(opened, amps, volts, part):
    """No current at all speaks for the fuse; the limit with the volts down speaks for a short at the entry."""
    page = opened(FeedSet(Feed("V5IN", "GND", 5.0, 1.0)))
    before = state(page)
    log = "\n".join(f"{0.05 * n:.2f},{amps},{volts}" for n in range(200))
    assert page.post("/api/trace/file", content=log, headers=OCTETS).status_code == 200
    after = state(page)
    assert suspected(after, part) > 3.0 * suspected(before, part)
    if part == "C1":
        assert advised(after) != advised(before)


@pytest.mark.parametrize("ended", [False, True])
def test_heat_moves_the_suspects_and_the_advice(fed, board, ended):
    """A guard ends every feed; what was seen under it can still be taken, while nothing is done to the board."""
    before, at = state(fed), board.part(GUILTY).place
    noise = np.random.default_rng(1)
    y, x = np.mgrid[0:160, 0:200]
    for role in ("before", "during", "after"):
        celsius = 24.0 + noise.normal(0.0, 0.05, x.shape)
        if role == "during":
            celsius += Plate().rise(0.4, np.hypot(x * PX - at.x_mm, y * PX - at.y_mm) * 1e-3)
        table = "\n".join(";".join(f"{v:.2f}".replace(".", ",") for v in row) for row in celsius)
        answer = fed.post(f"/api/heat/picture?role={role}", content=table, headers=OCTETS)
        assert answer.status_code == 200, answer.text
    corners = ((4, 4), (190, 4), (190, 150), (4, 150))
    pairs = [{"px": [float(u), float(v)], "mm": [u * PX, v * PX]} for u, v in corners]
    seen = sent(fed, "heat/look", {"pairs": pairs, "side": at.side})
    assert seen["spots"][0]["parts"][0]["name"] == GUILTY
    assert "as good as all of it" in seen["balance"]
    if ended:
        sent(fed, "supply", {"act": "feed off"})
    sent(fed, "heat/take", {"spot": 0})
    answered(before, state(fed))


@pytest.mark.parametrize("ended", [False, True])
def test_millivolts_move_the_suspects_and_the_advice(fed, board, ended):
    before, at = state(fed), board.part(GUILTY).place
    box = [[0.0, 0.0], [45.0, 0.0], [45.0, 45.0], [0.0, 45.0]]
    sheet = layout_of(CopperShape(outline=tuple((x, y) for x, y in box)))
    source, black = (3.0, 3.0), (42.0, 42.0)
    red = [(9.0, 14.0), (22.0, 9.0), (37.0, 14.0), (43.0, 6.0), (13.0, 36.0), (27.0, 32.0), (40.0, 30.0), (22.0, 22.0)]
    rise = np.subtract(*sheet.seen_from(np.array([source, (at.x_mm, at.y_mm)])).response(np.array([*red, black])))
    shown = [round(1e3 * 0.5e-3 * float(squares), 3) for squares in rise[:-1] - rise[-1]]
    order = {
        "net": RAIL, "copper": {"outline": box}, "source": list(source), "black": list(black), "current": 1.0,
        "step": 1e-6, "points": [{"x": x, "y": y, "millivolts": mv} for (x, y), mv in zip(red, shown, strict=True)],
    }  # fmt: skip
    look = sent(fed, "millivolts/look", order)
    assert look["parts"][0]["name"] == GUILTY
    if ended:
        sent(fed, "supply", {"act": "feed off"})
    sent(fed, "millivolts/take", order)
    answered(before, state(fed))


def answered(before, after):
    """The guilty part leads now, its neighbours do not, and what is advised is about it."""
    assert suspected(after, GUILTY) > 0.9 > 3.0 * suspected(before, GUILTY)
    assert suspected(after, *OTHERS) < 0.5 * suspected(before, *OTHERS)
    assert advised(after) != advised(before)
    assert GUILTY in advised(after)[0]


def test_without_a_joined_meter_the_page_is_told_so(fed):
    answer = fed.get("/api/millivolts/shown")
    assert answer.status_code >= 400
    assert "No meter shows volts" in answer.json()["message"]
