"""The camera's routes in process: a rendered display goes in as JPEG, a live value comes out; bad input is refused."""

from types import SimpleNamespace

import cv2
import numpy as np
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from tests.displays.rendered import Light, Panel, Shown, drawn, photographed

from ohmwright.errors import DataError
from ohmwright.web.app import BODIES
from ohmwright.web.eye import PICTURE_BODY, eye_routes

JPEG = {"content-type": "image/jpeg"}


def filmed() -> tuple[bytes, str]:
    look = Panel(unit_high=0.45, words_high=0.26)
    ink = drawn(look, Shown("4.231", "kΩ", ("AUTO",)))
    how = Light(contrast=0.75, bright=0.8, wide_px=440, blur_px=0.6, noise=0.006)
    picture, corners = photographed(ink, look, how, np.random.default_rng(1))
    share = (corners / (picture.shape[1], picture.shape[0])).ravel()
    return cv2.imencode(".jpg", picture)[1].tobytes(), ",".join(f"{v:.5f}" for v in share)


@pytest.fixture
def door():
    session = SimpleNamespace(display=None)
    app = FastAPI()
    eye_routes(app, session)
    return TestClient(app), session


def test_pictures_become_a_live_value_after_three_that_agree(door):
    client, session = door
    assert session.display("ohms") is None
    jpeg, corners = filmed()
    believed = [
        client.post(f"/api/eye/look?corners={corners}", content=jpeg, headers=JPEG).json()["believed"] for _ in range(3)
    ]
    assert believed[:2] == [None, None]
    assert believed[2]["text"] == "4.231 kΩ"
    assert session.display("ohms") == (pytest.approx(4231.0), "4.231 kΩ")
    assert session.display("diode") is None
    client.post("/api/eye/forget", json={})
    assert session.display("ohms") is None


def test_the_glass_is_found(door):
    jpeg, corners = filmed()
    found = door[0].post("/api/eye/find", content=jpeg, headers=JPEG).json()["corners"]
    assert np.allclose(found, [float(v) for v in corners.split(",")], atol=0.03)


@pytest.mark.parametrize("corners", ["", "1,2,3", "a,b,c,d,e,f,g,h", "nan,0,1,0,1,1,0,1", "9,9,9,9,9,9,9,9"])
def test_corners_that_are_none_are_refused(door, corners):
    with pytest.raises(DataError):
        door[0].post(f"/api/eye/look?corners={corners}", content=filmed()[0], headers=JPEG)


def test_what_is_no_picture_is_refused(door):
    with pytest.raises(DataError):
        door[0].post(f"/api/eye/look?corners={filmed()[1]}", content=b"\xff\xd8" + bytes(400), headers=JPEG)
    assert BODIES["/api/eye/look"] == BODIES["/api/eye/find"] == PICTURE_BODY


def test_only_known_marks_can_be_taught(door):
    with pytest.raises(DataError):
        door[0].post("/api/eye/teach", json={"says": "furlong"})
    assert door[0].post("/api/eye/teach", json={"says": "V", "more": 1}).status_code == 422


def test_what_the_user_says_it_shows_is_live_at_once(door):
    client, session = door
    jpeg, corners = filmed()
    client.post(f"/api/eye/look?corners={corners}", content=jpeg, headers=JPEG)
    client.post("/api/eye/pin", json={})
    assert client.post("/api/eye/shows", json={"text": "4.231", "unit": "kΩ"}).json()["known"] is True
    client.post(f"/api/eye/look?corners={corners}", content=jpeg, headers=JPEG)
    assert session.display("ohms") == (pytest.approx(4231.0), "4.231 kΩ")


@pytest.mark.parametrize("bad", [{"text": "1..2", "unit": "V"}, {"text": "1", "unit": "ell"}])
def test_what_no_display_shows_is_refused(door, bad):
    jpeg, corners = filmed()
    door[0].post(f"/api/eye/look?corners={corners}", content=jpeg, headers=JPEG)
    with pytest.raises(DataError, match="No display shows"):
        door[0].post("/api/eye/shows", json=bad)


def test_more_than_that_is_refused(door):
    assert door[0].post("/api/eye/shows", json={"text": "1", "unit": "V", "more": 1}).status_code == 422
