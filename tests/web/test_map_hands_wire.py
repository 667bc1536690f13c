"""Pictures held and laid, places sought and settled, grounds, fields and righting over the wire."""

import cv2
import numpy as np
import pytest
from fastapi.testclient import TestClient

from ohmwright.bootstrap import desk_at, picture_eyes, picture_shelf
from ohmwright.web.app import create_app
from ohmwright.web.mapping import Mapping
from ohmwright.web.picture_desk import PictureDesk
from ohmwright.web.serve import begun_own

JPEG = {"content-type": "image/jpeg"}


@pytest.fixture
def client(tmp_path):
    desk = desk_at(tmp_path / "cases.sqlite")
    session = begun_own(desk, "lamp")
    shelf = picture_shelf(tmp_path / "cases.sqlite")
    pictures = PictureDesk(session, desk, lambda: picture_eyes(shelf))
    app = create_app(session, None, Mapping(session, shelf), None, pictures)
    with TestClient(app, base_url="http://127.0.0.1") as made:
        yield made
    session.close()


def jpeg(seed):
    pixels = cv2.GaussianBlur(np.random.default_rng(seed).integers(0, 255, (400, 600, 3), dtype=np.uint8), (0, 0), 2)
    done, data = cv2.imencode(".jpg", pixels)
    assert done
    return data.tobytes()


def order(client, path, **body):
    seen = client.get("/api/case").json()["sequence"]
    return client.post(f"/api/{path}", json={"seen": seen, **body})


def laid(client, seed, side="top"):
    held = client.post("/api/picture?hold=true", content=jpeg(seed), headers=JPEG).json()
    answer = order(client, "map/picture", key=held["key"], side=side, name=f"{seed}.jpg")
    assert answer.status_code == 200, answer.text
    return held["key"], answer.json()["first"]


def test_a_picture_is_held_first_and_laid_in_its_turn(client):
    before = client.get("/api/case").json()["sequence"]
    held = client.post("/api/picture?hold=true", content=jpeg(1), headers=JPEG).json()
    assert client.get("/api/case").json()["sequence"] == before, "handing it over moves nothing on the map"
    assert order(client, "map/picture", key="0" * 64, side="top").status_code == 422
    assert order(client, "map/picture", key=held["key"], side="inside").status_code == 422
    assert order(client, "map/picture", key=held["key"], side="top", name="a.jpg").json()["first"] is True
    assert order(client, "map/picture", key=held["key"], side="top").status_code == 422, "it lies there already"
    assert laid(client, 2)[1] is False


def test_what_does_not_register_is_an_honest_no_and_nothing_is_settled(client):
    laid(client, 1)
    key, _ = laid(client, 2)
    said = client.post("/api/map/seek", json={"layer": key, "side": "top"}).json()
    assert said["found"] is False
    assert "did not register" in said["words"]
    assert said["hint"]
    assert order(client, "map/settle", layer=key, side="top").json()["settled"] is False
    # a picture may be straightened or taken away while it waits its turn
    gone = client.post("/api/map/seek", json={"layer": "0" * 64, "side": "top"})
    assert gone.status_code == 200
    assert (gone.json()["found"], gone.json()["gone"]) == (False, True)
    assert client.post("/api/map/seek", json={"layer": key, "side": "within"}).status_code == 422


def test_fields_grounds_and_righting_refuse_what_cannot_be(client):
    key, _ = laid(client, 1)
    fields = client.get("/api/map/fields?side=top&magnification=10").json()
    assert fields["fields"][0]["name"] == "A1"
    assert client.get("/api/map/fields?side=top&magnification=0").status_code == 422
    assert client.get("/api/map/fields?side=edge").status_code == 422
    assert client.get("/api/map/fields?side=bottom").json()["fields"] == []
    order(client, "map/part", kind="buck", layer=key, first=[100.0, 100.0], far=[160.0, 140.0], package="SOIC", count=8)
    rows = [{"pins": ["4"], "name": "GND"}, {"pins": ["1"], "name": "VIN"}]
    assert order(client, "map/name-pins", part="U1", rows=rows).status_code == 200
    assert client.get("/api/map/nets").json()["called_ground"] == ["U1.4"]
    assert order(client, "map/grounds", pads=[]).status_code == 422
    assert order(client, "map/grounds", pads=["U9.4"]).status_code == 422
    assert order(client, "map/right", part="U1").status_code == 422
    assert order(client, "map/grounds", pads=["U1.4"]).status_code == 200
    assert client.get("/api/map/nets").json()["called_ground"] == []
    box = fields["fields"][0]["box"]
    done = order(client, "map/looked", side="top", x=box[0], y=box[1], width=box[2], height=box[3], magnification=10.0)
    assert done.status_code == 200
    assert client.get("/api/map/fields?side=top&magnification=10").json()["fields"][0]["seen"] == 10.0
    order(client, "undo")
    order(client, "undo")
    assert client.get("/api/map/fields?side=top&magnification=10").json()["fields"][0]["seen"] == 0.0
