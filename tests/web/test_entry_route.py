"""Where power comes in, told by the page's own door: on every board, and never asked twice in the same words."""

import time

import pytest
from fastapi.testclient import TestClient
from tests.small_board import small_board

from ohmwright.bootstrap import desk_at
from ohmwright.usecases import open_case
from ohmwright.usecases.by_hand import ByHand
from ohmwright.web.app import create_app
from ohmwright.web.session import CaseSession

HOST = {"host": "127.0.0.1"}


@pytest.fixture
def page(tmp_path):
    """A board of the user's own that a file describes: there is no map to draw on."""
    desk = desk_at(tmp_path / "cases.sqlite")
    open_case(desk, "own", small_board(), note="file")
    session = CaseSession(desk, "own", ByHand("own"))
    yield TestClient(create_app(session), headers=HOST)
    session.close()


def state(page):
    """The case once it is thought through."""
    end = time.monotonic() + 60
    while time.monotonic() < end:
        found = page.get("/api/case").json()
        if not found["thinking"]:
            return found
        time.sleep(0.02)
    raise AssertionError("it thinks for ever")


def told(page, **what):
    order = {"seen": state(page)["sequence"], "point": "VIN", "label_volts": 12.0, "polarity_measured": True, **what}
    answer = page.post("/api/entry", json=order)
    assert answer.status_code == 200, answer.text
    return state(page)


def test_the_entry_is_told_once(page):
    first = state(page)["due"]
    assert first["step"]["act"] == "describe"
    after = told(page, battery_off=True)
    assert after["due"]["step"]["act"] != "describe"
    assert after["bench"]["battery"] == "battery out"


def test_with_the_battery_left_open_only_the_battery_is_asked_for(page):
    before = state(page)["due"]["test"]["title"]
    after = told(page, battery_off=False)
    assert after["due"]["step"]["act"] == "describe"
    assert after["due"]["test"]["title"] != before
    assert "not that the battery is off" in after["due"]["test"]["title"]
    assert after["bench"]["entries"] == [{"net": "VIN", "volts": 12.0, "polarity": True, "battery_off": False}]
    assert told(page, battery_off=True)["due"]["step"]["act"] != "describe"


def test_a_safety_check_is_not_skipped_and_says_so(page):
    seen = state(page)["sequence"]
    answer = page.post("/api/skip", json={"seen": seen})
    assert answer.status_code == 403
    assert "not skipped" in answer.json()["message"]
    assert state(page)["sequence"] == seen
