"""Nets, files and looks over the wire: each order taken, bad ones refused in our words."""

import xml.etree.ElementTree as ET
from pathlib import Path

import cv2
import numpy as np
import pytest
from fastapi.testclient import TestClient

from ohmwright.bootstrap import desk_at, picture_shelf
from ohmwright.formats.known_board import read_known_board
from ohmwright.web.app import create_app
from ohmwright.web.mapping import Mapping
from ohmwright.web.serve import begun_own

STICK = Path("/usr/share/kicad/demos/stickhub/StickHub.kicad_pcb")
HOST = {"host": "127.0.0.1"}


@pytest.fixture
def wire(tmp_path):
    desk = desk_at(tmp_path / "cases.sqlite")
    session = begun_own(desk, "lamp")
    app = create_app(session, None, Mapping(session, picture_shelf(tmp_path / "cases.sqlite")))
    with TestClient(app, base_url="http://127.0.0.1") as client:
        picture = np.full((600, 800, 3), (70, 110, 60), np.uint8)
        done, data = cv2.imencode(".jpg", picture)
        assert done
        client.post(
            "/api/picture?side=top&name=board.jpg", content=data.tobytes(), headers={"content-type": "image/jpeg"}
        )
        yield client, session
    session.close()


def order(client, name, **body):
    seen = client.get("/api/case").json()["sequence"]
    return client.post(f"/api/{name}", json={"seen": seen, **body})


def laid(client):
    key = client.get("/api/sight").json()["layers"][0]["key"]
    for kind, first, far in (("coil", (100, 100), (160, 100)), ("capacitor", (200, 100), (230, 100)),
                             ("capacitor", (200, 200), (230, 200))):  # fmt: skip
        answer = order(client, "map/part", kind=kind, layer=key, first=list(first), far=list(far))
        assert answer.status_code == 200, answer.text
    return key


def test_a_pad_whose_part_is_gone_has_no_story(wire):
    """The page asks after each entry; the part may be erased while it asks."""
    client, _ = wire
    laid(client)
    assert client.get("/api/map/pad?pad=C1.1").json() is not None
    assert order(client, "map/erase", part="C1").status_code == 200
    answer = client.get("/api/map/pad?pad=C1.1")
    assert answer.status_code == 200
    assert answer.json() is None


def test_beeps_and_silences_and_what_they_amount_to(wire):
    client, _ = wire
    laid(client)
    for a, b, beeps in (("L1.1", "C1.1", True), ("L1.2", "C2.1", True), ("C1.1", "C2.1", True), ("C1.2", "GND", True),
                        ("C2.2", "C2.1", False)):  # fmt: skip
        assert order(client, "map/heard", a=a, b=b, beeps=beeps).status_code == 200
    story = client.get("/api/map/pad?pad=C1.1").json()
    assert [mate["pad"] for mate in story["copper"]] == ["L1.1"]
    assert story["copper"][0]["entries"]
    assert {mate["pad"]: mate["through"] for mate in story["dc"]} == {"L1.2": ["L1"], "C2.1": ["L1"]}
    nets = client.get("/api/map/nets").json()
    assert "rail at L1" in " ".join(nets["names"].values())
    assert nets["doubts"] == []
    assert nets["next"]
    order(client, "map/heard", a="C1.1", b="L1.1", beeps=False)
    (doubt,) = client.get("/api/map/nets").json()["doubts"]
    assert "both cannot be" in doubt["words"]
    assert len(doubt["cures"]) == 2
    assert order(client, "undo", sequence=doubt["cures"][-1]).status_code == 200
    assert client.get("/api/map/nets").json()["doubts"] == []


def test_a_file_is_laid_by_marked_pads_and_judged_by_readings(wire):
    client, _ = wire
    key = client.get("/api/sight").json()["layers"][0]["key"]
    data, plain = STICK.read_bytes(), {"content-type": "application/octet-stream"}
    offer = client.post("/api/map/file?name=../../StickHub.kicad_pcb", content=data, headers=plain).json()
    assert offer["kind"] == "KiCad board"
    assert offer["name"] == "StickHub"
    assert len(offer["mark"]) == 6
    places = {f"{p.part}.{p.pin}": (p.x_mm, p.y_mm) for p in read_known_board(STICK).pads}
    x0, y0 = min(x for x, _ in places.values()), min(y for _, y in places.values())
    marks = [
        {"pad": pad, "layer": key, "at": [20 + 8 * (places[pad][0] - x0), 20 + 8 * (places[pad][1] - y0)]}
        for pad, _ in offer["mark"][:4]
    ]
    told = order(client, "map/lay-file", marks=marks, enter=False).json()
    assert told["fits"], told
    assert max(told["residuals_mm"]) < 0.01
    wrong = [*marks[:3], {**marks[3], "at": marks[0]["at"]}]
    refused = order(client, "map/lay-file", marks=wrong)
    assert refused.status_code == 422
    assert order(client, "map/lay-file", marks=marks).status_code == 200
    points = client.get("/api/sight").json()["points"]
    assert len(points) == len(read_known_board(STICK).pads)
    board = client.get("/api/case").json()["board"]
    nets = {f"{p['name']}.{q['number']}": q["net"] for p in board["parts"] for q in p["pins"]}
    ground = sorted(pad for pad, net in nets.items() if net == board["ground"])
    other = sorted(pad for pad, net in nets.items() if net and net != board["ground"])
    for a, b in zip(ground[:4], ground[4:8], strict=True):
        order(client, "map/heard", a=a, b=b, beeps=True)
    assert client.get("/api/map/nets").json()["agreement"]["belongs"] > 0.8
    for a, b in zip(ground[:6], other[:6], strict=True):
        order(client, "map/heard", a=a, b=b, beeps=True)
    told = client.get("/api/map/nets").json()["agreement"]
    assert told["belongs"] < 0.1
    assert "4 of 10 readings agree" in told["words"]


def test_looks_and_marks_go_on_record_and_into_the_figure(wire):
    client, session = wire
    laid(client)
    assert order(client, "map/looked", side="top", x=0, y=0, width=50, height=40, magnification=20).status_code == 200
    assert order(client, "map/mark", part="C1", finding="crack").status_code == 200
    assert order(client, "map/mark", part="C1", finding="ghost").status_code == 422
    nets = client.get("/api/map/nets").json()
    assert nets["fields"][0]["magnification"] == 20
    assert {look["finding"] for look in nets["looks"]} == {"nothing", "crack"}
    assert session.view.facts.looks[-1].parts == ("C1",)
    order(client, "map/heard", a="C1.1", b="C2.1", beeps=True)
    answer = client.get("/api/map/figure?side=both&point=C1.1")
    assert answer.headers["content-type"].startswith("image/svg+xml")
    tree = ET.fromstring(answer.text)
    words = [node.text for node in tree.iter("{http://www.w3.org/2000/svg}text")]
    assert "C1: crack" in words
    assert "C1.1" in words
    assert any(word.startswith("red marks: crack") for word in words if word)
    assert tree.find(".//{http://www.w3.org/2000/svg}image") is not None


@pytest.mark.parametrize(
    ("name", "body"),
    [
        ("map/heard", {"a": "X9.1", "b": "C1.1", "beeps": True}),
        ("map/heard", {"a": "C1.1", "b": "C1.1", "beeps": False}),
        ("map/looked", {"side": "top", "x": 0.0, "y": 0.0, "width": -1.0, "height": 1.0}),
        ("map/mark", {"part": "Q7", "finding": "crack"}), ("map/lay-file", {"marks": []}), ("map/take-nets", {}),
    ],
)  # fmt: skip
def test_bad_orders_are_refused(wire, name, body):
    client, _ = wire
    laid(client)
    before = client.get("/api/case").json()["sequence"]
    answer = order(client, name, **body)
    assert answer.status_code == 422
    assert answer.json()["message"]
    assert client.get("/api/case").json()["sequence"] == before


def test_a_file_that_is_none_is_refused(wire):
    client, _ = wire
    plain = {"content-type": "application/octet-stream"}
    assert client.post("/api/map/file?name=x", content=b"nothing", headers=plain).status_code == 422
    assert client.post("/api/map/file?name=x", content=b"(kicad_pcb", headers=plain).status_code == 422
    assert (
        client.post("/api/map/file?name=x", content=b"{}", headers={"content-type": "application/json"}).status_code
        == 415
    )
